"""What `tonight` rests on: the lay of the land and the winds."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from camsign.answers.scope import Scope
from camsign.cli.asked import DAYS
from camsign.cli.command import Out, command
from camsign.cli.show import listed
from camsign.formats.interval import interval
from camsign.logbook.folder import Folder
from camsign.logbook.moments import today
from camsign.logbook.session import Session
from camsign.sits import terrain, weather
from camsign.sits.weather import Taken
from camsign.units import parse_day

if TYPE_CHECKING:
    from camsign.sits.windbeds import WindBeds

ground_app = typer.Typer(help="The lay of the land, from an elevation file.", no_args_is_help=True)
wind_app = typer.Typer(help="Winds kept in the logbook, by station and hour.", no_args_is_help=True)


@dataclass(frozen=True, slots=True)
class GroundTaken:
    """The heights kept: their spacing here and in the file [m], and the share without a height."""

    cell_m: float
    native_m: float
    rows: int
    columns: int
    unknown: float


@command(ground_app, "import")
def import_ground(
    book: Folder,
    file: Annotated[Path, typer.Argument(help="GeoTIFF in any projection, or SRTM .hgt.")],
) -> Out[GroundTaken]:
    """Load the terrain around home, for shade, slope winds and sight lines."""
    taken = terrain.import_ground(book, file)
    rows, columns = taken.grid.heights.shape
    told = GroundTaken(taken.grid.cell, taken.native_m, rows, columns, taken.unknown)
    missing = f"; {taken.unknown:.0%} of it has no height" if taken.unknown > 0.005 else ""
    return Out(told, f"Ground saved: {columns} x {rows} heights around home{missing}.")


@command(wind_app, "beds", asks=("buck", "area", *DAYS, "reach"), csv=True)
def wind_beds(session: Session, asked: Scope) -> Out[WindBeds]:
    """Which wind he beds on: his days in a bed against the winds of all days covered."""
    from camsign.sits.windbeds import wind_beds as answer_of

    answer = answer_of(session, asked)
    return Out(answer, listed([r for r in answer.sectors if r.days], {
        "wind from": "sector", "days": "days", "bedded": "bedded",
        "times as often": lambda r: interval(r.ratio, 1), "verdict": "verdict",
    }))  # fmt: skip


@command(wind_app, "import", attention="a line of the file was not understood")
def import_wind(
    book: Folder,
    file: Annotated[Path, typer.Argument(help="NOAA Global Hourly CSV, ISD, METAR lines, or CSV.")],
    month: Annotated[
        str | None, typer.Option(metavar="YYYY-MM", help="When METAR lines were sent.")
    ] = None,
    anywhere: Annotated[bool, typer.Option(help="Take a station that is far away.")] = False,
) -> Out[Taken]:
    """Load a wind file. Hours it has already are replaced."""
    sent = parse_day(f"{month}-01") if month else today(book.settings.tz)
    taken = weather.import_wind(book, file, sent, anywhere)
    told = f"{taken.hours} hours of wind saved from {taken.station}."
    return Out(taken, told, warned=taken.troubles, code=int(bool(taken.troubles)))
