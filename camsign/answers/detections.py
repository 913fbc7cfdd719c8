"""The detections of bucks that a question looks at, and the visits that they merge to.

They come out of the database as plain numbers, so that a million of them cost little. A visit:
detections of one buck at one spot with no gap longer than the scope's. For an area they are merged
over all cameras in reach, so that two cameras on one trail do not count him twice.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date, datetime
from functools import cached_property
from typing import Any

import numpy as np

from camsign.answers.bucks import Bucks, bucks_of, ended_days, tagged_in_words
from camsign.answers.reach import (
    By,
    Reach,
    Watching,
    reach_of,
    watch_by_name,
    watching_of,
)
from camsign.answers.result import Watch, local_of
from camsign.answers.scope import DOES, Scope
from camsign.arrays import Bools, Floats, Ints, Times
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session

SURE, UNIDENTIFIED, DOUBTFUL_TIME = 0, 1, 2
DARK, GRAY, DAY = 0, 1, 2
LIGHTS = ("dark", "gray", "day")
"""Bands of light: the sun is up on DAY; GRAY is within light_before and light_after of that."""


@dataclass(frozen=True, slots=True, eq=False)
class Detections:
    """Detections, one element each.

    `at` numbers the deployment in its Reach, `buck` the buck in its Bucks (-1: no one named).
    `utc`, `local`: datetime64[us]; `day`, `night`: datetime64[D], local. `from_sunrise`,
    `from_sunset` [min], NaN without. `light`: DARK, GRAY or DAY. `travel_deg` [deg], NaN if
    unknown. `apart`: SURE, UNIDENTIFIED or DOUBTFUL_TIME. `weak`: its time is not the camera's own
    word.
    """

    at: Ints
    buck: Ints
    utc: Times
    local: Times
    day: Times
    night: Times
    light: Ints
    from_sunrise: Floats
    from_sunset: Floats
    travel_deg: Floats
    apart: Ints
    weak: Bools

    def take(self, rows: Ints) -> Detections:
        """Give these rows, in this order."""
        return Detections(*(getattr(self, f.name)[rows] for f in fields(Detections)))


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class MergedVisits(Detections):
    """Visits, one element each, sorted by spot, buck, what sets them apart, and time.

    All but `until` and `light` (the best that any detection had: DARK, GRAY or DAY) are those of
    the first detection. `distance_m`: from its camera to the area's edge, NaN without areas.
    `on_watch`: its night was watched from this spot. `weak`: the times of all its detections are.
    `began_light`: the light of the first. Other fields as in Detections.
    """

    spot: Ints
    until: Times
    distance_m: Floats
    frames: Ints
    on_watch: Bools
    began_light: Ints

    @property
    def shooting(self) -> Bools:
        """Whether any detection lay in shooting light: by day or in gray light."""
        found: Bools = self.light >= GRAY
        return found

    def runs(self) -> dict[tuple[int, int, int], slice]:
        """Give where the visits of each spot, buck and what sets them apart stand."""
        if not len(self.spot):
            return {}
        keys = np.stack([self.spot, self.buck, self.apart])
        new = np.flatnonzero((keys[:, 1:] != keys[:, :-1]).any(axis=0)) + 1
        edges = [0, *new.tolist(), len(self.spot)]
        heads = keys[:, edges[:-1]].T.tolist()
        return dict(zip(map(tuple, heads), map(slice, edges, edges[1:]), strict=False))

    def local_time(self, i: int) -> datetime:
        """Give the start of a visit as local time with its offset."""
        return local_of(self.utc[i].item(), self.local[i].item())


def detections_of(
    session: Session, scope: Scope, reach: Reach, bucks: Bucks, nameless: Bools | None = None
) -> Detections:
    """Give the detections of these bucks, and of bucks no one named, within reach and days.

    Pictures of a buck from after he ended are not his. `nameless`: at which deployments bucks no
    one named are wanted, None for all.
    """
    given = scope.sql() | {"deployments": list(reach.deployments)}
    rows: Any
    if scope.who == "does":
        rows = run_sql(session.con, __file__, "detections_does.sql", **given).fetchnumpy()
        number = np.array([bucks.number.get(key, -1) for key in DOES])[rows["buck"]]
        rows = {name: x[number >= 0] for name, x in rows.items()} | {"buck": number[number >= 0]}
    else:
        rows = run_sql(
            session.con,
            __file__,
            "detections.sql",
            tagged=list(bucks.number),
            codes=list(bucks.number.values()),
            nameless=[True] * len(reach.deployments) if nameless is None else nameless.tolist(),
            **given,
        ).fetchnumpy()
        for buck, day in ended_days(session, bucks).items():
            others = rows["buck"] != buck
            keep = others | (rows["day"].astype("datetime64[D]") <= np.datetime64(day))
            rows = {name: x[keep] for name, x in rows.items()}
    loose = ("minutes_from_sunrise", "minutes_from_sunset", "travel_deg")
    rise, sets, travel = (np.ma.filled(rows[name].astype(float), np.nan) for name in loose)
    return Detections(
        rows["at"],
        rows["buck"],
        rows["utc"],
        rows["local"],
        rows["day"].astype("datetime64[D]"),
        rows["night"].astype("datetime64[D]"),
        rows["light"],
        rise,
        sets,
        travel,
        rows["apart"],
        rows["weak"],
    )


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


@dataclass(frozen=True, eq=False)
class Asked:
    """What a question rests on, read once: spots, their watch, bucks, and their pictures."""

    session: Session
    scope: Scope
    by: By
    reach: Reach
    watching: tuple[Watching, ...]
    bucks: Bucks
    seen: Detections

    @cached_property
    def visited(self) -> MergedVisits:
        """The visits that the pictures merge to.

        A visit behind midnight of the scope's first day stands for the half of the last night that
        falls behind the last day: it is on watch if the first night is.
        """
        seen = self.seen
        spot, row, distance = _at_spots(seen, self.reach)
        order = np.lexsort((seen.at[row], seen.utc[row], seen.apart[row], seen.buck[row], spot))
        spot, row, distance = spot[order], row[order], distance[order]
        keys = np.stack([spot, seen.buck[row], seen.apart[row]])
        new = np.ones(len(row), dtype=bool)
        gaps = np.diff(seen.utc[row]) / np.timedelta64(1, "s")
        new[1:] = (keys[:, 1:] != keys[:, :-1]).any(axis=0) | (gaps > self.scope.gap_s)
        first = np.flatnonzero(new)
        last = np.append(first, len(row))[1:] - 1
        head = {f.name: getattr(seen, f.name)[row[first]] for f in fields(Detections)}
        light, weak = seen.light[row], seen.weak[row]
        if len(row):
            light = np.maximum.reduceat(light, first)
            weak = np.logical_and.reduceat(weak, first)
        night = np.maximum(head["night"], np.datetime64(self.scope.first))
        watched = [np.isin(night[spot[first] == i], w.nights) for i, w in enumerate(self.watching)]
        return MergedVisits(
            **head | {"light": light, "weak": weak},
            spot=spot[first],
            until=seen.utc[row[last]],
            distance_m=distance[first],
            frames=last - first + 1,
            on_watch=np.concatenate([*watched, np.zeros(0, dtype=bool)]),
            began_light=head["light"],
        )

    @cached_property
    def ended(self) -> dict[int, date]:
        """The local day on which each buck who ended did, by his number."""
        return ended_days(self.session, self.bucks)

    def watch_alive(self, spot: int, buck: int) -> Watching:
        """Give the watch of a spot up to the day on which a buck ended, all of it if he has not."""
        return self.watching[spot].until(self.ended.get(buck))

    def watch(self) -> dict[str, Watch]:
        """Give the watch of each spot by its name."""
        return watch_by_name(self.reach, self.watching)

    def tagged(self) -> str | None:
        """Say what is tagged of the bucks, at the spots if areas were asked for by name."""
        if self.scope.who == "does":
            return None
        hung = None if self.scope.area_ids is None else self.reach.deployments
        days = self.scope.first, self.scope.last
        return tagged_in_words(self.session, self.bucks, *days, hung)


def asked(session: Session, scope: Scope, by: By = "area") -> Asked:
    """Read what a question rests on."""
    reach = reach_of(session, scope, by)
    watching = watching_of(session, scope, reach)
    bucks = bucks_of(session, scope)
    seen = detections_of(session, scope, reach, bucks)
    return Asked(session, scope, by, reach, watching, bucks, seen)
