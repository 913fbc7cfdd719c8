"""Which nights and days each deployment watched, from signs of life.

Instants in arrays are datetime64[us] in UTC, local days the same at midnight; others are aware.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, TypeVar

from camsign.derive.clock_spans import new_deployments
from camsign.derive.script import insert_arrays
from camsign.derive.silence import too_long
from camsign.logbook.database import run_sql
from camsign.logbook.moments import aware
from camsign.logbook.records import Deployment
from camsign.logbook.session import Session
from camsign.zones import zone

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt
    from duckdb import DuckDBPyConnection

    Bools = npt.NDArray[np.bool_]
    Instants = npt.NDArray[np.datetime64]

_Part = TypeVar("_Part", "Lively", "Suns")
Span = tuple[datetime, datetime]
WINDOW = timedelta(hours=2)
AFTER = "after the last sign of life"
OUTAGE = "outage"
SILENT = "silent"
DOUBTED = "doubtful times"
PART = "only part of it"


@dataclass(frozen=True, slots=True)
class Lively:
    """Local days in order on which the camera gave a sign of life: the first and last of each."""

    day: Instants
    first: Instants
    last: Instants


@dataclass(frozen=True, slots=True)
class Suns:
    """Local days in order: sunrise, sunset, and the sunrise after the night that follows."""

    day: Instants
    sunrise: Instants
    sunset: Instants
    next_sunrise: Instants


@dataclass(frozen=True, slots=True)
class Watch:
    """Whether the night that begins on the day `night`, and that day itself, were watched; `why`
    the night was not, else None."""

    night: Instants
    watched: Bools
    day_watched: Bools
    why: npt.NDArray[np.object_]


def fill_watch(session: Session) -> None:
    """Bring `watch` up to date with the cameras that are new."""
    import numpy as np

    con = session.con
    run_sql(con, __file__, "watch.sql")
    lively = _by_deployment(con, "lively", Lively)
    suns = _by_deployment(con, "suns WHERE next_sunrise IS NOT NULL", Suns)
    outages = defaultdict(list)
    said = "SELECT camera, start, stop FROM outages WHERE gone IS NOT TRUE AND start < stop"
    for camera, start, stop in con.execute(f"{said} ORDER BY ALL").fetchall():
        outages[camera].append((aware(start), aware(stop)))
    doubted = defaultdict(list)
    for deployment, start, stop in con.execute("FROM doubted ORDER BY ALL").fetchall():
        doubted[deployment].append((aware(start), aware(stop)))
    for hung in new_deployments(session):
        if hung.deployment not in suns:
            continue
        tz, out = hung.tz or session.settings.tz, outages[hung.camera]
        alive = alive_spans(_with_ends(hung, lively.get(hung.deployment), tz), out, tz)
        unsure = doubted[hung.deployment]
        watch = watch_of(suns[hung.deployment], alive, out, hung.taken_down, unsure)
        cells = {field.name: getattr(watch, field.name) for field in fields(watch)}
        cells["deployment"] = np.full(len(watch.night), hung.deployment, dtype=object)
        insert_arrays(con, "watch", cells)


def _by_deployment(con: DuckDBPyConnection, source: str, kind: type[_Part]) -> dict[str, _Part]:
    """Give the rows of each deployment, by day."""
    import numpy as np

    names = [field.name for field in fields(kind)]
    sql = f"SELECT {', '.join(names)} FROM {source} ORDER BY deployment, day"
    columns = con.execute(sql).fetchnumpy()
    sql = f"SELECT deployment, count(*) FROM {source} GROUP BY deployment ORDER BY deployment"
    counts = con.execute(sql).fetchall()
    at = np.cumsum([n for _, n in counts])[:-1]
    parts = zip(*(np.split(np.asarray(columns[name]), at) for name in names), strict=True)
    return {whose: kind(*part) for (whose, _), part in zip(counts, parts, strict=False)}


def _with_ends(hung: Deployment, found: Lively | None, tz: str) -> Lively:
    """Add to days with frames that of hanging, and of a take-down at which it worked."""
    import numpy as np

    ends = [hung.hung]
    # That it worked is nothing to go by where its card is missing: what it saw is not known.
    if hung.worked_to_end and hung.taken_down is not None and found is not None:
        ends.append(hung.taken_down)
    days = np.array([at.astimezone(zone(tz)).date() for at in ends], "datetime64[us]")
    at = np.array([_instant(end) for end in ends])
    if found is None:
        found = Lively(days[:0], at[:0], at[:0])
    day, nth = np.unique(np.concatenate([found.day, days]), return_inverse=True)
    first = np.full(len(day), np.datetime64("9999-01-01", "us"))
    last = np.full(len(day), np.datetime64("0001-01-01", "us"))
    np.minimum.at(first, nth, np.concatenate([found.first, at]))
    np.maximum.at(last, nth, np.concatenate([found.last, at]))
    return Lively(day, first, last)


def _instant(at: datetime) -> np.datetime64:
    import numpy as np

    return np.datetime64(at.astimezone(UTC).replace(tzinfo=None), "us")


def alive_spans(lively: Lively, outages: Sequence[Span], tz: str) -> list[Span]:
    """Give the spans from hanging to the last sign of life, without silences that are too long.

    `lively`: the days with signs of life, hanging (and a take-down at which it worked) among them.
    Outages are not cut out here; days that they touch are not counted as silent.
    """
    import numpy as np

    day = lively.day.astype("datetime64[D]")
    at = (day - day[0]).astype(int)
    frames = np.zeros(at[-1] + 1, dtype=bool)
    frames[at] = True
    out = _days_out(day[0].item(), len(frames), outages, tz)
    dead_from = [silence.start for silence in too_long(frames, out & ~frames)]
    cuts = np.flatnonzero(np.isin(at + 1, dead_from))
    starts = lively.first[np.r_[0, cuts + 1]]
    stops = lively.last[np.r_[cuts, len(at) - 1]]
    return [(aware(a), aware(b)) for a, b in zip(starts.tolist(), stops.tolist(), strict=True)]


def _days_out(first: date, n: int, outages: Sequence[Span], tz: str) -> npt.NDArray[np.bool_]:
    """Of n local days from `first`: which of them an outage touches."""
    import numpy as np

    out = np.zeros(n, dtype=bool)
    for span in outages:
        a, b = ((at.astimezone(zone(tz)).date() - first).days for at in span)
        out[max(a, 0) : max(b + 1, 0)] = True
    return out


def watch_of(
    suns: Suns,
    alive: Sequence[Span],
    outages: Sequence[Span],
    taken_down: datetime | None,
    doubted: Sequence[Span] = (),
) -> Watch:
    """Give each night whose dark hours overlap the time from hanging to take-down.

    `alive`, as `alive_spans` gives it, begins with hanging; without a take-down it ends there too.
    `doubted`: when only pictures of doubtful time were taken. It was alive, but no answer counts
    them, so that these nights would show nobody.
    """
    import numpy as np

    hung, last = _instant(alive[0][0]), _instant(alive[-1][1])
    end = last if taken_down is None else _instant(taken_down)
    there = (suns.next_sunrise > hung) & (suns.sunset < end)
    day, sunrise, dark, light = (
        part[there] for part in (suns.day, suns.sunrise, suns.sunset, suns.next_sunrise)
    )
    # The first reason that holds counts, so it is set last.
    reasons = {
        DOUBTED: _meets(dark, light, doubted),
        SILENT: ~_inside(dark, light, alive),
        OUTAGE: _meets(dark, light, outages),
        AFTER: light > last,
        PART: (dark < hung) | ((light > end) & (taken_down is not None)),
    }
    why = np.full(len(day), None, dtype=object)
    for reason, holds in reasons.items():
        why[holds] = reason
    by_day = np.ones(len(day), dtype=bool)
    for at in (sunrise, dark):
        window = at - np.timedelta64(WINDOW), at + np.timedelta64(WINDOW)
        by_day &= _inside(*window, alive) & ~_meets(*window, [*outages, *doubted])
    return Watch(day, ~np.any(list(reasons.values()), axis=0), by_day, why)


def _inside(start: Instants, stop: Instants, spans: Sequence[Span]) -> Bools:
    """Say of each span of time whether one of `spans` holds all of it."""
    import numpy as np

    found = np.zeros(start.shape, dtype=bool)
    for a, b in spans:
        found |= (start >= _instant(a)) & (stop <= _instant(b))
    return found


def _meets(start: Instants, stop: Instants, spans: Sequence[Span]) -> Bools:
    """Say of each span of time whether one of `spans` overlaps it."""
    import numpy as np

    found = np.zeros(start.shape, dtype=bool)
    for a, b in spans:
        found |= (stop > _instant(a)) & (start < _instant(b))
    return found
