"""Which nights and days each deployment watched, from signs of life.

All instants are aware, in UTC.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from camsign.derive.current_deployments import new_deployments
from camsign.derive.script import run
from camsign.derive.silence import too_long
from camsign.logbook.database import insert_rows
from camsign.logbook.moments import aware
from camsign.logbook.records import Deployment
from camsign.logbook.session import Session
from camsign.zones import zone

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt
    from duckdb import DuckDBPyConnection

Span = tuple[datetime, datetime]
WINDOW = timedelta(hours=2)
AFTER = "after the last sign of life"
OUTAGE = "outage"
SILENT = "silent"
PART = "only part of it"


@dataclass(frozen=True, slots=True)
class Lively:
    """A local day on which the camera gave a sign of life: the first and the last of them."""

    day: date
    first: datetime
    last: datetime


@dataclass(frozen=True, slots=True)
class SunDay:
    """Sunrise and sunset of a local day, and the sunrise after the night that follows it."""

    day: date
    sunrise: datetime
    sunset: datetime
    next_sunrise: datetime


@dataclass(frozen=True, slots=True)
class NightWatch:
    """Whether the night that begins on `night`, and the local day `night`, were watched."""

    night: date
    watched: bool
    day_watched: bool
    why: str | None


def fill_watch(session: Session) -> None:
    """Bring `watch` up to date with the cameras that are new."""
    con = session.con
    run(con, "watch")
    lively = _by_key(con, "SELECT * FROM lively ORDER BY deployment, day")
    suns = _by_key(
        con, "SELECT * FROM suns WHERE next_sunrise IS NOT NULL ORDER BY deployment, day"
    )
    outages = _by_key(
        con, "SELECT camera, start, stop FROM outages WHERE gone IS NOT TRUE AND start < stop"
        " ORDER BY ALL",
    )  # fmt: skip
    rows: list[tuple[Any, ...]] = []
    for hung in new_deployments(session):
        nights = _watch_of_one(
            hung,
            {row[0]: Lively(row[0], *map(aware, row[1:])) for row in lively[hung.deployment]},
            [SunDay(row[0], *map(aware, row[1:])) for row in suns[hung.deployment]],
            [(aware(start), aware(stop)) for start, stop in outages[hung.camera]],
            hung.tz or session.settings.tz,
        )
        rows += [(hung.deployment, n.night, n.watched, n.day_watched, n.why) for n in nights]
    insert_rows(con, "watch", rows)


def _by_key(con: DuckDBPyConnection, sql: str) -> Mapping[str, list[tuple[Any, ...]]]:
    """Give the rows of a query by their first cell, without it."""
    rows = defaultdict(list)
    for key, *rest in con.execute(sql).fetchall():
        rows[key].append(tuple(rest))
    return rows


def _watch_of_one(
    deployment: Deployment,
    signs: dict[date, Lively],
    suns: Sequence[SunDay],
    outages: Sequence[Span],
    tz: str,
) -> list[NightWatch]:
    """Give the watch of one deployment, a row a night, from its days with frames (`signs`), the sun
    from before hanging to behind the end, and what people say of when its camera did not work."""
    ends = [deployment.hung]
    if deployment.worked_to_end and deployment.taken_down is not None:
        ends.append(deployment.taken_down)
    for at in ends:
        day = at.astimezone(zone(tz)).date()
        there = signs.get(day, Lively(day, at, at))
        signs[day] = Lively(day, min(there.first, at), max(there.last, at))
    alive = alive_spans([signs[day] for day in sorted(signs)], outages, tz)
    return watch_of(suns, alive, outages, deployment.taken_down)


def alive_spans(lively: Sequence[Lively], outages: Sequence[Span], tz: str) -> list[Span]:
    """Give the spans from hanging to the last sign of life, without silences that are too long.

    `lively`: the days with signs of life in order, hanging (and a take-down at which it worked)
    among them. Outages are not cut out here; days that they touch are not counted as silent.
    """
    import numpy as np

    start = lively[0].day
    at = np.array([(x.day - start).days for x in lively])
    frames = np.zeros(int(at[-1]) + 1, dtype=bool)
    frames[at] = True
    out = _days_out(start, len(frames), outages, tz)
    dead_from = {silence.start for silence in too_long(frames, out & ~frames)}
    spans, begun = [], lively[0].first
    for this, following in pairwise(lively):
        if (this.day - start).days + 1 in dead_from:
            spans.append((begun, this.last))
            begun = following.first
    return [*spans, (begun, lively[-1].last)]


def _days_out(first: date, n: int, outages: Sequence[Span], tz: str) -> npt.NDArray[np.bool_]:
    """Of n local days from `first`: which of them an outage touches."""
    import numpy as np

    out = np.zeros(n, dtype=bool)
    for span in outages:
        a, b = ((at.astimezone(zone(tz)).date() - first).days for at in span)
        out[max(a, 0) : max(b + 1, 0)] = True
    return out


def watch_of(
    suns: Sequence[SunDay],
    alive: Sequence[Span],
    outages: Sequence[Span],
    taken_down: datetime | None,
) -> list[NightWatch]:
    """Give a row for each night whose dark hours overlap the time from hanging to take-down.

    `alive`, as `alive_spans` gives it, begins with hanging; without a take-down it ends there too.
    """
    hung, last = alive[0][0], alive[-1][1]
    end = taken_down or last
    rows = []
    for sun in suns:
        if sun.next_sunrise <= hung or sun.sunset >= end:
            continue
        dark = (sun.sunset, sun.next_sunrise)
        why = _why_not(dark, alive, outages, taken_down)
        light = [(at - WINDOW, at + WINDOW) for at in (sun.sunrise, sun.sunset)]
        by_day = all(_inside(w, alive) and not _meets(w, outages) for w in light)
        rows.append(NightWatch(sun.day, why is None, by_day, why))
    return rows


def _why_not(
    dark: Span, alive: Sequence[Span], outages: Sequence[Span], taken_down: datetime | None
) -> str | None:
    if dark[0] < alive[0][0] or (taken_down is not None and dark[1] > taken_down):
        return PART
    if dark[1] > alive[-1][1]:
        return AFTER
    if _meets(dark, outages):
        return OUTAGE
    return None if _inside(dark, alive) else SILENT


def _inside(span: Span, spans: Sequence[Span]) -> bool:
    return any(a <= span[0] and span[1] <= b for a, b in spans)


def _meets(span: Span, spans: Sequence[Span]) -> bool:
    return any(a < span[1] and b > span[0] for a, b in spans)
