"""Cards in."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from camsign.cli.opened import folder
from camsign.cli.show import Json, note, put_json, put_table, say

if TYPE_CHECKING:
    from collections.abc import Callable

    from camsign.flows.intake.result import IngestResult, Question

_SHOWN = 20


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.command()(ingest)


def ingest(
    context: typer.Context,
    paths: Annotated[list[Path], typer.Argument(help="Cards, or folders that hold them.")],
    camera: Annotated[str | None, typer.Option(help="Whose pictures these are.")] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what would happen; write nothing.")
    ] = False,
    accept_refused: Annotated[
        bool, typer.Option("--accept-refused", help="What cannot be taken in may be lost.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Take cards in: every picture copied and verified; says if the card is safe to wipe.

    The card itself is never written to.
    """
    from camsign.flows.intake import ingest as take_in

    book = folder(context)
    with _bar(quiet=as_json) as progress:
        done = take_in(
            book,
            paths,
            camera=camera,
            dry_run=dry_run,
            accept_refused=accept_refused,
            ask=_ask if sys.stdin.isatty() and not as_json else None,
            progress=progress,
        )
    if as_json:
        put_json(done)
    else:
        _show(done)
    if not done.safe_to_wipe or done.warnings:
        raise typer.Exit(1)


@contextmanager
def _bar(quiet: bool) -> Iterator[Callable[[int, int], None] | None]:
    """Show a progress bar on stderr while files are taken in."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TimeRemainingColumn

    columns = (BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("frames", total=None)
        yield lambda n, of: bar.update(task, completed=n, total=of)


def _ask(question: Question) -> str | None:
    facts = question.facts
    made = " ".join(x for x in (facts.make, facts.model) if x) or "unknown make"
    note(
        f"{question.source}: {question.why}.",
        f"  first picture: {question.picture}",
        f"  {made}, serial {facts.serial or 'none'}, showed {facts.shown or 'no time'}",
    )
    if question.candidates or question.cameras:
        note(f"  known cameras: {', '.join(question.candidates or question.cameras)}")
    answer = typer.prompt("Whose pictures are these? (camera ID; empty leaves them)", default="")
    return answer.strip() or None


def _show(done: IngestResult) -> None:
    if done.by_camera:
        head = ("camera", "frames", "new", "known", "first (as shown)", "last (as shown)")
        rows = [
            (c.camera, c.frames, c.new, c.known, _clock(c.first), _clock(c.last))
            for c in done.by_camera
        ]
        put_table(head, rows)
    for left in done.refused[:_SHOWN]:
        say(f"left on the card: {left.file}: {left.why}")
    if len(done.refused) > _SHOWN:
        say(f"and {len(done.refused) - _SHOWN} more; --json lists all")
    for doubt in done.doubts[:_SHOWN]:
        say(f"in doubt: {doubt.why} ({doubt.frames} frames, first {doubt.file})")
    note(*(f"camsign: {line}" for line in done.warnings))
    verb = "Would take in" if done.dry_run else "Took in"
    say(f"{verb} {done.new} new frames, {done.known} known already, in {done.seconds:.1f} s.")
    if done.dry_run:
        return
    if done.safe_to_wipe:
        say("SAFE TO WIPE: every file of the card has a verified copy.")
    else:
        say("NOT SAFE TO WIPE:", *(f"  {why}" for why in done.reasons))


def _clock(shown: str | None) -> str | None:
    return shown.replace("T", " ")[:16] if shown else None
