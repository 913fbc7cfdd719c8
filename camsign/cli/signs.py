"""The sign log."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from camsign.cli.command import Out, command
from camsign.cli.reading import Anywhere, Columns, Day, choices, columns_of, untaken
from camsign.cli.show import Block, bearing, lengths, listed
from camsign.cli.show import at as placed
from camsign.cli.things import says
from camsign.errors import ATTENTION, REFUSED
from camsign.formats.gpx import write_gpx
from camsign.logbook.session import Session
from camsign.logbook.things import SIGN
from camsign.sign import record
from camsign.sign.kinds import BUCK_BED_M, looks_like_bucks
from camsign.sign.lines import SURE, LineRow, line_tracks, sign_lines
from camsign.sign.record import SignRow, SignSaid
from camsign.sign.said import note_sign, seen_of
from camsign.units import UnitSystem, format_bearing, format_length

if TYPE_CHECKING:
    from camsign.flows.fieldwork.sign_tables import SignTaken


sign_app = typer.Typer(help="Rubs, scrapes, beds and other sign.", no_args_is_help=True)


@says(sign_app, SIGN, "add")
def _add(session: Session, **said: Any) -> Out[SignSaid]:
    done = note_sign(session, **said)
    lines = [f"{done.kind} {done.sign} at {done.lat:.5f},{done.lon:.5f}, seen {done.seen_on}."]
    lines += [done.read_as] if done.read_as else []
    if done.kind == "bed" and not said.get("bed_of"):
        look = seen_of(session, "bed", done.seen_on, measures=said.get("measures", ()))
        lines += ask_whose(done.sign, look.measures, session.settings.units)
    return Out(done, lines)


def ask_whose(sign: str, measures: Mapping[str, Any], units: UnitSystem) -> list[str]:
    """Ask whose bed it is, and say what its length suggests."""
    lines = [f"Buck or doe? If you can tell: camsign sign again {sign} --on DAY --of buck"]
    if looks_like_bucks("bed", None, measures):
        long = format_length(BUCK_BED_M, units, small=True)
        lines.insert(0, f"{long} or longer: likely a buck's bed (hunters' rule of thumb).")
    return lines


@command(sign_app, "import", attention="a row was refused", refused="every row was refused")
def import_sign(
    session: Session,
    file: Annotated[Path, typer.Argument(help="A CSV table, or GPX, KML or GeoJSON points.")],
    on: Day = None,
    column: Columns = None,
    anywhere: Anywhere = False,
) -> Out[SignTaken]:
    """Load sign from a file. The same file again adds nothing."""
    from camsign.flows.fieldwork.sign_tables import import_sign as take_in

    how = choices(on, anywhere)
    taken = take_in(session, file, columns_of(column), how.on, how.anywhere)
    told = f"Sign: {taken.new} new, {taken.changed} changed, {taken.known} known already."
    some = taken.new or taken.changed or taken.known
    code = 0 if not taken.refused else ATTENTION if some else REFUSED
    return Out(taken, told, warned=untaken([*taken.refused, *taken.notes]), code=code)


@command(sign_app, "list", csv=True)
def list_sign(
    session: Session,
    kind: Annotated[str | None, typer.Option(help="Only this kind.")] = None,
    season: Annotated[int | None, typer.Option(help="Only made in this season.")] = None,
    species: Annotated[str | None, typer.Option(help="Only on such a tree.")] = None,
) -> Out[list[SignRow]]:
    """List sign: when it was seen, and when made."""
    rows = record.signs(session, kind, season, species)
    columns = {"sign": "sign", "kind": "kind", "seen_on": "seen", "made_from": "made from"}
    columns |= {"made_to": "to", "travel_deg": "travel", "species": "tree", "state": "look"}
    travel = {"travel_deg": lambda row: bearing(row.travel_deg)}
    told = listed(rows, columns, "no sign yet", **travel)
    return Out(rows, told, rows=record.as_records(rows))


@command(sign_app, "lines", csv=True)
def lines(
    session: Session,
    season: Annotated[int | None, typer.Option(help="Only made in this season.")] = None,
    gpx: Annotated[
        Path | None, typer.Option(metavar="FILE.gpx", help="Write the lines as tracks to walk.")
    ] = None,
    doubtful: Annotated[
        bool, typer.Option("--doubtful", help="Also lines no longer than chance gives.")
    ] = False,
) -> Out[list[LineRow]]:
    """Rub lines: where he comes from, where he goes."""
    found = sign_lines(session, season, doubtful=True)
    rows = [row for row in found if doubtful or row.by_chance <= SURE]
    if gpx:
        with gpx.open("w", encoding="utf-8") as stream:
            write_gpx([], line_tracks(rows), stream)
    return Out(rows, _lines(rows, len(found), session.settings.units))


def _lines(rows: list[LineRow], found: int, units: UnitSystem) -> Iterator[Block]:
    columns = {"line": "line", "rubs": "rubs", "heading_deg": "heading (95%)"}
    columns |= {"by_chance": "odds it's luck", "length_m": "length", "against": "rubs facing back"}
    columns |= {"by_name": "between", "came_from": "from", "goes_to": "to"}
    yield from listed(
        rows,
        columns,
        "no lines of rubs",
        heading_deg=_heading,
        by_chance=lambda row: f"{round(20 * row.by_chance)} in 20",
        length_m=lambda row: lengths(units, row.length_m),
        came_from=lambda row: placed(*row.came_from),
        goes_to=lambda row: placed(*row.goes_to),
    )
    if len(rows) < found:
        yield f"{found - len(rows)} more may be luck: --doubtful shows them too."


def _heading(row: LineRow) -> str | None:
    mean = row.heading_deg
    return None if mean.value is None else format_bearing(mean.value, mean.low, mean.high)
