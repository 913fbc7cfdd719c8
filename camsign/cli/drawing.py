"""Pictures and pages of what the logbook holds."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from camsign.cli.opened import logbook
from camsign.cli.show import Json, put_json, say

Season = Annotated[int | None, typer.Option(help="A hunting year; else the latest with pictures.")]


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.command("map")(draw)
    app.command("chart")(chart)
    app.command("report")(report)
    app.command("form")(form)


def draw(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(help="The PNG, SVG or PDF to write.")] = Path("map.png"),
    title: Annotated[str | None, typer.Option(help="A line above the map.")] = None,
    area: Annotated[str | None, typer.Option(help="Only what lies around this area.")] = None,
    verdicts: Annotated[
        bool, typer.Option("--verdicts", help="Say under each bedding area whether he beds there.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Draw cameras, sign, areas and places, with the ground where it is known."""
    from camsign.report.drawn import write_map

    with logbook(context) as session:
        written = write_map(session, file, title, area, verdicts)
    _tell(written, as_json)


def chart(
    context: typer.Context,
    what: Annotated[str, typer.Argument(help="day, months, calendar, rose, areas or years.")],
    file: Annotated[Path, typer.Argument(help="The PNG, SVG or PDF to write.")],
    area: Annotated[str | None, typer.Option(help="An area's name or id.")] = None,
    buck: Annotated[str | None, typer.Option(help="A buck's name or id.")] = None,
    season: Season = None,
    as_json: Json = False,
) -> None:
    """Draw one answer: the day by the sun, months, a calendar, ways, areas, a buck's years."""
    from camsign.report.drawn import write_chart

    with logbook(context) as session:
        written = write_chart(session, what, file, area, buck, season)
    _tell(written, as_json)


def report(
    context: typer.Context,
    names: Annotated[list[str], typer.Argument(help="Areas and bucks; the HTML to write, last.")],
    season: Season = None,
    no_places: Annotated[
        bool, typer.Option("--no-places", help="No map, no coordinate, no name of a place.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Write a page to keep, print or carry: the answer, why, map, charts, tables. No network."""
    from camsign.report.gathered import write_report

    with logbook(context) as session:
        written = write_report(session, names[:-1], Path(names[-1]), season, no_places)
    _tell(written, as_json)


def form(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(help="The HTML to write.")] = Path("field-form.html"),
    as_json: Json = False,
) -> None:
    """Write a page to print and fill in outdoors, with the words that `import` reads."""
    from camsign.report.fieldform import write_form

    with logbook(context) as session:
        written = write_form(file, session.settings.units)
    _tell(written, as_json)


def _tell(written: Path, as_json: bool) -> None:
    if as_json:
        put_json({"written": [written]})
    else:
        say(f"Wrote {written}.")
