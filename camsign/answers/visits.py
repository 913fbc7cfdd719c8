"""How often does a buck visit an area or a camera, and by daylight or not?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from camsign.answers.reach import By, reach_of, sql_text, watch_of
from camsign.answers.shape import (
    ABSENCE,
    FEW_NIGHTS,
    THIN,
    Answer,
    Figure,
    Watch,
    figure,
    left_out_if_none,
    local_of,
    reasons,
)
from camsign.answers.visited import make_visited
from camsign.stats.rates import poisson_rate
from camsign.stats.shares import wilson
from camsign.stats.spans import median_interval

if TYPE_CHECKING:
    from camsign.answers.scope import Scope
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
class _Counts:
    """A row of visits.sql."""

    spot: str
    buck_id: str | None
    name: str | None
    apart: str | None
    visits: int
    on_watch: int
    nights_seen: int
    by_daylight: int
    starts: list[float]
    first: dict[str, datetime] | tuple[datetime, datetime] | None
    last: dict[str, datetime] | tuple[datetime, datetime] | None


def visits(session: Session, scope: Scope, by: By = "area") -> Visits:
    """Say how often each buck of the scope visited each area, or camera (`by`).

    A buck who was asked for by name has a row at every spot that was watched, without visits too;
    others only where they were seen.
    """
    reach = reach_of(session, scope, by)
    watch = watch_of(session, scope, reach)
    make_visited(session, scope, reach)
    counts = [_Counts(*row) for row in session.con.execute(sql_text("visits.sql")).fetchall()]
    apart = {(c.spot, c.buck_id, c.apart): c.visits for c in counts if c.apart}
    rows = [
        _row(c, by, reach.names[c.spot], watch[c.spot], apart)
        for c in [*(c for c in counts if not c.apart), *_unseen(session, scope, watch, counts)]
    ]
    named = {reach.names[spot]: one for spot, one in watch.items()}
    return Visits(tuple(rows), named, METHOD, _why(scope, rows, named))


def _unseen(
    session: Session, scope: Scope, watch: dict[str, Watch], counts: list[_Counts]
) -> Iterator[_Counts]:
    if scope.buck_ids is None:
        return
    seen = {(c.spot, c.buck_id) for c in counts if not c.apart}
    names = dict(session.con.execute("SELECT buck, name FROM bucks_now").fetchall())
    for spot, one in watch.items():
        for buck in scope.buck_ids if one.cameras else ():
            if (spot, buck) not in seen:
                yield _Counts(spot, buck, names.get(buck), None, 0, 0, 0, 0, [], None, None)


def _row(c: _Counts, by: By, name: str, watch: Watch, apart: dict[Any, int]) -> VisitRow:
    rate = poisson_rate(c.on_watch, watch.nights_watched, per=100)
    spans = [(b - a) / 86400 for a, b in pairwise(c.starts)]
    unidentified = apart.get((c.spot, None, "unidentified"), 0)
    unidentified += apart.get((c.spot, c.buck_id, "unidentified"), 0)
    doubtful = apart.get((c.spot, c.buck_id, "doubtful time"), 0)
    return VisitRow(
        buck=c.name or str(c.buck_id),
        buck_id=str(c.buck_id),
        area=name if by == "area" else None,
        area_id=c.spot if by == "area" else None,
        camera=name if by == "camera" else None,
        visits=c.visits,
        nights_seen=c.nights_seen,
        nights_watched=watch.nights_watched,
        on_watch=c.on_watch,
        per_100_nights=figure(rate, method="Poisson"),
        daylight=figure(wilson(c.by_daylight, c.visits), n=c.visits),
        days_between_median=figure(median_interval(spans), n=len(spans)),
        first_seen=_local(c.first),
        last_seen=_local(c.last),
        unidentified=unidentified,
        doubtful_time=doubtful,
        why=_row_why(c, rate.high, watch, unidentified, doubtful),
    )


def _row_why(
    c: _Counts, high: float | None, watch: Watch, unidentified: int, doubtful: int
) -> tuple[str, ...]:
    off = c.visits - c.on_watch
    upper = "" if high is None else f", so any rate up to {high:.1f} per 100 nights fits"
    return reasons(
        f"{THIN}: {watch.in_words()}" if watch.nights_watched < FEW_NIGHTS else watch.in_words(),
        f"no visit seen{upper}; {ABSENCE}" if not c.visits else None,
        f"{off} on nights that no camera in reach watched through, left out of the rate"
        if off
        else None,
        f"{unidentified} by bucks without a sure name, counted apart" if unidentified else None,
        f"{doubtful} at a doubtful time, counted apart" if doubtful else None,
    )


def _why(scope: Scope, rows: list[VisitRow], watch: dict[str, Watch]) -> tuple[str, ...]:
    thin = [name for name, one in watch.items() if one.nights_watched < FEW_NIGHTS]
    return reasons(
        f"days asked for: {scope.in_words()}",
        f"{THIN} at {', '.join(thin)}: fewer than {FEW_NIGHTS} nights" if thin else None,
        None if rows else f"no identified buck was seen there; {ABSENCE}",
        "hang a camera there, or more of them, and the intervals narrow" if thin else None,
    )


def _local(pair: Any) -> datetime | None:
    if pair is None:
        return None
    utc, local = pair.values() if isinstance(pair, dict) else pair
    return local_of(utc, local)
