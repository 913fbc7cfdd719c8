"""Bucks: one individual each."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer

from camsign.cli.command import Out, command
from camsign.cli.show import Block, listed
from camsign.cli.things import says
from camsign.errors import ATTENTION, REFUSED, UsageError
from camsign.formats.interval import worded
from camsign.logbook.session import Session
from camsign.logbook.things import BUCK
from camsign.tags.bucks import BuckRow, BuckSaid, add_buck, merge_bucks, rename_buck, set_buck
from camsign.tags.buckstable import BucksTaken, NamedBuck, named
from camsign.tags.buckstable import import_bucks as take
from camsign.tags.frames import by_ids
from camsign.tags.links import unlink_buck
from camsign.tags.splitting import Split, split_buck
from camsign.units import counted

buck_app = typer.Typer(help="Bucks: names, ages, merging.", no_args_is_help=True)
Name = Annotated[str, typer.Argument(help="A buck's name or id.")]
Season = Annotated[int | None, typer.Option(help="Ages in this season; else the latest.")]


@dataclass(frozen=True, slots=True)
class Linked:
    """Who he is in each: `bucks`, his name by property."""

    bucks: dict[str, str]


@says(buck_app, BUCK, "add")
def _add(session: Session, **said: Any) -> Out[BuckSaid]:
    done = add_buck(session, **said)
    aged = f"; his age is for season {done.age_season}" if done.age_season else ""
    return Out(done, f"Added {done.buck} ({done.buck_id}){aged}.")


@says(buck_app, BUCK, "set")
def _set(session: Session, **said: Any) -> Out[BuckSaid]:
    done = set_buck(session, **said)
    aged = f"; his age is for season {done.age_season}" if done.age_season else ""
    return Out(done, f"Saved {done.buck} ({done.buck_id}){aged}.")


@command(buck_app, "import", attention="a row was refused", refused="every row was refused")
def import_bucks(
    session: Session,
    file: Annotated[Path, typer.Argument(help="A table with name, traits, age, basis, season…")],
) -> Out[BucksTaken]:
    """Load bucks from a table. The same file again adds nothing."""
    taken = take(session, file)
    back = " camsign undo takes it back." if taken.new or taken.changed else ""
    counts = f"{taken.new} new, {taken.changed} changed, {taken.known} known already"
    some = taken.new or taken.changed or taken.known
    code = 0 if not taken.refused else ATTENTION if some else REFUSED
    return Out(taken, f"Bucks: {counts}.{back}", warned=taken.refused, code=code)


@command(buck_app, "list", csv=True)
def list_bucks(session: Session, season: Season = None) -> Out[list[NamedBuck]]:
    """Bucks by name, with their age in a season."""
    from camsign.tags import bucks

    rows = bucks.bucks(session, season)
    columns = {"buck": "buck", "age": "age", "mature": "mature", "frames": "pictures"}
    columns |= {"first_seen": "first seen", "last_seen": "last seen", "traits": "traits"}
    return Out(list(map(named, rows)), listed(rows, columns, "no bucks yet", age=_years))


@command(buck_app, "show")
def show_buck(session: Session, buck: Name, season: Season = None) -> Out[NamedBuck]:
    """All that is known of one buck."""
    from camsign.tags import bucks

    row = bucks.show_buck(session, buck, season)
    return Out(named(row), _shown(row))


@says(buck_app, BUCK, "rename")
def _rename(session: Session, **said: Any) -> Out[BuckSaid]:
    return _told(rename_buck(session, **said), "is his name now")


@says(buck_app, BUCK, "merge")
def _merge(session: Session, **said: Any) -> Out[BuckSaid]:
    return _told(merge_bucks(session, **said), "has the pictures of both now")


@says(buck_app, BUCK, "split")
def _split(session: Session, buck: str, name: str, frames: list[str]) -> Out[Split]:
    done = split_buck(session, buck, name, by_ids(session, frames))
    went = f"has {counted(done.frames, 'picture')} that were {done.split_from}'s"
    return Out(done, f"{done.buck} ({done.buck_id}) {went}.")


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


@command(buck_app, "unlink")
def unlink(session: Session, buck: Name) -> Out[BuckSaid]:
    """Not the same buck as in another logbook. Say it in the other one too."""
    done = unlink_buck(session, buck)
    return Out(done, f"{done.buck} is linked to nobody any more ({done.buck_id}).")


def _years(row: BuckRow) -> str:
    return worded(row.age, lambda x: f"{x:g}")


def _told(said: BuckSaid, words: str) -> Out[BuckSaid]:
    return Out(said, f"{said.buck} {words} ({said.buck_id}).")


def _shown(row: BuckRow) -> Iterator[Block]:
    yield f"{row.buck} ({row.buck_id})"
    age = f"{_years(row)} old in {row.season}" if row.age.value else "no age yet"
    judged = f", judged for {row.age_year}" if row.age_year else ""
    basis = f"; how you know: {row.age_basis}{judged}" if row.age_basis else ""
    yield f"  age: {age}{basis}"
    if row.traits:
        yield f"  looks: {row.traits}"
    if row.first_seen and row.last_seen:
        days = f"{row.first_seen:%Y-%m-%d} to {row.last_seen:%Y-%m-%d}"
        yield f"  {counted(row.frames, 'picture')}, {days}"
    if row.ended:
        yield f"  what became of him: {row.ended}"
