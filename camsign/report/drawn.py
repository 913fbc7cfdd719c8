"""A map or a chart into a file, asked for by words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from camsign.answers.bedding import bedding
from camsign.answers.calendar import calendar
from camsign.answers.compare import compare
from camsign.answers.ground import Ground, ground
from camsign.answers.pictured import pictured
from camsign.answers.scope import Scope, scope_of
from camsign.answers.visits import visits
from camsign.answers.when import when
from camsign.errors import UsageError
from camsign.logbook.moments import season_of, today
from camsign.logbook.session import Session
from camsign.logbook.whois import known_bucks
from camsign.places.areas import find_area
from camsign.report import charts
from camsign.report.chart_days import calendar_chart
from camsign.report.chart_hours import day_by_sun
from camsign.report.gathered import around, found_around, gray_of, seasons_of, worked_out
from camsign.report.propertymap import draw_map
from camsign.report.style import checked_ending, save
from camsign.sits.terrain import terrain_of

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True, slots=True)
class Asked:
    """What a chart is of: names or ids of an area and a buck, a hunting year."""

    area: str | None = None
    buck: str | None = None
    season: int | None = None


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
    seen = {row.deployment: row for row in pictured(session, scope)} if bucks else {}
    found = worked_out(session, season, seen)
    at = None if area is None else find_area(session, area)
    if at is not None:
        found = found_around(found, there, at)
        there = around(there, at, found.lines)
    notes = _verdicts(session, there, season) if verdicts else {}
    named = title or _named(session, scope, at, there) or session.folder.root.resolve().name
    sub = f"{scope.season} season" if season is not None or bucks else ""
    land, day = terrain_of(session.folder), today(session.settings.tz)
    return draw_map(there, path, named, notes, land, day, found, sub)


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
    make = _CHARTS.get(what)
    if make is None:
        raise UsageError(f"there is no chart {what!r}", f"say {', '.join(_CHARTS)}")
    checked_ending(path)
    return save(make(session, Asked(area, buck, season)), path)


def _scope(session: Session, asked: Asked, *needs: str) -> Scope:
    for need in needs:
        if getattr(asked, need) is None:
            raise UsageError(f"this chart is of one {need}", f"name it with --{need}")
    bucks, areas = ([name] if name else None for name in (asked.buck, asked.area))
    return scope_of(session, bucks, areas, season=asked.season)


def _day(session: Session, asked: Asked) -> Figure:
    seen = when(session, _scope(session, asked, "buck", "area"), test=False)
    return day_by_sun(seen, gray_of(session))


def _months(session: Session, asked: Asked) -> Figure:
    return charts.months(when(session, _scope(session, asked, "buck", "area"), False, False))


def _calendar(session: Session, asked: Asked) -> Figure:
    return calendar_chart(calendar(session, _scope(session, asked, "area")))


def _rose(session: Session, asked: Asked) -> Figure:
    return charts.rose(bedding(session, _scope(session, asked, "area")))


def _areas(session: Session, asked: Asked) -> Figure:
    return charts.areas_compared(compare(session, _scope(session, asked)))


def _years(session: Session, asked: Asked) -> Figure:
    scope = _scope(session, asked, "buck")
    buck = (scope.buck_ids or ("",))[0]
    seasons = seasons_of(session, buck) or [season_of(today(session.settings.tz),
                                                      session.settings.season_start)]  # fmt: skip
    found = [(y, visits(session, scope_of(session, [buck], season=y))) for y in seasons]
    name = next((r.buck for _, v in found for r in v.rows), asked.buck or "")
    return charts.years(name, found)


_CHARTS: dict[str, Callable[[Session, Asked], Figure]] = {
    "day": _day, "months": _months, "calendar": _calendar, "rose": _rose, "areas": _areas,
    "years": _years,
}  # fmt: skip
