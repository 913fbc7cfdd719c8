"""Answers from a lake of Parquet: properties and seasons side by side."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from camsign.answers.lake import LakeBy, Wanted, open_lake
from camsign.answers.lake_compare import LakeCompare, lake_compare
from camsign.answers.lake_visits import LakeVisitRow, LakeVisits, lake_visits
from camsign.answers.lake_when import LakeWhen, lake_when
from camsign.cli.command import Out, command
from camsign.cli.show import listed
from camsign.errors import UsageError
from camsign.formats.interval import percent, rate

lake_app = typer.Typer(help="Ask a lake of Parquet files: many properties and seasons at once.")

Folder = Annotated[Path, typer.Argument(help="The lake: what `camsign export lake` wrote.")]
Properties = Annotated[
    list[str] | None, typer.Option("--property", help="Only this property; repeat for more.")
]
Seasons = Annotated[
    list[int] | None, typer.Option("--season", help="Only this hunting year; repeat for more.")
]
Bucks = Annotated[
    list[str] | None, typer.Option("--buck", help="A buck's name or id; repeat for more.")
]
Areas = Annotated[
    list[str] | None, typer.Option("--area", help="An area's name or id; repeat for more.")
]
Memory = Annotated[str, typer.Option(help="No more is held at once; the rest goes to disk.")]


@command(lake_app, "visits", csv=True, why=True)
def visits(
    folder: Folder,
    property_: Properties = None,
    season: Seasons = None,
    buck: Bucks = None,
    area: Areas = None,
    by: Annotated[str, typer.Option(help="area or property.")] = "area",
    memory: Memory = "1GB",
) -> Out[LakeVisits]:
    """How often is each buck there: every property and season side by side."""
    if by not in ("area", "property"):
        raise UsageError(f"there are no visits by {by!r}", "say --by area or --by property")
    spots: LakeBy = "area" if by == "area" else "property"
    wanted = Wanted(property_, season, buck, area)
    with open_lake(folder, memory) as lake:
        answer = lake_visits(lake, wanted, spots)
    columns: dict[str, str | Callable[[LakeVisitRow], str]] = {"property": "property"}
    columns |= {"season": "season", "buck": "buck"} | ({"area": "area"} if by == "area" else {})
    return Out(answer, listed(answer.rows, columns | {
        "visits": "visits", "days": "nights_seen", "covered": "nights_watched",
        "per 100 days": lambda r: rate(r.per_100_nights, r.visits),
        "day / gray / dark": lambda r: f"{r.day} / {r.gray} / {r.dark}",
        "in shooting light": lambda r: percent(r.shooting_light),
    }))  # fmt: skip


@command(lake_app, "when", csv=True, why=True)
def when(
    folder: Folder,
    buck: Annotated[str, typer.Argument(help="A buck's name or id.")],
    property_: Properties = None,
    season: Seasons = None,
    memory: Memory = "1GB",
) -> Out[LakeWhen]:
    """In which light does this buck come, month by month, on every property that knows him?"""
    with open_lake(folder, memory) as lake:
        answer = lake_when(lake, buck, Wanted(property_, season))
    return Out(answer, listed(answer.rows, {
        "property": "property", "month": "month", "visits": "visits",
        "day / gray / dark": lambda r: f"{r.day} / {r.gray} / {r.dark}",
        "in shooting light": lambda r: percent(r.shooting_light), "days covered": "days",
        "with him in light": "seen", "chance on a day": lambda r: percent(r.chance),
    }))  # fmt: skip


@command(lake_app, "compare", csv=True, why=True)
def compare(
    folder: Folder,
    property_: Properties = None,
    season: Seasons = None,
    memory: Memory = "1GB",
) -> Out[LakeCompare]:
    """Which property and season had most for its nights: all of them side by side."""
    with open_lake(folder, memory) as lake:
        answer = lake_compare(lake, Wanted(property_, season))
    return Out(answer, listed(answer.rows, {
        "property": "property", "season": "season", "cameras": "cameras",
        "camera nights": "camera_nights", "bucks": "bucks", "mature": "mature", "visits": "visits",
        "per 100 days": lambda r: rate(r.per_100_nights, r.visits),
        "by mature ones": "mature_visits",
        "per 100": lambda r: rate(r.mature_per_100_nights, r.mature_visits),
        "in shooting light": lambda r: percent(r.shooting_light),
    }))  # fmt: skip
