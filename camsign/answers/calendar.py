"""Day by day: was an area watched, are its pictures sorted, and how often did bucks come?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np

from camsign.answers.days import SeasonPart, parts_of
from camsign.answers.detections import SURE, asked
from camsign.answers.reach import Watching
from camsign.answers.scope import Scope
from camsign.arrays import Ints, Times
from camsign.errors import UsageError
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session

DayState = Literal["watched", "unsorted", "not watched"]


@dataclass(frozen=True, slots=True)
class CalendarDay:
    """A local day. `state`: only on a watched day do no visits mean that no picture was taken.

    `unsorted`: a camera watched, but its pictures were not looked at. `visits` begun that day,
    `shooting_light` of them in day or gray light.
    """

    day: date
    state: DayState
    visits: int
    shooting_light: int


@dataclass(frozen=True, slots=True)
class MadeWindow:
    """When a sign in reach of the area was made: local days, both within."""

    kind: str
    first: date
    last: date


@dataclass(frozen=True, slots=True)
class Calendar:
    """An area's days in order, the phases of the season, and when sign in reach was made.

    `bucks`: whose visits are counted, () for all that are known. `nights_watched`: nights that
    count, as in every other answer; `nights_unsorted`: nights that do not, for they wait.
    """

    area: str
    bucks: tuple[str, ...]
    days: tuple[CalendarDay, ...]
    phases: tuple[SeasonPart, ...]
    made: tuple[MadeWindow, ...]
    nights_watched: int
    nights_unsorted: int


def calendar(session: Session, scope: Scope) -> Calendar:
    """Give the days of a scope at its one area.

    Raises:
        UsageError: the scope does not name exactly one area, or it has no days.
    """
    if scope.area_ids is None or len(scope.area_ids) != 1:
        raise UsageError("a calendar is of one area", "name it")
    q = asked(session, scope)
    watching = q.watch_alive(0, 0 if len(q.bucks.ids) == 1 else -1)
    visited, settings = q.visited, session.settings
    first, last = _span(scope, watching)
    sure = visited.apart == SURE
    given = scope.sql() | {"area": scope.area_ids[0], "first": first, "last": last}
    made = run_sql(session.con, __file__, "calendar.sql", **given).fetchall()
    return Calendar(
        area=q.reach.spots[0].name,
        bucks=q.bucks.names if scope.buck_ids is not None else (),
        days=_days(first, last, watching, visited.day[sure], visited.day[sure & visited.shooting]),
        phases=tuple(parts_of(settings, first, last, "phase") if settings.phases else ()),
        made=tuple(MadeWindow(*row) for row in made),
        nights_watched=len(watching.nights),
        nights_unsorted=len(watching.unsorted),
    )


def _span(scope: Scope, watching: Watching) -> tuple[date, date]:
    """From the first night with a camera to the last, within the days asked for."""
    both = [x for x in (watching.nights, watching.unsorted, watching.days) if len(x)]
    if not both:
        raise UsageError(f"no camera watched there: {scope.in_words()}", "ask for other days")
    first, last = min(x[0] for x in both).item(), max(x[-1] for x in both).item()
    return max(first, scope.first), min(last, scope.last)


def _days(
    first: date, last: date, watching: Watching, visits: Times, lit: Times
) -> tuple[CalendarDay, ...]:
    days = np.arange(np.datetime64(first, "D"), np.datetime64(last, "D") + 1)
    unsorted = np.isin(days, watching.unsorted)
    watched = (np.isin(days, watching.days) | np.isin(days, watching.nights)) & ~unsorted
    counts, in_light = _counts(days, visits), _counts(days, lit)
    states: list[DayState] = [
        "watched" if w else "unsorted" if u else "not watched"
        for w, u in zip(watched, unsorted, strict=True)
    ]
    found = zip(days.tolist(), states, counts.tolist(), in_light.tolist(), strict=True)
    return tuple(CalendarDay(*one) for one in found)


def _counts(days: Times, events: Times) -> Ints:
    at = (events.astype("datetime64[D]") - days[0]).astype(int)
    return np.bincount(at[(at >= 0) & (at < len(days))], minlength=len(days))
