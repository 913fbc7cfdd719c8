"""The sign log."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from camsign.cli.figures import bearing, lengths
from camsign.cli.opened import logbook
from camsign.cli.reading import Anywhere, Columns, Day, choices, columns_of, tell
from camsign.cli.show import Csv, Form, Json, form, listing, put_csv, put_json, say
from camsign.cli.things import Told, says
from camsign.logbook.things import SIGN

if TYPE_CHECKING:
    from camsign.logbook.session import Session
    from camsign.sign.lines import LineRow
    from camsign.units import UnitSystem

sign_app = typer.Typer(help="Rubs, scrapes, beds and other sign.", no_args_is_help=True)


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.add_typer(sign_app, name="sign")


@says(sign_app, SIGN, "add", anywhere=True)
def _add(session: Session, **said: Any) -> Told:
    from camsign.sign.said import note_sign, seen_of

    done = note_sign(session, **said)
    lines = [f"{done.kind} {done.sign} at {done.lat:.5f},{done.lon:.5f}, seen {done.seen_on}."]
    lines += [done.read_as] if done.read_as else []
    if done.kind == "bed" and not said.get("bed_of"):
        look = seen_of(session, "bed", done.seen_on, measures=said.get("measures", ()))
        lines += ask_whose(done.sign, look.measures, session.settings.units)
    return done, lines


def ask_whose(sign: str, measures: Mapping[str, Any], units: UnitSystem) -> list[str]:
    """Ask whose bed it is, and say what its length suggests."""
    from camsign.sign.kinds import BUCK_BED_M, looks_like_bucks
    from camsign.units import format_length

    lines = [f"Buck or doe? If you can tell: camsign sign again {sign} --on DAY --of buck"]
    if looks_like_bucks("bed", None, measures):
        long = format_length(BUCK_BED_M, units, small=True)
        lines.insert(0, f"{long} or longer: likely a buck's bed (common practice, no source).")
    return lines


@sign_app.command("import")
def import_sign(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(help="A CSV table, or GPX, KML or GeoJSON points.")],
    on: Day = None,
    column: Columns = None,
    anywhere: Anywhere = False,
    as_json: Json = False,
) -> None:
    """Take in sign from a file; the same file again adds nothing."""
    from camsign.flows.fieldwork.sign_tables import import_sign as take_in

    how = choices(on, anywhere)
    with logbook(context) as session:
        taken = take_in(session, file, columns_of(column), how.on, how.anywhere)
    tell([*taken.refused, *taken.notes])
    if as_json:
        put_json(taken)
    else:
        say(f"Sign: {taken.new} new, {taken.changed} changed, {taken.known} known already.")
    if taken.refused:
        raise typer.Exit(1 if taken.new or taken.changed or taken.known else 3)


@sign_app.command("list")
def list_sign(
    context: typer.Context,
    kind: Annotated[str | None, typer.Option(help="Only this kind.")] = None,
    season: Annotated[int | None, typer.Option(help="Only made in this season.")] = None,
    species: Annotated[str | None, typer.Option(help="Only on such a tree.")] = None,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Sign by the day it was seen, with when it was made."""
    from camsign.sign import record

    with logbook(context) as session:
        rows = record.signs(session, kind, season, species)
    wanted = form(as_json, as_csv)
    columns = {"sign": "sign", "kind": "kind", "seen_on": "seen", "made_from": "made from"}
    columns |= {"made_to": "to", "travel_deg": "travel", "species": "tree", "state": "look"}
    if wanted is Form.CSV:
        put_csv(record.as_records(rows), list(columns))
        return
    if wanted is Form.TABLE:
        told = [{n: getattr(row, n) for n in columns} for row in rows]
        listing(
            [t | {"travel_deg": bearing(t["travel_deg"])} for t in told],
            columns,
            wanted,
            "no sign yet",
        )
        return
    listing(rows, columns, wanted, "no sign yet")


@sign_app.command("lines")
def lines(
    context: typer.Context,
    season: Annotated[int | None, typer.Option(help="Only made in this season.")] = None,
    gpx: Annotated[
        Path | None, typer.Option(metavar="FILE.gpx", help="Write the lines as tracks to walk.")
    ] = None,
    doubtful: Annotated[
        bool, typer.Option("--doubtful", help="Also lines no longer than chance gives.")
    ] = False,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Rubs that follow one another: where he comes from, where he goes."""
    from camsign.sign.lines import SURE, line_tracks, sign_lines

    with logbook(context) as session:
        found, units = sign_lines(session, season, doubtful=True), session.settings.units
    rows = [row for row in found if doubtful or row.by_chance <= SURE]
    if gpx:
        from camsign.formats.gpx import write_gpx

        with gpx.open("w", encoding="utf-8") as stream:
            write_gpx([], line_tracks(rows), stream)
    wanted = form(as_json, as_csv)
    if wanted is not Form.TABLE:
        listing(rows, {"line": "", "rubs": ""}, wanted)
        return
    columns = {"line": "line", "rubs": "rubs", "heading": "heading (95 %)", "p": "Rayleigh p"}
    columns |= {"by_chance": "by chance", "length": "length", "against": "rubs against it"}
    columns |= {"by_name": "by name", "came_from": "he comes from", "goes_to": "he goes to"}
    listing([_line(row, units) for row in rows], columns, wanted, "no lines of rubs")
    if len(rows) < len(found):
        say(f"{len(found) - len(rows)} no longer than chance gives: --doubtful shows them too.")


def _line(row: LineRow, units: UnitSystem) -> dict[str, Any]:
    from camsign.units import format_bearing

    mean = row.heading_deg
    return {
        "line": row.line,
        "rubs": row.rubs,
        "heading": None if mean.value is None else format_bearing(mean.value, mean.low, mean.high),
        "by_name": row.by_name,
        "p": f"{row.p:.2g}" if row.p is not None else None,
        "by_chance": f"{round(20 * row.by_chance)} in 20",
        "length": lengths(units, row.length_m),
        "against": row.against,
        "came_from": "{:.5f},{:.5f}".format(*row.came_from),
        "goes_to": "{:.5f},{:.5f}".format(*row.goes_to),
    }
