"""The visits of a question: detections of one buck at one spot with no gap longer than the scope's.

For an area they are merged over all cameras in reach, so that two cameras on one trail do not count
him twice.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

import numpy as np

from camsign.answers.detections import DAY, GRAY, SURE, UNIDENTIFIED, Detections
from camsign.answers.reach import AreaOrCamera, Reach, Watching
from camsign.answers.result import local_of
from camsign.answers.scope import Scope
from camsign.arrays import Bools, Floats, Ints, Times


@dataclass(frozen=True, slots=True, eq=False)
class MergedVisits:
    """Visits, one element each, sorted by spot, buck, what sets them apart, and time.

    All but `until` and `light` (the best that any detection had: DARK, GRAY or DAY) are those of
    the first detection. `distance_m`: from its camera to the area's edge, NaN without areas.
    `on_watch`: its night was watched from this spot. `weak`: the times of all its detections are.
    Other fields as in Detections.
    """

    spot: Ints
    at: Ints
    buck: Ints
    apart: Ints
    utc: Times
    until: Times
    local: Times
    day: Times
    night: Times
    light: Ints
    from_sunrise: Floats
    from_sunset: Floats
    distance_m: Floats
    frames: Ints
    on_watch: Bools
    weak: Bools

    @property
    def in_daylight(self) -> Bools:
        """Whether any detection lay between sunrise and sunset."""
        found: Bools = self.light == DAY
        return found

    @property
    def shooting(self) -> Bools:
        """Whether any detection lay in shooting light: by day or in gray light."""
        found: Bools = self.light >= GRAY
        return found

    def groups(self) -> Iterator[tuple[int, int, int, slice]]:
        """Give (spot, buck, apart, where) of each run of visits that belong together."""
        if not len(self.spot):
            return
        keys = np.stack([self.spot, self.buck, self.apart])
        edges = [0, *np.flatnonzero((keys[:, 1:] != keys[:, :-1]).any(axis=0)) + 1, len(self.spot)]
        for a, b in pairwise(edges):
            yield int(self.spot[a]), int(self.buck[a]), int(self.apart[a]), slice(int(a), int(b))

    def local_time(self, i: int) -> datetime:
        """Give the start of a visit as local time with its offset."""
        return local_of(self.utc[i].item(), self.local[i].item())


def merged_visits(
    seen: Detections, reach: Reach, watching: Sequence[Watching], scope: Scope
) -> MergedVisits:
    """Merge detections to visits; `watching` is the watch of each spot of `reach`.

    A visit behind midnight of the scope's first day stands for the half of the last night that
    falls behind the last day: it is on watch if the first night is.
    """
    spot, row, distance = _at_spots(seen, reach)
    order = np.lexsort((seen.at[row], seen.utc[row], seen.apart[row], seen.buck[row], spot))
    spot, row, distance = spot[order], row[order], distance[order]
    keys = np.stack([spot, seen.buck[row], seen.apart[row]])
    new = np.ones(len(row), dtype=bool)
    gaps = np.diff(seen.utc[row]) / np.timedelta64(1, "s")
    new[1:] = (keys[:, 1:] != keys[:, :-1]).any(axis=0) | (gaps > scope.gap_s)
    first = np.flatnonzero(new)
    last = np.append(first[1:], len(row)) - 1
    head = row[first]
    light = seen.light[row]
    night = seen.night[head]
    return MergedVisits(
        spot=spot[first],
        at=seen.at[head],
        buck=seen.buck[head],
        apart=seen.apart[head],
        utc=seen.utc[head],
        until=seen.utc[row[last]] if len(row) else seen.utc[head],
        local=seen.local[head],
        day=seen.day[head],
        night=night,
        light=np.maximum.reduceat(light, first) if len(row) else light,
        from_sunrise=seen.from_sunrise[head],
        from_sunset=seen.from_sunset[head],
        distance_m=distance[first],
        frames=last - first + 1,
        weak=np.logical_and.reduceat(seen.weak[row], first) if len(row) else seen.weak[row],
        on_watch=_on_watch(spot[first], np.maximum(night, np.datetime64(scope.first)), watching),
    )


def by_camera(reach: Reach) -> Reach:
    """Give the same cameras, each a spot of its own."""
    spots = tuple(AreaOrCamera(d, c) for d, c in zip(reach.deployments, reach.cameras, strict=True))
    return Reach(
        spots, reach.deployments, reach.cameras, tuple((at, at, m) for _, at, m in reach.pairs)
    )


def unnamed_alone(visited: MergedVisits, gap_s: float) -> Bools:
    """Mark the visits without a sure name that no named one at the same spot lies beside.

    What lies within the gap of a named visit is a part of that visit, not another one.
    """
    gap = np.timedelta64(round(gap_s), "s")
    found: Bools = visited.apart == UNIDENTIFIED
    named = np.flatnonzero(visited.apart == SURE)
    for spot in np.unique(visited.spot[found]):
        his = named[visited.spot[named] == spot]
        if not len(his):
            continue
        his = his[np.argsort(visited.utc[his], kind="stable")]
        latest = np.maximum.accumulate(visited.until[his])
        rows = np.flatnonzero(found & (visited.spot == spot))
        before = np.searchsorted(visited.utc[his], visited.until[rows] + gap, side="right")
        beside = latest[np.maximum(before - 1, 0)] >= visited.utc[rows] - gap
        found[rows[(before > 0) & beside]] = False
    return found


def _at_spots(seen: Detections, reach: Reach) -> tuple[Ints, Ints, Floats]:
    """Repeat detections for every spot that their deployment speaks for: spot, row, distance."""
    order = np.argsort(seen.at, kind="stable")
    edges = np.searchsorted(seen.at[order], np.arange(len(reach.deployments) + 1))
    parts = [order[edges[at] : edges[at + 1]] for _, at, _ in reach.pairs]
    sizes = [len(part) for part in parts]
    spots = np.repeat(np.array([spot for spot, _, _ in reach.pairs], dtype=int), sizes)
    away = [np.nan if meters is None else meters for _, _, meters in reach.pairs]
    rows = np.concatenate(parts) if parts else np.array([], dtype=int)
    return spots, rows, np.repeat(np.array(away, dtype=float), sizes)


def _on_watch(spot: Ints, night: Times, watching: Sequence[Watching]) -> Bools:
    found = np.zeros(len(spot), dtype=bool)
    edges = np.searchsorted(spot, np.arange(len(watching) + 1))
    for one, (a, b) in zip(watching, pairwise(edges), strict=True):
        found[a:b] = np.isin(night[a:b], one.nights)
    return found


def sure_visits(visited: MergedVisits, spot: int, buck: int) -> slice:
    """Give where the visits of one identified buck at one spot stand; empty if there are none."""
    for s, b, apart, where in visited.groups():
        if (s, b, apart) == (spot, buck, SURE):
            return where
    return slice(0, 0)
