"""Bucks: one individual each."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from camsign.cli.opened import logbook
from camsign.cli.show import Csv, Form, Json, form, listing, note, put_json, say
from camsign.cli.things import Told, says
from camsign.logbook.things import BUCK

if TYPE_CHECKING:
    from camsign.logbook.session import Session
    from camsign.stats.estimate import Estimate
    from camsign.tags.bucks import BuckRow, BuckSaid

buck_app = typer.Typer(help="Bucks: names, ages, merging.", no_args_is_help=True)
Name = Annotated[str, typer.Argument(help="A buck's name or id.")]
Season = Annotated[int | None, typer.Option(help="Ages in this season; else the latest.")]


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.add_typer(buck_app, name="buck")


@says(buck_app, BUCK, "add")
def _add(session: Session, **said: Any) -> Told:
    from camsign.tags.bucks import add_buck

    done = add_buck(session, **said)
    aged = f", his age for season {done.age_season}" if done.age_season else ""
    return _told(done, f"is a buck of this logbook now{aged}")


@says(buck_app, BUCK, "set")
def _set(session: Session, **said: Any) -> Told:
    from camsign.tags.bucks import set_buck

    done = set_buck(session, **said)
    aged = f"; his age is for season {done.age_season}" if done.age_season else ""
    return _told(done, f"is described{aged}")


@buck_app.command("import")
def import_bucks(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(help="A table with name, traits, age, basis, season…")],
    as_json: Json = False,
) -> None:
    """Take in bucks from a table; the same file again adds nothing."""
    from camsign.tags.buckstable import import_bucks as take

    with logbook(context) as session:
        taken = take(session, file)
    for line in taken.refused:
        note(f"camsign: {line}")
    if as_json:
        put_json(taken)
    else:
        back = " camsign undo takes it back." if taken.new or taken.changed else ""
        counts = f"{taken.new} new, {taken.changed} changed, {taken.known} known already"
        say(f"Bucks: {counts}.{back}")
    if taken.refused:
        raise typer.Exit(1 if taken.new or taken.changed or taken.known else 3)


@buck_app.command("list")
def list_bucks(
    context: typer.Context, season: Season = None, as_json: Json = False, as_csv: Csv = False
) -> None:
    """Bucks by name, with their age in a season."""
    from camsign.tags import bucks

    with logbook(context) as session:
        rows = bucks.bucks(session, season)
    wanted = form(as_json, as_csv)
    columns = {"buck": "buck", "age": "age", "mature": "mature", "frames": "frames"}
    columns |= {"first_seen": "first seen", "last_seen": "last seen", "traits": "traits"}
    if wanted is Form.TABLE:
        shown = [{k: getattr(r, k) for k in columns} | {"age": _years(r.age)} for r in rows]
        listing(shown, columns, wanted, "no bucks yet")
        return
    listing([_named(r) for r in rows], columns, wanted)


@buck_app.command("show")
def show_buck(
    context: typer.Context, buck: Name, season: Season = None, as_json: Json = False
) -> None:
    """All that is known of one buck."""
    from camsign.tags import bucks

    with logbook(context) as session:
        row = bucks.show_buck(session, buck, season)
    if as_json:
        put_json(_named(row))
        return
    say(f"{row.buck} ({row.buck_id})")
    age = f"{_years(row.age)} in season {row.season}" if row.age.value else "not judged yet"
    basis = f", by {row.age_basis} in {row.age_year}" if row.age_basis else ""
    say(f"  age: {age}{basis}")
    if row.traits:
        say(f"  traits: {row.traits}")
    if row.first_seen and row.last_seen:
        say(f"  {row.frames} frames, {row.first_seen:%Y-%m-%d} to {row.last_seen:%Y-%m-%d}")
    if row.ended:
        say(f"  ended: {row.ended}")


@says(buck_app, BUCK, "rename")
def _rename(session: Session, **said: Any) -> Told:
    from camsign.tags.bucks import rename_buck

    return _told(rename_buck(session, **said), "is his name now")


@says(buck_app, BUCK, "merge")
def _merge(session: Session, **said: Any) -> Told:
    from camsign.tags.bucks import merge_bucks

    return _told(merge_bucks(session, **said), "holds the frames of both now")


@says(buck_app, BUCK, "split")
def _split(session: Session, buck: str, name: str, frames: list[str]) -> Told:
    from camsign.tags.frames import by_ids
    from camsign.tags.splitting import split_buck

    done = split_buck(session, buck, name, by_ids(session, frames))
    went = f"has {done.frames} frames that were {done.split_from}'s"
    return done, f"{done.buck} ({done.buck_id}) {went}."


def _named(row: BuckRow) -> dict[str, Any]:
    from camsign.cli.show import plain

    cells: dict[str, Any] = plain(row)
    return {"name": row.buck, **cells}


def _years(age: Estimate) -> str:
    if age.value is None:
        return "–"
    if age.low is None or age.high is None or age.low == age.high:
        return f"{age.value:g}"
    return f"{age.value:g} ({age.low:g}–{age.high:g})"


def _told(said: BuckSaid, words: str) -> Told:
    return said, f"{said.buck} {words} ({said.buck_id})."
