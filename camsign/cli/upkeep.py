"""A logbook checked, mended, and joined with a friend's."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from camsign.cli.opened import folder
from camsign.cli.show import Json, note, put_json, say
from camsign.cli.waiting import bar

if TYPE_CHECKING:
    from camsign.flows.upkeep.merge import Merged
    from camsign.flows.upkeep.verify import Verified

_SHOWN = 40


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.command()(verify)
    app.command()(merge)


def verify(
    context: typer.Context,
    sample: Annotated[
        float, typer.Option(metavar="PERCENT", min=0, max=100, help="Read so many originals.")
    ] = 100,
    resume: Annotated[
        bool, typer.Option("--resume", help="Go on where the last check was cut short.")
    ] = False,
    repair: Annotated[
        bool,
        typer.Option("--repair", help="Make the database again; fetch originals with --from."),
    ] = False,
    sources: Annotated[
        list[Path] | None,
        typer.Option("--from", metavar="DIR", help="A card or second copy to fetch from."),
    ] = None,
    as_json: Json = False,
) -> None:
    """Check that everything is as it was written: originals, receipts, journals, database.

    Nothing is changed without --repair. Exit codes: 0 all is right; 1 something is on another
    machine or not settled; 5 damaged.
    """
    from camsign.errors import ATTENTION, DAMAGED, UsageError
    from camsign.flows.upkeep import verify as flow

    if sources and not repair:
        raise UsageError("--from goes with --repair", "add --repair, or leave --from out")
    with bar(quiet=as_json, what="originals") as progress:
        if repair:
            done = flow.repair(folder(context), sources or [], progress)
        else:
            done = flow.verify(folder(context), sample / 100, resume, progress)
    if as_json:
        put_json(done)
    else:
        _show_verified(done)
    if done.damaged:
        raise typer.Exit(DAMAGED)
    if done.away or done.unsettled:
        raise typer.Exit(ATTENTION)


def _show_verified(done: Verified) -> None:
    damaged = len(done.damaged)
    if damaged:
        say(f"{damaged} thing{'s are' if damaged > 1 else ' is'} damaged or missing.")
    elif done.away:
        say(f"Nothing is damaged; {len(done.away)} pictures are not on this machine.")
    else:
        say("Everything is as it was written.")
    if done.fetched:
        say(f"Fetched again: {done.fetched} pictures.")
    say(f"{done.originals} originals, {done.read} of them read byte by byte.")
    for found in sorted(done.findings, key=lambda f: f.kind)[:_SHOWN]:
        cure = f"; {found.cure}" if found.cure else ""
        note(f"camsign: {found.kind}: {found.file}: {found.what}{cure}")
    if len(done.findings) > _SHOWN:
        note(f"camsign: and {len(done.findings) - _SHOWN} more; --json lists all")
    for line in done.unsettled:
        note(f"camsign: not settled: {line}")


def merge(
    context: typer.Context,
    friend: Annotated[Path, typer.Argument(help="The folder of a friend's logbook.")],
    anywhere: Annotated[
        bool, typer.Option("--another-property", help="Take it also from another property.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Take in a friend's logbook of the same property: its cards and what he said.

    His logbook is only read. Where the two of you say different things, each is told with what
    settles it, and the answer is remembered.
    """
    from camsign.flows.upkeep.merge import merge as flow

    with bar(quiet=as_json, what="cards") as progress:
        done = flow(folder(context), friend, anywhere, progress)
    if as_json:
        put_json(done)
    else:
        _show_merged(done)
    if done.left or done.unsettled:
        raise typer.Exit(1)


def _show_merged(done: Merged) -> None:
    say(
        f"Came over: {done.cards} cards with {done.frames} pictures, {done.lines} journal lines; "
        f"{done.known} cards were here already."
    )
    say(*(f"  {line}" for line in done.notes))
    for line in done.left:
        note(f"camsign: left out: {line}")
    if done.unsettled:
        wait = f" {done.waiting} pictures wait for it." if done.waiting else ""
        say(f"To settle, each with one answer:{wait}", *(f"  {line}" for line in done.unsettled))
