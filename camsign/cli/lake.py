"""Answers from a lake of Parquet: properties and seasons side by side."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Annotated, Any, TypeVar

import typer

from camsign.answers.lake import Lake, open_lake
from camsign.answers.lake_compare import LakeCompare, lake_compare
from camsign.answers.lake_looked import LakeBy, Wanted
from camsign.answers.lake_visits import LakeVisits, lake_visits
from camsign.answers.lake_when import LakeWhen, lake_when
from camsign.cli.command import Out, command
from camsign.cli.show import Table
from camsign.errors import UsageError
from camsign.formats.interval import percent, rate

lake_app = typer.Typer(help="Ask a lake of Parquet files: many properties and seasons at once.")

T = TypeVar("T")
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
    wanted = _wanted(property_, season, buck, area)
    answer = _asked(folder, memory, lambda lake: lake_visits(lake, wanted, spots))
    head = ["property", "season", "buck", *(["area"] if by == "area" else []), "visits", "nights",
            "covered", "per 100 nights", "day / gray / dark", "in shooting light"]  # fmt: skip
    rows = [
        [r.property, r.season, r.buck, *([r.area] if by == "area" else []), r.visits,
         r.nights_seen, r.nights_watched, rate(r.per_100_nights, r.visits),
         f"{r.day} / {r.gray} / {r.dark}", percent(r.shooting_light)]
        for r in answer.rows
    ]  # fmt: skip
    return Out(answer, [Table(head, rows)] if rows else [])


@command(lake_app, "when", csv=True, why=True)
def when(
    folder: Folder,
    buck: Annotated[str, typer.Argument(help="A buck's name or id.")],
    property_: Properties = None,
    season: Seasons = None,
    memory: Memory = "1GB",
) -> Out[LakeWhen]:
    """In which light does this buck come, month by month, on every property that knows him?"""
    wanted = _wanted(property_, season)
    answer = _asked(folder, memory, lambda lake: lake_when(lake, buck, wanted))
    head = ["property", "month", "visits", "day / gray / dark", "in shooting light",
            "days covered", "with him in light", "chance on a day"]  # fmt: skip
    rows = [
        [r.property, r.month, r.visits, f"{r.day} / {r.gray} / {r.dark}",
         percent(r.shooting_light), r.days, r.seen, percent(r.chance)]
        for r in answer.rows
    ]  # fmt: skip
    return Out(answer, [Table(head, rows)] if rows else [])


@command(lake_app, "compare", csv=True, why=True)
def compare(
    folder: Folder,
    property_: Properties = None,
    season: Seasons = None,
    memory: Memory = "1GB",
) -> Out[LakeCompare]:
    """Which property and season had most for its nights: all of them side by side."""
    wanted = _wanted(property_, season)
    answer = _asked(folder, memory, lambda lake: lake_compare(lake, wanted))
    head = ["property", "season", "cameras", "camera nights", "bucks", "mature", "visits",
            "per 100 nights", "by mature ones", "per 100", "in shooting light"]  # fmt: skip
    rows = [
        [r.property, r.season, r.cameras, r.camera_nights, r.bucks, r.mature, r.visits,
         rate(r.per_100_nights, r.visits), r.mature_visits,
         rate(r.mature_per_100_nights, r.mature_visits),
         percent(r.shooting_light)]
        for r in answer.rows
    ]  # fmt: skip
    return Out(answer, [Table(head, rows)] if rows else [])


def _wanted(
    properties: Sequence[str] | None,
    seasons: Sequence[int] | None,
    bucks: Sequence[str] | None = None,
    areas: Sequence[str] | None = None,
) -> Wanted:
    def some(given: Sequence[Any] | None) -> Any:
        return tuple(given) if given else None

    return Wanted(some(properties), some(seasons), some(bucks), some(areas))


def _asked(folder: Path, memory: str, ask: Callable[[Lake], T]) -> T:
    with open_lake(folder, memory) as lake:
        return ask(lake)
