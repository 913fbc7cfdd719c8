"""Cards in."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import typer

from camsign.cli.command import Out, command
from camsign.cli.show import Aside, Block, first_of, listed, note
from camsign.cli.waiting import Progress
from camsign.errors import InputRefused, quoted
from camsign.flows.intake import ingest as take_in
from camsign.flows.intake.find_cards import find_cards
from camsign.flows.intake.result import IngestResult, Question, held_words, verdict, words_of
from camsign.flows.intake.since_last_check import SinceLastCheck
from camsign.formats.days import People
from camsign.logbook.folder import Folder
from camsign.units import counted

_SHOWN = 20


@command(
    attention="a card is not safe to wipe, or something needs you",
    refused="nothing was taken",
    stopped="no card is safe to wipe yet; what was copied is kept, the same command goes on there",
)
def ingest(
    context: typer.Context,
    book: Folder,
    progress: Progress,
    quiet: bool,
    paths: Annotated[
        list[Path] | None,
        typer.Argument(help="Cards or folders. Leave it out and it looks in your card reader."),
    ] = None,
    camera: Annotated[str | None, typer.Option(help="Camera that took these.")] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what would happen; write nothing.")
    ] = False,
    accept_refused: Annotated[
        bool, typer.Option("--accept-refused", help="It's OK to lose files that can't be read.")
    ] = False,
) -> Out[IngestResult]:
    """Load cards: copies, checks, says when a card is safe to wipe.

    The card itself is never written to.
    """
    context.obj.people = People(book.settings.units)
    chosen = paths or _in_reader(book, quiet)
    ask = _ask if sys.stdin.isatty() and not quiet else None
    done = take_in(book, chosen, camera=camera, dry_run=dry_run, accept_refused=accept_refused,
                   ask=ask, progress=progress)  # fmt: skip
    return Out(done, _told(done), code=int(not done.safe_to_wipe or bool(done.warnings)))


def _in_reader(book: Folder, quiet: bool) -> list[Path]:
    """Look for cards in a reader; on a terminal let the person name one."""
    found = find_cards(book)
    if not found:
        raise InputRefused("no card in the reader", "put one in, or name a folder")
    for i, card in enumerate(found, 1):
        whose = f"looks like {card.camera} ({card.why})" if card.camera else card.why
        note(
            f"{i}: {card.path}: {counted(card.files, 'file')}, "
            f"{card.known} of {card.looked_at} known; {whose}"
        )
    if quiet or not sys.stdin.isatty():
        raise InputRefused("a card has to be named", f"camsign ingest {quoted(str(found[0].path))}")
    number: int = typer.prompt("Which one?", type=int, default=1)
    if not 1 <= number <= len(found):
        raise InputRefused(f"there is no card {number} in the list")
    return [found[number - 1].path]


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
    answer = typer.prompt("Which camera took these? (its ID; empty leaves them)", default="")
    return answer.strip() or None


def _told(done: IngestResult) -> Iterator[Block]:
    """Say first whether the card is safe to wipe, then what came in, then what wants a look."""
    if not done.dry_run:
        yield from verdict(done)
    verb = "Would take in" if done.dry_run else "Took in"
    known = f", {done.known:,} known already" if done.known else ""
    yield f"{verb} {counted(done.new, 'new picture')}{known}, in {done.seconds:.1f} s."
    yield from listed(done.by_camera, {
        "camera": "camera", "pictures": "frames", "new": "new", "known": "known",
        "first": lambda c: _clock(c.first), "last": lambda c: _clock(c.last),
    })  # fmt: skip
    named = () if done.lost and done.safe_to_wipe else done.refused  # the verdict names them
    yield from first_of([f"left on the card: {left.file}: {left.why}" for left in named], _SHOWN)
    for doubt in done.doubts[:_SHOWN]:
        more = f" and {doubt.frames - 1} more" if doubt.frames > 1 else ""
        yield f"in doubt: {doubt.file}{more}: {doubt.why}"
    yield from (Aside(f"camsign: {line}") for line in done.warnings)
    for camera in done.since:
        yield from _look_back(camera)
    if aside := words_of(done.set_aside, "new pictures"):
        yield f"{aside}."
    yield from (f"{line}." for line in held_words(done.set_aside))


def _look_back(since: SinceLastCheck) -> Iterator[Block]:
    """Say what one camera did since it was last checked."""
    cards = f", {since.cards} cards" if since.cards > 1 else ""
    last = f"{cards} since {since.last_check:%Y-%m-%d}" if since.last_check else ", first card"
    if since.earlier:
        last = f"{cards} from {since.earlier} on, before your last check too"
    elif cards and not since.last_check:
        last = f", first {since.cards} cards"
    watched, nights = "", counted(since.nights, "night")
    if since.nights_watched:
        watched = f", worked {since.nights_watched} of {nights}"
    elif since.nights:
        watched = f", too few to tell on which of {nights} it worked"
    yield f"{since.camera}{last}: {counted(since.frames, 'new picture')}{watched}."
    for spell in since.silent:
        yield f"  no pictures {spell.first} to {spell.last} ({counted(spell.nights, 'night')})"
    for spell in since.nothing:
        nothing = f"  nothing from {spell.first} to {spell.last} ({counted(spell.nights, 'night')})"
        yield f"{nothing}: a card not loaded, or was the camera down?"
    if since.stopped:
        yield f"  its last picture: {since.stopped:%Y-%m-%d %H:%M}"
    yield from (f"  clock: {line.removeprefix('the clock is ')}" for line in since.clock)
    yield from (f"  it {line}" for line in since.moved)
    if since.bucks:
        yield f"  seen before here: {', '.join(since.bucks)}"
    yield from (f"  → {line}" for line in since.next_steps)


def _clock(shown: str | None) -> str | None:
    return shown.replace("T", " ")[:16] if shown else None
