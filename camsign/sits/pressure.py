"""Do your visits cost you his? Daylight days of mature bucks before and after you were there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import ClassVar

from camsign.answers.bucks import bucks_of, mature_of
from camsign.answers.result import Answer, Figure, Watch, figure, reasons
from camsign.answers.scope import Scope
from camsign.errors import UsageError
from camsign.logbook.database import sql_beside
from camsign.logbook.moments import today
from camsign.logbook.session import Session
from camsign.sits.habits import BedArea, bed_areas
from camsign.sits.intrusions import DISTURBS_M, Intrusion, intrusions_of, last_of, near
from camsign.sits.plane import plane_of
from camsign.stats.estimate import rate_ratio
from camsign.units import UnitSystem, counted, format_length

# So many days before and after are compared; no source.
SPAN_DAYS = 5
# With fewer daylight days of his than this on both sides together nothing is told.
FEWEST = 8


def _method(units: UnitSystem) -> str:
    return (
        f"days with a mature buck by daylight over days watched, in the {SPAN_DAYS} days before "
        f"and after somebody came within {format_length(DISTURBS_M, units)}; the day itself is "
        "left out, and so are days that lie behind one trip in and ahead of another. The ratio's "
        "interval is exact (Przyborowski and Wilenski 1940) and takes days as independent"
    )


@dataclass(frozen=True, slots=True)
class AreaPressure:
    """One bedding area: the last intrusion known to the day and its kind, how many there were,
    daylight days of `days_after` watched after, `days_before` before; `ratio`: after over before.

    `verdict`: fewer after, more after, or can't tell. Cards pulled on a day that is not known are
    no such intrusions; where one may have been the last, `days_since` is not known.
    """

    area: str
    area_id: str
    last_day: date | None
    last_what: str | None
    days_since: int | None
    intrusions: int
    came_before: int
    days_before: int
    came_after: int
    days_after: int
    ratio: Figure
    verdict: str

    @property
    def trips_in_words(self) -> str:
        """How many times somebody went in: `5 trips in`."""
        return "1 trip in" if self.intrusions == 1 else f"{self.intrusions} trips in"

    @property
    def verdict_in_words(self) -> str:
        """What the days before and after together show."""
        said = {"fewer after": "Fewer after: going in costs you here.", "more after": "More after."}
        return said.get(self.verdict, "Too few, or too much alike, to tell.")


@dataclass(frozen=True, slots=True)
class Pressure(Answer):
    """Each bedding area, the one left alone longest first."""

    TABLE: ClassVar[str] = "areas"
    ROW: ClassVar[type] = AreaPressure

    said: str
    areas: tuple[AreaPressure, ...]
    watch: Watch
    method: str
    why: tuple[str, ...]


def pressure(session: Session, scope: Scope) -> Pressure:
    """Compare daylight days before and after intrusions, by bedding area.

    Raises:
        UsageError: the logbook has no home, or no bedding area.
    """
    plane = plane_of(session)
    areas = bed_areas(session, plane)
    if not areas:
        raise UsageError("no bedding area is known", "draw one on the map, or: camsign area add")
    bucks = bucks_of(session, replace(scope, buck_ids=None))
    mature = [bucks.ids[n] for n in mature_of(session, scope, bucks, living=False).bucks]
    found = intrusions_of(session, plane)
    now = min(scope.last, today(session.settings.tz))  # the season may still run
    trips = {area.area_id: _trips(area, found, scope.first, now) for area in areas.values()}
    rows = [_row(session, scope, area, trips[area.area_id], mature, now) for area in areas.values()]
    rows.sort(key=lambda row: (row.last_day or date.min, row.area))
    days = sum(row.days_before + row.days_after for row in rows)
    return Pressure(
        _said(rows), tuple(rows), Watch((), 0, days, scope.first, scope.last),
        _method(session.settings.units),
        reasons(
            "days differ for other reasons too: the rut, the wind, the season moving on",
            "counts the sits, walks, cameras hung or taken down and sign you logged; a card counts "
            "as pulled at its last picture, if it was loaded or the next one began soon after",
            *(_undated(area, trips[area.area_id], now) for area in areas.values()),
        ),
    )  # fmt: skip


def _trips(
    area: BedArea, found: Sequence[Intrusion], first: date, now: date
) -> tuple[Intrusion, ...]:
    within = area.bed.radius + DISTURBS_M
    return tuple(
        one for one in found
        if one.day <= now and first <= (one.until or one.day)
        and near(one, area.bed.x, area.bed.y, within)
    )  # fmt: skip


def _undated(area: BedArea, trips: Sequence[Intrusion], now: date) -> str | None:
    """Say of a bed since when it can't be told that it was left alone."""
    last = last_of(trips)
    if last is None or last.until is None:
        return None
    return (
        f"can't tell since when {area.name} has been left alone: a card there was pulled "
        f"{last.when_words(now)}, so that trip isn't counted"
    )


def _row(
    session: Session, scope: Scope, area: BedArea, trips: Sequence[Intrusion], mature: list[str],
    now: date,
) -> AreaPressure:  # fmt: skip
    rows = session.con.execute(
        sql_beside(__file__, "daylight_days.sql"),
        [area.area_id, scope.reach_m, mature, scope.first, scope.last],
    ).fetchall()
    dated = {one.day for one in trips if one.until is None}
    before, after = around(sorted(dated))
    k_before, n_before = _counted(rows, before)
    k_after, n_after = _counted(rows, after)
    ratio = rate_ratio(k_after, n_after, k_before, n_before)
    dark = _undated(area, trips, now) is not None
    last = next((one for one in reversed(trips) if one.until is None), None)
    return AreaPressure(
        area.name, area.area_id, last.day if last else None, last.what if last else None,
        (now - last.day).days if last and not dark else None, len(dated),
        k_before, n_before, k_after, n_after, figure(ratio, k_before + k_after),
        verdict_of(ratio.low, ratio.high, k_before + k_after),
    )  # fmt: skip


def around(days: Sequence[date]) -> tuple[set[date], set[date]]:
    """Days before and after intrusions, those of both and of the intrusions themselves left out."""
    before = {day - timedelta(days=n) for day in days for n in range(1, SPAN_DAYS + 1)}
    after = {day + timedelta(days=n) for day in days for n in range(1, SPAN_DAYS + 1)}
    both = (before & after) | set(days)
    return before - both, after - both


def _counted(rows: list[tuple[date, bool]], days: set[date]) -> tuple[int, int]:
    mine = [came for day, came in rows if day in days]
    return sum(mine), len(mine)


def verdict_of(low: float | None, high: float | None, n: int) -> str:
    """Fewer after, more after, or can't tell."""
    if n < FEWEST:
        return "can't tell"
    if high is not None and high < 1:
        return "fewer after"
    return "more after" if low is not None and low > 1 else "can't tell"


def _said(rows: list[AreaPressure]) -> str:
    worse = [row.area for row in rows if row.verdict == "fewer after"]
    if worse:
        return f"Going in hurts you at {', '.join(worse)}: fewer daylight days after than before."
    many = sum(row.intrusions for row in rows)
    if not many:
        return "Can't tell: no trip near a bedding area is known to the day."
    return (
        f"Can't tell yet if going in hurts you: {counted(many, 'trip')} in, but too few daylight "
        "pictures around them, or as many after as before."
    )
