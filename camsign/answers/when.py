"""When is this buck near this bedding area?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import floor
from typing import TYPE_CHECKING, Any, ClassVar

from camsign.answers.reach import reach_of, sql_text, watch_of
from camsign.answers.shape import (
    ABSENCE,
    FEW_NIGHTS,
    THIN,
    Answer,
    Figure,
    Watch,
    figure,
    local_of,
    reasons,
    utc_of,
)
from camsign.answers.visited import make_visited
from camsign.errors import UsageError
from camsign.stats.shares import wilson

if TYPE_CHECKING:
    from camsign.answers.scope import Scope
    from camsign.logbook.session import Session

METHOD = (
    "visits: detections no farther apart than the gap, merged over the cameras in reach; hours "
    "from that local day's sunrise and sunset at the place; daylight share: Wilson 1927, 95 %"
)


@dataclass(frozen=True, slots=True)
class Visit:
    """One visit, by its first detection; `until` is its last. `in_daylight`: any of them was.

    `minutes_from_sunrise`, `minutes_from_sunset` are from that local day's, negative before it.
    `distance_m`: from the camera to the area's edge, 0 inside.
    """

    utc: datetime
    local: datetime
    until: datetime
    camera: str
    in_daylight: bool
    minutes_from_sunrise: float | None
    minutes_from_sunset: float | None
    distance_m: float | None
    frames: int


@dataclass(frozen=True, slots=True)
class HourCount:
    """Visits that began within the hour from `hour` to `hour` + 1 of the anchor."""

    hour: int
    visits: int


@dataclass(frozen=True, slots=True)
class When(Answer):
    """When a buck is near an area; the table holds the visits."""

    TABLE: ClassVar[str] = "visits"
    LISTED: ClassVar[bool] = False
    REPEATED: ClassVar[tuple[str, ...]] = ("buck", "area")

    buck: str
    buck_id: str
    area: str
    area_id: str
    nights_watched: int
    by_hour_from_sunrise: tuple[HourCount, ...]
    by_hour_from_sunset: tuple[HourCount, ...]
    daylight: Figure
    last_seen: datetime | None
    visits: tuple[Visit, ...]
    watch: Watch
    method: str
    why: tuple[str, ...]


def when(session: Session, scope: Scope) -> When:
    """Say when the scope's buck is near the scope's area.

    Raises:
        UsageError: the scope does not name exactly one buck and one area.
    """
    buck_id, area_id = _one_each(scope)
    reach = reach_of(session, scope)
    watch = watch_of(session, scope, reach)[area_id]
    make_visited(session, scope, reach)
    rows = session.con.execute(sql_text("when.sql")).fetchall()
    seen = tuple(_visit(*row) for row in rows)
    row = session.con.execute("SELECT name FROM bucks_now WHERE buck = ?", [buck_id]).fetchone()
    by_day = sum(v.in_daylight for v in seen)
    return When(
        buck=(row and row[0]) or buck_id,
        buck_id=buck_id,
        area=reach.names[area_id],
        area_id=area_id,
        nights_watched=watch.nights_watched,
        by_hour_from_sunrise=_by_hour([v.minutes_from_sunrise for v in seen]),
        by_hour_from_sunset=_by_hour([v.minutes_from_sunset for v in seen]),
        daylight=figure(wilson(by_day, len(seen)), n=len(seen)),
        last_seen=seen[-1].local if seen else None,
        visits=seen,
        watch=watch,
        method=METHOD,
        why=_why(scope, watch, len(seen)),
    )


def _one_each(scope: Scope) -> tuple[str, str]:
    if len(scope.buck_ids or ()) != 1 or len(scope.area_ids or ()) != 1:
        raise UsageError("this question is about one buck and one area", "name one of each")
    return (scope.buck_ids or ("",))[0], (scope.area_ids or ("",))[0]


def _visit(
    utc: datetime, local: datetime, until_utc: datetime, camera: str, light: bool | None, *rest: Any
) -> Visit:
    there = local_of(utc, local)
    until = utc_of(until_utc).astimezone(there.tzinfo)
    return Visit(utc_of(utc), there, until, camera, bool(light), *rest)


def _by_hour(minutes: Sequence[float | None]) -> tuple[HourCount, ...]:
    """Count by whole hours, from the earliest to the latest with a visit, zeros between."""
    counts = Counter(floor(m / 60) for m in minutes if m is not None)
    if not counts:
        return ()
    return tuple(HourCount(h, counts[h]) for h in range(min(counts), max(counts) + 1))


def _why(scope: Scope, watch: Watch, n: int) -> tuple[str, ...]:
    few = watch.nights_watched < FEW_NIGHTS
    return reasons(
        f"days asked for: {scope.in_words()}",
        f"{THIN}: {watch.in_words()}" if few else watch.in_words(),
        f"he was not seen there; {ABSENCE}" if not n else f"{n} visits",
        "hang a camera within reach, and the answer gets firmer" if few else None,
    )
