"""When is this buck near this bedding area?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import floor
from typing import TYPE_CHECKING, ClassVar

from camsign.answers.reach import Reach, reach_of, watching_of
from camsign.answers.seen import bucks_of, seen_of
from camsign.answers.shape import (
    ABSENCE,
    FEW_NIGHTS,
    THIN,
    Answer,
    Figure,
    Watch,
    figure,
    number,
    reasons,
    utc_of,
)
from camsign.answers.visited import Visited, sure_visits, visited_of
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
    _check_one_each(scope)
    reach = reach_of(session, scope)
    watching = watching_of(session, scope, reach)
    bucks = bucks_of(session, scope)
    visited = visited_of(seen_of(session, scope, reach, bucks), reach, watching, scope)
    watch = watching[0].summary()
    seen = tuple(_visit(visited, i, reach) for i in _range(sure_visits(visited, 0, 0)))
    by_day = sum(v.in_daylight for v in seen)
    return When(
        buck=bucks.names[0],
        buck_id=bucks.ids[0],
        area=reach.spots[0].name,
        area_id=reach.spots[0].id,
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


def _check_one_each(scope: Scope) -> None:
    if len(scope.buck_ids or ()) != 1 or len(scope.area_ids or ()) != 1:
        raise UsageError("this question is about one buck and one area", "name one of each")


def _visit(visited: Visited, i: int, reach: Reach) -> Visit:
    local = visited.local_time(i)
    return Visit(
        utc=utc_of(visited.utc[i].item()),
        local=local,
        until=utc_of(visited.until[i].item()).astimezone(local.tzinfo),
        camera=reach.cameras[visited.at[i]],
        in_daylight=bool(visited.in_daylight[i]),
        minutes_from_sunrise=number(visited.from_sunrise[i]),
        minutes_from_sunset=number(visited.from_sunset[i]),
        distance_m=number(visited.distance_m[i]),
        frames=int(visited.frames[i]),
    )


def _range(where: slice) -> range:
    return range(where.start, where.stop)


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
