"""Bucks: one individual each."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Annotated, Any

import typer

from camsign.answers.bucks import day_in
from camsign.cli.command import Out, code_of, command
from camsign.cli.show import Block, listed
from camsign.cli.things import says
from camsign.errors import UsageError
from camsign.formats.interval import worded
from camsign.logbook.named import known_bucks
from camsign.logbook.naming import key
from camsign.logbook.session import Session
from camsign.logbook.things import BUCK
from camsign.tags import bucks
from camsign.tags.bucks import BuckRow, BuckSaid, add_buck, merge_bucks, rename_buck, set_buck
from camsign.tags.buckstable import BucksTaken, NamedBuck, named
from camsign.tags.buckstable import import_bucks as take
from camsign.tags.links import unlink_buck
from camsign.tags.splitting import Split, split_buck
from camsign.units import counted

# More alike than this, two names may be one buck's, misspelled; our choice.
_ALIKE = 0.85
buck_app = typer.Typer(help="Bucks: names, ages, merging.", no_args_is_help=True)
Name = Annotated[str, typer.Argument(help="A buck's name or id.")]
Season = Annotated[int | None, typer.Option(help="Ages in this season; else the latest.")]


@dataclass(frozen=True, slots=True)
class Linked:
    """Who he is in each: `bucks`, his name by property."""

    bucks: dict[str, str]


def _aged(done: BuckSaid) -> str:
    season = f"; his age is for season {done.age_season}" if done.age_season else ""
    return f"{done.buck} ({done.buck_id}){season}."


def _added(done: BuckSaid, session: Session, *_: Any) -> list[str]:
    names = {key(name): name for name in known_bucks(session).names.values() if name != done.buck}
    near = get_close_matches(key(done.buck), names, 1, _ALIKE)
    also = [f"You also have {names[n]}. Same buck? camsign undo takes this one back." for n in near]
    return [f"Added {_aged(done)}", *also]


def _saved(done: BuckSaid, session: Session, said: Mapping[str, Any]) -> list[str]:
    told, ended = [f"Saved {_aged(done)}"], said.get("ended")
    last = bucks.show_buck(session, done.buck_id).last_seen if ended else None
    day = day_in(str(ended), last.date()) if last else None
    if last and day and last.date() > day:
        told.append(
            f"You have him in pictures up to {last.date()}, after that day: those no longer count."
            " Is the date right? camsign undo takes it back."
        )
    return told


says(buck_app, BUCK, "add", add_buck, _added)
says(buck_app, BUCK, "set", set_buck, _saved)


@command(buck_app, "import", attention="a row was refused", refused="every row was refused")
def import_bucks(
    session: Session,
    file: Annotated[Path, typer.Argument(help="A table with name, traits, age, basis, season…")],
) -> Out[BucksTaken]:
    """Load bucks from a table. The same file again adds nothing."""
    taken = take(session, file)
    back = " camsign undo takes it back." if taken.new or taken.changed else ""
    counts = f"{taken.new} new, {taken.changed} changed, {taken.known} known already"
    code = code_of(taken.refused, taken.new or taken.changed or taken.known)
    return Out(taken, f"Bucks: {counts}.{back}", warned=taken.refused, code=code)


@command(buck_app, "list", csv=True)
def list_bucks(session: Session, season: Season = None) -> Out[list[NamedBuck]]:
    """Bucks by name, with their age in a season."""
    rows = bucks.bucks(session, season)
    told = listed(rows, {
        "buck": "buck", "age": _years, "mature": _mature, "pictures": "frames",
        "first seen": "first_seen", "last seen": "last_seen", "traits": "traits",
    }, "no bucks yet")  # fmt: skip
    return Out(list(map(named, rows)), told)


@command(buck_app, "show")
def show_buck(session: Session, buck: Name, season: Season = None) -> Out[NamedBuck]:
    """All that is known of one buck."""
    row = bucks.show_buck(session, buck, season)
    return Out(named(row), _shown(row))


def _parted(done: Split, *_: Any) -> str:
    went = f"has {counted(done.frames, 'picture')} that were {done.split_from}'s"
    return f"{done.buck} ({done.buck_id}) {went}."


says(buck_app, BUCK, "rename", rename_buck,
     lambda done, *_: f"{done.buck} is his name now ({done.buck_id}).")  # fmt: skip
says(buck_app, BUCK, "merge", merge_bucks,
     lambda done, *_: f"{done.buck} has the pictures of both now ({done.buck_id}).")  # fmt: skip
says(buck_app, BUCK, "split", split_buck, _parted)


@command(buck_app, "link")
def link(
    context: typer.Context,
    buck: Annotated[str, typer.Argument(help="Who he is in the first logbook.")],
    other: Annotated[str, typer.Argument(help="Who he is in the second.")],
) -> Out[Linked]:
    """Same buck in two logbooks. Name both: camsign --logbook A --logbook B buck link …

    Each keeps its own name, age and pictures of him. Asked of both, answers take him for one.
    """
    from camsign.many import open_many

    paths: tuple[Path, ...] = context.obj.logbooks
    if len(paths) != 2:
        raise UsageError(
            "a link is between two logbooks", "say camsign --logbook A --logbook B buck link …"
        )
    books = open_many(paths)
    who = books.known()
    said = dict(zip(books.books, (buck, other), strict=True))
    books.link(said)
    bucks = {name: who.one(name, word).buck for name, word in said.items()}
    told = " is ".join(f"{his} of {name}" for name, his in bucks.items())
    return Out(Linked(bucks), f"{told}. camsign undo in either takes that one's word back.")


says(buck_app, BUCK, "unlink", unlink_buck,
     lambda done, *_: f"{done.buck} is linked to nobody any more ({done.buck_id}).")  # fmt: skip


def _mature(row: BuckRow) -> str | bool | None:
    return f"gone: {row.ended}" if row.ended else row.mature


def _years(row: BuckRow) -> str:
    return worded(row.age, lambda x: f"{x:g}")


def _shown(row: BuckRow) -> Iterator[Block]:
    yield f"{row.buck} ({row.buck_id})"
    age = f"{_years(row)} years old in {row.season}" if row.age.value else "no age yet"
    elsewhen = row.age_year and row.age_year != row.season
    judged = f" (his age in {row.age_year})" if elsewhen else ""
    basis = f"; how you know: {row.age_basis}{judged}" if row.age_basis else ""
    yield f"  age: {age}{basis}"
    if row.traits:
        yield f"  looks: {row.traits}"
    if row.first_seen and row.last_seen:
        first, last = f"{row.first_seen:%Y-%m-%d}", f"{row.last_seen:%Y-%m-%d}"
        alone = first if row.frames == 1 else f"all {first}"
        days = alone if first == last else f"{first} to {last}"
        yield f"  {counted(row.frames, 'picture')}, {days}"
    if row.ended:
        yield f"  what became of him: {row.ended}"
