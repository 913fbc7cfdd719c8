"""Bucks: one individual each."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from camsign.cli.opened import logbook
from camsign.cli.show import Csv, Form, Json, form, listing, note, put_json, say

if TYPE_CHECKING:
    from camsign.stats.estimate import Estimate
    from camsign.tags.bucks import BuckRow, BuckSaid

buck_app = typer.Typer(help="Bucks: names, ages, merging.", no_args_is_help=True)
Name = Annotated[str, typer.Argument(help="A buck's name or id.")]
Traits = Annotated[str | None, typer.Option(help="What tells him apart.")]
Age = Annotated[float | None, typer.Option(help="Years in that season.")]
AgeLow = Annotated[float | None, typer.Option(help="At least this old.")]
AgeHigh = Annotated[float | None, typer.Option(help="At most this old.")]
Basis = Annotated[str | None, typer.Option(help="What the age rests on.")]
Year = Annotated[
    int | None,
    typer.Option("--season", help="The season he was that old in; else that of his pictures."),
]
Ended = Annotated[str | None, typer.Option(help="How and when he ended, if known.")]
Season = Annotated[int | None, typer.Option(help="Ages in this season; else the latest.")]


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.add_typer(buck_app, name="buck")


@buck_app.command("add")
def add_buck(
    context: typer.Context,
    name: Annotated[str, typer.Argument(help="A name of your own.")],
    traits: Traits = None,
    age: Age = None,
    age_low: AgeLow = None,
    age_high: AgeHigh = None,
    basis: Basis = None,
    year: Year = None,
    as_json: Json = False,
) -> None:
    """Add a buck."""
    from camsign.tags import bucks

    details = _details(traits, age, age_low, age_high, basis, year, None)
    with logbook(context) as session:
        said = bucks.add_buck(session, name, **details)
    aged = f", his age for season {said.age_season}" if said.age_season else ""
    _said(said, f"is a buck of this logbook now{aged}", as_json)


@buck_app.command("set")
def set_buck(
    context: typer.Context,
    buck: Name,
    traits: Traits = None,
    age: Age = None,
    age_low: AgeLow = None,
    age_high: AgeHigh = None,
    basis: Basis = None,
    year: Year = None,
    ended: Ended = None,
    as_json: Json = False,
) -> None:
    """Say something of a buck; what is not named stays as it is."""
    from camsign.tags import bucks

    details = _details(traits, age, age_low, age_high, basis, year, ended)
    with logbook(context) as session:
        said = bucks.set_buck(session, buck, **details)
    aged = f"; his age is for season {said.age_season}" if said.age_season else ""
    _said(said, f"is described{aged}", as_json)


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


@buck_app.command("rename")
def rename_buck(context: typer.Context, buck: Name, name: str, as_json: Json = False) -> None:
    """Give a buck another name."""
    from camsign.tags import bucks

    with logbook(context) as session:
        said = bucks.rename_buck(session, buck, name)
    _said(said, "is his name now", as_json)


@buck_app.command("merge")
def merge_bucks(
    context: typer.Context,
    buck: Name,
    into: Annotated[str, typer.Argument(help="Who he turned out to be.")],
    as_json: Json = False,
) -> None:
    """Say that one buck is another; `camsign undo` parts them again."""
    from camsign.tags import bucks

    with logbook(context) as session:
        said = bucks.merge_bucks(session, buck, into)
    _said(said, "holds the frames of both now", as_json)


@buck_app.command("split")
def split_buck(
    context: typer.Context,
    buck: Name,
    name: Annotated[str, typer.Argument(help="The name of the other one.")],
    frames: Annotated[list[str], typer.Argument(help="The frames that show the other one.")],
    as_json: Json = False,
) -> None:
    """Part one buck in two; `camsign undo` makes them one again."""
    from camsign.tags.frames import by_ids
    from camsign.tags.splitting import split_buck as part

    with logbook(context) as session:
        done = part(session, buck, name, by_ids(session, frames))
    if as_json:
        put_json(done)
        return
    say(f"{done.buck} ({done.buck_id}) has {done.frames} frames that were {done.split_from}'s.")


def _details(
    traits: str | None,
    age: float | None,
    low: float | None,
    high: float | None,
    basis: str | None,
    year: int | None,
    ended: str | None,
) -> dict[str, Any]:
    given = {"traits": traits, "age": age, "age_low": low, "age_high": high}
    given |= {"age_basis": basis, "age_year": year, "ended": ended}
    return {k: v for k, v in given.items() if v is not None}


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


def _said(said: BuckSaid, words: str, as_json: bool) -> None:
    if as_json:
        put_json(said)
        return
    say(f"{said.buck} {words} ({said.buck_id}).")
