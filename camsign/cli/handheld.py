"""What a handheld or phone wrote: cameras, places, sign and areas, sorted before they are taken."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from camsign.cli.command import Out, command
from camsign.cli.opened import logbook
from camsign.cli.reading import MOST_TOLD, Anywhere, Columns, Day, choices, columns_of
from camsign.cli.show import Aside, Block, first_of, listed, tell
from camsign.errors import UsageError
from camsign.flows.fieldwork import handheld
from camsign.flows.fieldwork.shorthand import CHOICES, NOTHING
from camsign.flows.fieldwork.sign_tables import Choices
from camsign.flows.fieldwork.sorted_files import FieldTaken, SortedFiles
from camsign.formats.onscreen import on_screen

_SHOWN = 60
_MOST = 1_000_000


Files = Annotated[list[Path], typer.Argument(help="GPX, KML, KMZ, GeoJSON, CSV, or phone photos.")]
Yes = Annotated[
    bool,
    typer.Option(
        "--yes", help="Save it. (Otherwise you see what it would save; a terminal then asks.)"
    ),
]
AsOne = Annotated[
    bool,
    typer.Option("--as-one", help="Sign you already have from another device is the same sign."),
]
PhotoDirection = Annotated[
    bool, typer.Option("--photo-direction", help="You shot rub photos facing the way he went.")
]
PhotoKind = Annotated[
    str | None,
    typer.Option(metavar="WORDS", help="What is in photos that have no words: 'rub fresh'."),
]
Turn = Annotated[
    str | None, typer.Option(metavar="ROWS|all", help="Turn these rows' travel around: 3,7-9.")
]
Kinds = Annotated[
    list[str] | None,
    typer.Option(metavar="ROWS=KIND", help="What a row is: 4=rub; guessed accepts every guess."),
]


@command(attention="something in a file was refused")
def take_files(
    context: typer.Context,
    quiet: bool,
    files: Files,
    yes: Yes = False,
    as_one: AsOne = False,
    photo_direction: PhotoDirection = False,
    photo_kind: PhotoKind = None,
    turn: Turn = None,
    kind: Kinds = None,
    on: Day = None,
    column: Columns = None,
    anywhere: Anywhere = False,
) -> Out[FieldTaken | SortedFiles | None]:
    """Load a handheld's or phone's file: check it, then save."""
    how = _chosen(choices(on, anywhere, photo_direction, photo_kind), turn, kind or [])
    columns = columns_of(column)
    with logbook(context) as session:
        found = handheld.sort_files(session, files, how, columns)
        if not quiet:
            tell(_doubts(found) if yes else _sorted(found), context.obj.people)
        taken = handheld.take(session, found, as_one) if yes else None
    if taken is not None:
        return _taken(taken)
    if quiet:
        return Out(found)
    if not _asked("Take this?"):
        return Out(None, "Nothing was taken." if sys.stdin.isatty() else ())
    how, as_one = _agreed_on(found, how, as_one)
    with logbook(context) as session:  # it was closed while the person thought it over
        found = handheld.sort_files(session, files, how, columns)
        return _taken(handheld.take(session, found, as_one))


def _taken(taken: FieldTaken) -> Out[FieldTaken | SortedFiles | None]:
    back = " camsign undo takes it back." if taken.said else ""
    known = f" {taken.known} known already." if taken.known else ""
    told = f"Saved {taken.in_words()}.{known}{back}"
    if not taken.said:
        held = "it is" if taken.known == 1 else f"all {taken.known} are"
        told = f"Nothing new: {held} in already.{back}"
    return Out(taken, told, code=int(bool(taken.refused)))


def _chosen(how: Choices, turn: str | None, kinds: list[str]) -> Choices:
    """Add which rows are turned around, and what rows are. Raises UsageError."""
    said: dict[int, str] = {}
    for text in kinds:
        rows, named, kind = text.rpartition("=")
        if kind == "guessed" and not rows:
            how = replace(how, guesses=True)
            continue
        if kind not in (*CHOICES, NOTHING):
            known = ", ".join((*CHOICES, NOTHING))
            raise UsageError(f"there is no kind {kind!r}", f"write --kind 4=rub; kinds: {known}")
        if not named:
            raise UsageError(f"{kind!r} names no row", f"write its number, such as --kind 1={kind}")
        said |= dict.fromkeys(_rows(rows), kind)
    said = {**how.kinds, **said}
    if turn is None:
        return replace(how, kinds=said)
    if turn.strip().lower() == "all":
        return replace(how, kinds=said, turn_all=True)
    return replace(how, kinds=said, turned=frozenset(_rows(turn)))


def _rows(text: str) -> list[int]:
    """Rows of `3,7-9`. Raises UsageError."""
    rows: list[int] = []
    for part in text.split(","):
        first, _, last = part.strip().partition("-")
        if not first.isdecimal() or not (last or first).isdecimal() or int(last or first) > _MOST:
            raise UsageError(f"the rows {text!r} are not understood", "write them like 3,7-9")
        rows += range(int(first), int(last or first) + 1)
    return rows


def _agreed_on(found: SortedFiles, how: Choices, as_one: bool) -> tuple[Choices, bool]:
    """Ask about copies and about photos' directions, where there are any."""
    if found.twins and not as_one:
        as_one = _asked(f"Are {len(found.twins)} of these known from another device?")
    if found.offered:
        told = f"Take the direction of {found.offered} photos as the way he went?"
        how = replace(how, photo_direction=_asked(told))
    if any(item.way for item in found.sign) and not (how.turned or how.turn_all):
        said = typer.prompt("Rows to turn around: numbers, all, or Enter for none", default="none")
        how = how if said == "none" else _chosen(how, said, [])
    return how, as_one


def _asked(question: str) -> bool:
    return sys.stdin.isatty() and typer.confirm(on_screen(question), default=True)


def _sorted(found: SortedFiles) -> Iterator[Block]:
    items = found.items
    left = "" if sys.stdin.isatty() else " Nothing is saved yet: --yes saves it."
    if items and all(item.state == "known" for item in items):
        left = " All of it is in the logbook already: there is nothing to save."
    yield f"Found {found.in_words()}.{left}"
    yield from listed(items[:_SHOWN], {
        "row": "row", "what": "what",
        "kind": lambda one: f"{one.guess}?" if one.guess else one.kind,
        "name": "name", "day": "day", "which way": "way", "state": "state", "read as": "why",
    })  # fmt: skip
    if len(items) > _SHOWN:
        yield f"and {len(items) - _SHOWN} more; --json lists all"
    yield from _doubts(found)
    if any(item.way for item in found.sign):
        yield "Travel backwards on a row? --turn ROW flips it, --turn all flips all."
    if found.not_understood:
        yield "Say what a row is with --kind ROW=KIND; --kind guessed takes what is guessed."


def _doubts(found: SortedFiles) -> Iterator[Block]:
    """Say what wants a word from the person, also where everything is taken at once."""
    yield from (Aside(f"camsign: {x}") for x in first_of([*found.refused, *found.notes], MOST_TOLD))
    if found.twins:
        yield f"Of these, {len(found.twins)} may be known from another device: --as-one joins them."
    if found.offered:
        told = "Photos of rubs that say which way the camera looked"
        yield f"{told}: {found.offered}; --photo-direction takes it as his travel."
