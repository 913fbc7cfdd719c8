"""How often does a buck visit an area or a camera, and by daylight or not?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from camsign.answers.reach import By, Reach, Watching, reach_of, watching_of
from camsign.answers.seen import DOUBTFUL_TIME, SURE, UNIDENTIFIED, Bucks, bucks_of, seen_of
from camsign.answers.shape import (
    ABSENCE,
    FEW_NIGHTS,
    THIN,
    Answer,
    Figure,
    Watch,
    figure,
    left_out_if_none,
    reasons,
)
from camsign.answers.visited import Visited, visited_of
from camsign.stats.rates import poisson_rate
from camsign.stats.shares import wilson
from camsign.stats.spans import median_interval

if TYPE_CHECKING:
    from camsign.answers.scope import Scope
    from camsign.answers.seen import Floats, Times
    from camsign.logbook.session import Session

METHOD = (
    "visits: detections of one buck no farther apart than the gap, merged over the cameras in "
    "reach; rate: exact Poisson interval (Garwood 1936) over nights watched; daylight share: "
    "Wilson 1927; days between visits: median of spans from one visit's start to the next, "
    "interval from order statistics (David and Nagaraja 2003); 95 %"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitRow:
    """One buck at one area or camera. Times are local with offset.

    `visits` counts all, `on_watch` those on nights watched, which alone make the rate.
    `daylight`: the share of visits with a detection between sunrise and sunset. `unidentified`:
    visits there by bucks without a sure name, `doubtful_time`: his at an uncertain time; neither
    is in `visits`.
    """

    buck: str
    buck_id: str
    area: str | None = left_out_if_none()
    area_id: str | None = left_out_if_none()
    camera: str | None = left_out_if_none()
    visits: int
    nights_seen: int
    nights_watched: int
    on_watch: int
    per_100_nights: Figure
    daylight: Figure
    days_between_median: Figure
    first_seen: datetime | None
    last_seen: datetime | None
    unidentified: int
    doubtful_time: int
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Visits(Answer):
    """One row a buck and spot, most visits first; `watch` by the spot's name."""

    rows: tuple[VisitRow, ...]
    watch: dict[str, Watch]
    method: str
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Bag:
    """One buck at one spot: where his visits stand in `visited`, and what is counted apart."""

    spot: int
    buck: int
    where: slice
    unidentified: int
    doubtful: int


def visits(session: Session, scope: Scope, by: By = "area") -> Visits:
    """Say how often each buck of the scope visited each area, or camera (`by`).

    A buck who was asked for by name has a row at every spot with a camera, without visits too;
    others only where they were seen.
    """
    reach = reach_of(session, scope, by)
    watching = watching_of(session, scope, reach)
    bucks = bucks_of(session, scope)
    visited = visited_of(seen_of(session, scope, reach, bucks), reach, watching, scope)
    bags = _bags(visited, scope, watching, len(bucks.ids))
    bags.sort(key=lambda bag: bag.where.start - bag.where.stop)
    rows = tuple(_row(bag, by, reach, watching[bag.spot], bucks, visited) for bag in bags)
    watch = {s.name: one.summary() for s, one in zip(reach.spots, watching, strict=True)}
    return Visits(rows, watch, METHOD, _why(scope, bool(rows), watch))


def _bags(visited: Visited, scope: Scope, watching: Sequence[Watching], bucks: int) -> list[_Bag]:
    found = {(s, b, apart): where for s, b, apart, where in visited.groups()}
    counts = {key: where.stop - where.start for key, where in found.items()}
    wanted = [(s, b) for s, b, apart in found if apart == SURE]
    if scope.buck_ids is not None:
        spots = [i for i, one in enumerate(watching) if one.cameras]
        wanted += [(s, b) for s in spots for b in range(bucks) if (s, b, SURE) not in found]
    return [
        _Bag(
            s,
            b,
            found.get((s, b, SURE), slice(0, 0)),
            counts.get((s, -1, UNIDENTIFIED), 0) + counts.get((s, b, UNIDENTIFIED), 0),
            counts.get((s, b, DOUBTFUL_TIME), 0),
        )
        for s, b in wanted
    ]


def _row(
    bag: _Bag, by: By, reach: Reach, watching: Watching, bucks: Bucks, visited: Visited
) -> VisitRow:
    where, spot = bag.where, reach.spots[bag.spot]
    n, watch = where.stop - where.start, watching.summary()
    on_watch = int(visited.on_watch[where].sum())
    rate = poisson_rate(on_watch, watch.nights_watched, per=100)
    spans = _spans_days(visited.utc[where])
    return VisitRow(
        buck=bucks.names[bag.buck],
        buck_id=bucks.ids[bag.buck],
        area=spot.name if by == "area" else None,
        area_id=spot.id if by == "area" else None,
        camera=spot.name if by == "camera" else None,
        visits=n,
        nights_seen=len(set(visited.night[where].tolist())),
        nights_watched=watch.nights_watched,
        on_watch=on_watch,
        per_100_nights=figure(rate, method="Poisson"),
        daylight=figure(wilson(int(visited.in_daylight[where].sum()), n), n=n),
        days_between_median=figure(median_interval(spans), n=len(spans)),
        first_seen=visited.local_time(where.start) if n else None,
        last_seen=visited.local_time(where.stop - 1) if n else None,
        unidentified=bag.unidentified,
        doubtful_time=bag.doubtful,
        why=_row_why(bag, n, n - on_watch, rate.high, watch),
    )


def _spans_days(utc: Times) -> Floats:
    """Give the spans from each visit's start to the next [days]."""
    import numpy as np

    return np.diff(utc) / np.timedelta64(86_400, "s")


def _row_why(bag: _Bag, n: int, off: int, high: float | None, watch: Watch) -> tuple[str, ...]:
    upper = "" if high is None else f", so any rate up to {high:.1f} per 100 nights fits"
    apart = "counted apart"
    return reasons(
        f"{THIN}: {watch.in_words()}" if watch.nights_watched < FEW_NIGHTS else watch.in_words(),
        None if n else f"no visit seen{upper}; {ABSENCE}",
        f"{off} on nights not watched through, left out of the rate" if off else None,
        f"{bag.unidentified} by bucks without a sure name, {apart}" if bag.unidentified else None,
        f"{bag.doubtful} at a doubtful time, {apart}" if bag.doubtful else None,
    )


def _why(scope: Scope, any_row: bool, watch: dict[str, Watch]) -> tuple[str, ...]:
    thin = [name for name, one in watch.items() if one.nights_watched < FEW_NIGHTS]
    named = ", ".join(thin[:5]) + (f" and {len(thin) - 5} more" if len(thin) > 5 else "")
    return reasons(
        f"days asked for: {scope.in_words()}",
        f"{THIN} at {named}: fewer than {FEW_NIGHTS} nights" if thin else None,
        None if any_row else f"no identified buck was seen there; {ABSENCE}",
        "hang a camera there, or more of them, and the intervals narrow" if thin else None,
    )
