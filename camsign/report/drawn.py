"""A map or a chart into a file, asked for by words."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from camsign.answers.bedding import bedding
from camsign.answers.calendar import calendar
from camsign.answers.compare import compare
from camsign.answers.ground import Ground, ground
from camsign.answers.scope import Scope, scope_of
from camsign.answers.visits import visits
from camsign.answers.when import when
from camsign.errors import UsageError
from camsign.logbook.moments import season_of, today
from camsign.logbook.named import known_bucks
from camsign.logbook.session import Session
from camsign.places.areas import find_area
from camsign.report import charts
from camsign.report.chart_days import calendar_chart
from camsign.report.chart_hours import day_by_sun
from camsign.report.gathered import gray_of, property_map, seasons_of
from camsign.report.style import checked_ending, save

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def write_map(
    session: Session,
    path: Path,
    title: str | None = None,
    area: str | None = None,
    verdicts: bool = False,
    buck: str | None = None,
    season: int | None = None,
) -> Path:
    """Draw what lies where into a PNG, SVG or PDF.

    Args:
        session: the open logbook.
        path: the picture.
        title: a line above it; the buck's, the area's or the logbook's name by default.
        area: only what lies around this one.
        verdicts: under each bedding area say whether he beds there.
        buck: ring the cameras that pictured him, with his visits and the nights covered.
        season: only cameras that hung, sign that was made and visits in this hunting year; without
            it everything, and a buck's visits in the latest season with detections.

    Raises:
        UsageError: no such area or buck, or another ending.
        InputRefused: nothing has a place yet.
    """
    checked_ending(path)
    bucks = [buck] if buck is not None else None
    scope = scope_of(session, bucks, season=season)
    there = ground(session, scope if season is not None else None)
    at = None if area is None else find_area(session, area)
    named = title or _named(session, scope, at, there) or session.folder.root.resolve().name
    sub = f"{scope.season} season" if season is not None or bucks else ""
    his = scope if bucks else None

    def notes(shown: Ground) -> dict[str, str]:
        return _verdicts(session, shown, season) if verdicts else {}

    return save(property_map(session, there, named, sub, at, his, season, notes), path)


def _named(session: Session, scope: Scope, area_id: str | None, there: Ground) -> str:
    """Give what is drawn in words: the buck, around which area."""
    who = [known_bucks(session).name(scope.buck_ids[0])] if scope.buck_ids else []
    where = [a.name for a in there.areas if a.area_id == area_id]
    return " at ".join(who + where)


def _verdicts(session: Session, there: Ground, season: int | None) -> dict[str, str]:
    wanted = [a.area_id for a in there.areas if a.kind == "bedding"]
    found = {a: bedding(session, scope_of(session, None, [a], season=season)).said for a in wanted}
    return {a: said.partition(".")[0] for a, said in found.items()}


def write_chart(
    session: Session,
    what: str,
    path: Path,
    area: str | None = None,
    buck: str | None = None,
    season: int | None = None,
) -> Path:
    """Draw one answer into a PNG, SVG or PDF.

    Args:
        session: the open logbook.
        what: day, months, calendar, rose, areas or years.
        path: the picture.
        area: what it is of, where it is of an area.
        buck: whose, where it is of one.
        season: a hunting year; the latest with detections if None.

    Raises:
        UsageError: no such chart, area, buck or ending, or one that the chart needs is not named.
    """
    if what not in _CHARTS:
        raise UsageError(f"there is no chart {what!r}", f"say {', '.join(_CHARTS)}")
    checked_ending(path)
    (needs, draw), named = _CHARTS[what], {"area": area, "buck": buck}
    for need in needs:
        if named[need] is None:
            raise UsageError(f"this chart is of one {need}", f"name it with --{need}")
    bucks, areas = ([name] if name else None for name in (buck, area))
    return save(draw(session, scope_of(session, bucks, areas, season=season), buck or ""), path)


def _years(session: Session, scope: Scope, asked: str) -> Figure:
    buck = (scope.buck_ids or ("",))[0]
    seasons = seasons_of(session, buck) or [season_of(today(session.settings.tz),
                                                      session.settings.season_start)]  # fmt: skip
    found = [(y, visits(session, scope_of(session, [buck], season=y))) for y in seasons]
    return charts.years(next((r.buck for _, v in found for r in v.rows), asked), found)


# Each chart's words: what it needs to be named, and how it is drawn of the scope and the buck.
_CHARTS: dict[str, tuple[tuple[str, ...], Callable[[Session, Scope, str], Figure]]] = {
    "day": (("buck", "area"), lambda s, scope, _: day_by_sun(when(s, scope, test=False),
                                                             gray_of(s))),
    "months": (("buck", "area"), lambda s, scope, _: charts.months(when(s, scope, False, False))),
    "calendar": (("area",), lambda s, scope, _: calendar_chart(calendar(s, scope))),
    "rose": (("area",), lambda s, scope, _: charts.rose(bedding(s, scope))),
    "areas": ((), lambda s, scope, _: charts.areas_compared(compare(s, scope))),
    "years": (("buck",), _years),
}  # fmt: skip
