"""Where to sit: `tonight`, and what it rests on, `ground import` and `wind import`."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from camsign.cli.opened import folder, logbook
from camsign.cli.show import Csv, Form, Json, form, note, put_csv, put_json, put_table, say

if TYPE_CHECKING:
    from camsign.answers.result import Figure
    from camsign.logbook.folder import Folder
    from camsign.sits.airs import Sky
    from camsign.sits.rows import StandRow
    from camsign.sits.tonight import Tonight

ground_app = typer.Typer(help="The lie of the land, from an elevation file.", no_args_is_help=True)
wind_app = typer.Typer(help="Winds kept in the logbook, by station and hour.", no_args_is_help=True)


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.command()(tonight)
    app.add_typer(ground_app, name="ground")
    app.add_typer(wind_app, name="wind")


@ground_app.command("import")
def import_ground(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(help="GeoTIFF in any projection, or SRTM .hgt.")],
    as_json: Json = False,
) -> None:
    """Take in the heights around home, so that shade, slope winds and sight lines are known."""
    from camsign.sits.terrain import import_ground as take

    taken = take(folder(context), file)
    rows, columns = taken.grid.heights.shape
    told = {
        "cell_m": taken.grid.cell, "native_m": taken.native_m, "rows": rows, "columns": columns,
        "unknown": taken.unknown,
    }  # fmt: skip
    if as_json:
        put_json(told)
        return
    missing = f"; {100 * taken.unknown:.0f} % of it has no height" if taken.unknown > 0.005 else ""
    say(f"Ground saved: {columns} x {rows} heights around home{missing}.")


@wind_app.command("import")
def import_wind(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(help="NOAA Global Hourly CSV, ISD, METAR lines, or CSV.")],
    month: Annotated[
        str | None, typer.Option(metavar="YYYY-MM", help="When METAR lines were sent.")
    ] = None,
    anywhere: Annotated[bool, typer.Option(help="Take a station that is far away.")] = False,
    as_json: Json = False,
) -> None:
    """Take in a wind file; the same hours again replace themselves."""
    from camsign.logbook.moments import today
    from camsign.sits.weather import import_wind as take
    from camsign.units import parse_day

    place = folder(context)
    sent = parse_day(f"{month}-01") if month else today(place.settings.tz)
    taken = take(place, file, sent, anywhere)
    note(*(f"camsign: {line}" for line in taken.troubles))
    if as_json:
        put_json(taken)
    else:
        say(f"{taken.hours} hours of wind saved from {taken.station}.")
    if taken.troubles:
        raise typer.Exit(1)


def tonight(
    context: typer.Context,
    wind: Annotated[
        str | None, typer.Option(metavar="FROM", help="Where the wind comes from: NW, 315, calm.")
    ] = None,
    mph: Annotated[float | None, typer.Option(min=0, help="Its speed in miles an hour.")] = None,
    kmh: Annotated[
        float | None, typer.Option(min=0, help="Its speed in kilometers an hour.")
    ] = None,
    cloud: Annotated[
        int | None, typer.Option(min=0, max=100, help="Covered part of the sky, in percent.")
    ] = None,
    hours: Annotated[
        Path | None, typer.Option(help="A wind file with the hours of the sit.")
    ] = None,
    on: Annotated[str | None, typer.Option(metavar="DAY", help="Another day than today.")] = None,
    morning: Annotated[bool, typer.Option(help="A morning sit instead of an evening's.")] = False,
    buck: Annotated[
        list[str] | None, typer.Option(help="Only this buck; may be given again.")
    ] = None,
    shot: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="How far you shoot, such as 30yd.")
    ] = None,
    why: Annotated[bool, typer.Option(help="All reasons, and how it was figured.")] = False,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Which stand tonight, on which wind, by which way in, and the chance that he comes."""
    from camsign.logbook.moments import today
    from camsign.sits.tonight import tonight as answer_of
    from camsign.units import parse_day, parse_length

    place = folder(context)
    day = parse_day(on) if on else today(place.settings.tz)
    sky = _sky(place, wind, _speed(mph, kmh), cloud, hours, day)
    shot_m = (
        parse_length(shot, "yd" if place.settings.units == "imperial" else "m") if shot else None
    )
    with logbook(context) as session:
        answer = answer_of(session, day, sky, morning, buck, shot_m)
    wanted = form(as_json, as_csv)
    if wanted is Form.JSON:
        put_json(answer.to_json())
    elif wanted is Form.CSV:
        put_csv(answer.to_records(flat=True), answer.columns())
    else:
        _show(answer, place.settings.tz, why)


def _speed(mph: float | None, kmh: float | None) -> float | None:
    if mph is not None:
        return mph * 0.44704
    return None if kmh is None else kmh / 3.6


def _sky(
    place: Folder,
    wind: str | None,
    speed: float | None,
    cloud: int | None,
    hours: Path | None,
    day: date,
) -> Sky:
    """The wind that was typed, else that of a file, else that kept in the logbook."""
    from camsign.sits.asked import kept_sky, sky_of_file, typed_sky

    if wind is not None or speed is not None:
        share = None if cloud is None else cloud / 100
        return typed_sky(wind, speed, share)
    if hours is not None:
        sky, troubles = sky_of_file(place, hours, day)
        note(*(f"camsign: {line}" for line in troubles))
        return sky
    return kept_sky(place, day)


def _show(answer: Tonight, tz: str, everything: bool) -> None:
    say(answer.verdict, "")
    head = (
        "stand",
        "chance",
        "scent",
        "way in",
        "be in by",
        "he comes",
        "air turns",
        "too close with",
    )
    put_table(head, [_cells(row, tz) for row in answer.stands])
    top = answer.stands[0] if answer.stands else None
    lines = [*(top.why if top else ()), *answer.why]
    say("Why", *(f"  {line}" for line in (lines if everything else lines[:5])))
    if everything:
        for row in answer.stands[1:]:
            say(f"{row.stand}", *(f"  {line}" for line in row.why))
        note(f"How this was figured: {answer.method}.")
    say("", *(f"Mind: {line}." for line in answer.cautions))


def _cells(row: StandRow, tz: str) -> tuple[str, ...]:
    from camsign.units import format_bearing

    going = "" if row.comes_going_deg is None else f" going {format_bearing(row.comes_going_deg)}"
    way = "none drawn" if row.way_in is None else f"{row.way_in}: {row.way_in_scent}"
    comes = "–" if row.comes_at is None else _clock(row.comes_at, tz) + going
    return (
        row.stand, _odds(row.any_chance), row.scent, way, _clock(row.be_in_by, tz), comes,
        "–" if row.air_turns_at is None else _clock(row.air_turns_at, tz), ", ".join(row.tied_with),
    )  # fmt: skip


def _odds(figure: Figure) -> str:
    """Write a chance as people say it: about 1 in 6 (1 in 20 to 1 in 3)."""

    def one(x: float | None) -> str:
        return "none" if not x or x < 0.005 else f"1 in {max(1, round(1 / x))}"

    return f"about {one(figure.value)} ({one(figure.low)} to {one(figure.high)})"


def _clock(when: datetime, tz: str) -> str:
    from camsign.zones import zone

    there = when.astimezone(zone(tz))
    return f"{there:%I:%M %p}".lstrip("0")
