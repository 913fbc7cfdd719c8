"""Pictures and pages of what the logbook holds."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from camsign.cli.command import Out, command
from camsign.logbook.session import Session

Season = Annotated[
    int | None, typer.Option(help="Hunting year, such as 2025 (the latest if you leave it out).")
]


@dataclass(frozen=True, slots=True)
class Drawn:
    """The files that were written."""

    written: list[Path]


@command()
def draw(
    session: Session,
    file: Annotated[Path, typer.Argument(help="The PNG, SVG or PDF to write.")] = Path("map.png"),
    title: Annotated[str | None, typer.Option(help="A line above the map.")] = None,
    area: Annotated[str | None, typer.Option(help="Only what lies around this area.")] = None,
    verdicts: Annotated[
        bool, typer.Option("--verdicts", help="Say under each bedding area whether he beds there.")
    ] = False,
    buck: Annotated[
        str | None, typer.Option(help="Ring the cameras that pictured him, with his visits.")
    ] = None,
    season: Annotated[
        int | None, typer.Option(help="Only what hung, was made or came in this hunting year.")
    ] = None,
) -> Out[Drawn]:
    """Draw your map: cameras, sign, areas, places, what rubs say."""
    from camsign.report.drawn import write_map

    return _out(write_map(session, file, title, area, verdicts, buck, season))


@command()
def chart(
    session: Session,
    what: Annotated[str, typer.Argument(help="day, months, calendar, rose, areas or years.")],
    file: Annotated[Path, typer.Argument(help="The PNG, SVG or PDF to write.")],
    area: Annotated[str | None, typer.Option(help="An area's name or id.")] = None,
    buck: Annotated[str | None, typer.Option(help="A buck's name or id.")] = None,
    season: Season = None,
) -> Out[Drawn]:
    """Draw one answer as a chart: hours, months, calendar, ways, areas."""
    from camsign.report.drawn import write_chart

    return _out(write_chart(session, what, file, area, buck, season))


@command()
def report(
    session: Session,
    names: Annotated[
        list[str], typer.Argument(help="Areas and bucks, then the HTML file to write.")
    ],
    season: Season = None,
    no_places: Annotated[
        bool, typer.Option("--no-places", help="No map, no coordinate, no name of a place.")
    ] = False,
) -> Out[Drawn]:
    """Write a page to print or carry: the answer, why, map, charts."""
    from camsign.report.gathered import write_report

    return _out(write_report(session, names[:-1], Path(names[-1]), season, no_places))


@command()
def form(
    session: Session,
    file: Annotated[Path, typer.Argument(help="The HTML to write.")] = Path("field-form.html"),
) -> Out[Drawn]:
    """Print a form to fill in outdoors."""
    from camsign.report.fieldform import write_form

    return _out(write_form(file, session.settings.units))


def _out(written: Path) -> Out[Drawn]:
    return Out(Drawn([written]), f"Wrote {written}.")
