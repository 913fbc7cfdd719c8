"""What the logbook holds of a season, as the model of beds needs it: plain arrays.

The two ends of a day are two hours on either side of sunrise and sunset; their lit halves begin
half an hour before sunrise and end half an hour after sunset. Between them lies full daylight,
outside them night.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from camsign.answers.beds_ground import Ground, ground_of, liked
from camsign.answers.bucks import Bucks, bucks_of
from camsign.answers.detections import SURE, UNIDENTIFIED, Detections, detections_of
from camsign.answers.reach import AreaOrCamera, Reach
from camsign.answers.scope import Scope
from camsign.arrays import Bools, Floats, Ints
from camsign.geo import angle_difference_deg
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session
from camsign.stats.beds_evidence import (
    ACROSS,
    DARK,
    EVENING,
    IN,
    LIT,
    MORNING,
    OUT,
    UNTOLD,
    Evidence,
    Looks,
    Nameless,
)

WINDOW_MIN, LIT_DARK_MIN = 120.0, 30.0
# Within this of the bearing to the area's center he goes in, beyond its supplement out [deg].
TOWARD_DEG = 60.0
# Nearer the center than this a bearing to it means nothing [m].
AT_CENTER_M = 15.0
APART_M = 800.0
SPAN_MIN = 90.0
# A set of cameras with fewer days than this is taken together with others of as many cameras.
FEW_DAYS = 8


@dataclass(frozen=True, slots=True, eq=False)
class Ends:
    """All pictures at an end of a day in reach of an area: the row of `seen`, end and way."""

    row: Ints
    area: Ints
    end: Ints
    way: Ints


@dataclass(frozen=True, slots=True, eq=False)
class BedsInput:
    """A season's evidence, and what its numbers stand for.

    `first`: the day numbered 0. `look_rows`: of every look of the evidence, the row of `seen`.
    `ends`: all pictures at them, not only those that decide. `reached` (deployments, areas): within
    reach. `watched` (days, deployments): both ends, and sorted.
    """

    evidence: Evidence
    first: date
    bucks: Bucks
    areas: tuple[AreaOrCamera, ...]
    reach: Reach
    seen: Detections
    look_rows: Ints
    ends: Ends
    reached: Bools
    watched: Bools


def read_season(
    session: Session, scope: Scope, first: date, last: date, apart_m: float = APART_M,
    about: Collection[str] | None = None,
) -> BedsInput | None:  # fmt: skip
    """Read the evidence of all bucks and areas from `first` to `last`; None without any watch.

    `scope` gives the reach. `about`: areas by id; no areas beyond a buck's range of them.
    """
    everyone = replace(scope, buck_ids=None, area_ids=None, first=first, last=last, season=None)
    ground = ground_of(session, scope.reach_m, about)
    watched, start = _watched(session, ground.reach, everyone)
    if not len(watched) or not ground.ids:
        return None
    begin: date = start.astype(object)
    end = begin + timedelta(days=len(watched) - 1)
    everyone = replace(everyone, first=begin, last=end)
    seen, bucks = _those_seen(session, everyone, ground)
    reached = ground.distance <= scope.reach_m
    sets, cameras = _sets(watched, reached)
    shape = (len(bucks.ids), len(watched), len(ground.ids))
    looks, rows, nameless, ends = _ends(seen, ground, reached, sets, start)
    too_far = ground.distance > apart_m
    stirred, far, night = _by_day(seen, reached, too_far, start, shape)
    within = _by_day(seen, ground.distance <= 0, too_far, start, shape)[0]
    spans = (24 - 12 - 2 * 2 * WINDOW_MIN / 60) * 60 / SPAN_MIN
    evidence = Evidence(
        bucks=shape[0], days=shape[1], areas=shape[2], looks=looks, nameless=nameless, watch=sets,
        cameras=cameras,
        stirred=stirred,
        within=within, far=far, night_hits=night, night_spans=spans * (sets >= 0).sum(axis=0),
        likes=liked(session, everyone, ground),
    )  # fmt: skip
    spots = ground.reach.spots
    return BedsInput(
        evidence, everyone.first, bucks, spots, ground.reach, seen, rows, ends, reached, watched
    )


def _watched(session: Session, reach: Reach, scope: Scope) -> tuple[Bools, np.datetime64]:
    """Give the days (rows, in a row) on which each deployment watched, and the first of them."""
    names = list(reach.deployments)
    rows: dict[str, Any] = run_sql(
        session.con, __file__, "day_watched.sql", deployments=names, **scope.sql()
    ).fetchnumpy()
    day = rows["day"].astype("datetime64[D]")
    if not len(day):
        return np.zeros((0, len(names)), dtype=bool), np.datetime64("2000-01-01", "D")
    first = day.min()
    found = np.zeros(((day.max() - first).astype(int) + 1, len(names)), dtype=bool)
    found[(day - first).astype(np.int64), rows["at"]] = True
    return found, first


def _those_seen(session: Session, scope: Scope, ground: Ground) -> tuple[Detections, Bucks]:
    """Give the detections in time order, and the bucks among them, numbered anew.

    Of who was never seen near the areas asked about, none; of the others, wherever they were.
    """
    everyone = bucks_of(session, scope)
    if ground.near is not None:
        near = [ground.reach.deployments[i] for i in np.flatnonzero(ground.near)]
        rows = run_sql(
            session.con, __file__, "present_near.sql", deployments=near, **scope.sql()
        ).fetchall()
        seen_near = {everyone.number.get(tag) for (tag,) in rows}
        number = {tag: n for tag, n in everyone.number.items() if n in seen_near}
        everyone = replace(everyone, number=number)
    seen = detections_of(session, scope, ground.reach, everyone, ground.near)
    # Those of one moment too in an order that the database does not choose.
    seen = seen.take(np.lexsort((seen.travel_deg, seen.apart, seen.buck, seen.at, seen.utc)))
    # By their first picture, since draws go by their order: a new name or id changes none.
    sure = seen.buck[(seen.apart == SURE) & (seen.buck >= 0)]
    there, first = np.unique(sure, return_index=True)
    there = there[np.argsort(first)]
    new = np.full(len(everyone.ids) + 1, -1)
    new[there] = np.arange(len(there))
    return replace(seen, buck=new[seen.buck]), everyone.only(there.tolist())


def _sets(watched: Bools, reached: Bools) -> tuple[Ints, Ints]:
    """Number the sets of cameras that watched each area: (days, areas), -1 without; sizes."""
    found = np.full((len(watched), reached.shape[1]), -1)
    sizes: list[int] = []
    for a in range(reached.shape[1]):
        mine = watched[:, reached[:, a]]
        if not mine.any():
            continue
        _, which, many = np.unique(mine, axis=0, return_inverse=True, return_counts=True)
        which = which.ravel()
        key = np.where(many[which] >= FEW_DAYS, which, -1 - mine.sum(axis=1))
        alive = mine.any(axis=1)
        kinds, number = np.unique(key[alive], return_inverse=True)
        found[alive, a] = len(sizes) + number.ravel()
        many_in = mine.sum(axis=1)[alive]
        sizes += [int(many_in[number.ravel() == kind][0]) for kind in range(len(kinds))]
    return found, np.array(sizes, dtype=int)


def _half_ends(seen: Detections) -> tuple[Ints, Ints]:
    """Give the end of the day of each detection (-1: neither) and its half."""
    rise, sets = seen.from_sunrise, seen.from_sunset
    with np.errstate(invalid="ignore"):
        morning, evening = np.abs(rise) <= WINDOW_MIN, np.abs(sets) <= WINDOW_MIN
        dark = np.where(morning, rise < -LIT_DARK_MIN, sets > LIT_DARK_MIN)
    end = np.where(morning, MORNING, np.where(evening, EVENING, -1))
    return end, np.where(dark, DARK, LIT)


def _ways(seen: Detections, ground: Ground, area: Ints, rows: Ints) -> Ints:
    """Give the way of detections against the bearing to the center of an area each."""
    at = seen.at[rows]
    travel = seen.travel_deg[rows]
    with np.errstate(invalid="ignore"):
        off = np.abs(angle_difference_deg(travel, ground.bearing[at, area]))
        way = np.where(off <= TOWARD_DEG, IN, np.where(off >= 180 - TOWARD_DEG, OUT, ACROSS))
    return np.where(np.isnan(travel) | (ground.center_m[at, area] < AT_CENTER_M), UNTOLD, way)


def _ends(
    seen: Detections, ground: Ground, reached: Bools, sets: Ints, start: np.datetime64
) -> tuple[Looks, Ints, Nameless, Ends]:
    """Give the deciding looks of those with a name, their rows, those without, and all."""
    end, half = _half_ends(seen)
    day = (seen.day - start).astype(int)
    rows, area = np.nonzero(reached[seen.at] & (end >= 0)[:, None])
    ok = sets[np.clip(day[rows], 0, len(sets) - 1), area] >= 0
    ok &= (day[rows] >= 0) & (day[rows] < len(sets))
    rows, area = rows[ok], area[ok]
    way, inside = _ways(seen, ground, area, rows), ground.distance[seen.at[rows], area] <= 0
    named = (seen.apart[rows] == SURE) & (seen.buck[rows] >= 0)
    told = np.where(way == UNTOLD, 0, np.where(way == ACROSS, 1, 2))
    # Of a morning the last decides, of an evening the first; rows are in time order.
    turn = np.where(end[rows] == MORNING, rows, -rows)
    i = np.flatnonzero(named)
    r = rows[i]
    order = np.lexsort((turn[i], told[i], end[r], area[i], day[r], seen.buck[r]))
    i, r = i[order], r[order]
    keys = np.stack([seen.buck[r], day[r], area[i], end[r]])
    last = np.append((keys[:, 1:] != keys[:, :-1]).any(axis=0), True)[: len(r)]
    i, r = i[last], r[last]
    looks = Looks(seen.buck[r], day[r], area[i], end[r], half[r], way[i], inside[i])
    nobody = seen.apart[rows] == UNIDENTIFIED
    unnamed = (rows[nobody], area[nobody], way[nobody], inside[nobody])
    ends = Ends(rows, area, end[rows], way)
    return looks, r, _nameless(seen, day, end, half, *unnamed), ends


def _nameless(
    seen: Detections,
    day: Ints,
    end: Ints,
    half: Ints,
    rows: Ints,
    area: Ints,
    way: Ints,
    inside: Bools,
) -> Nameless:
    """Take together what one pass left, and give each pass its one or two areas."""
    if not len(rows):
        none = np.zeros(0, dtype=int)
        pairs = np.zeros((0, 2), dtype=int)
        return Nameless(none, none, none, pairs, pairs, pairs.astype(bool))
    _, first, where = np.unique(rows, return_index=True, return_inverse=True)
    second = np.full(len(first), -1)
    place = np.arange(len(rows)) - first[where]
    second[where[place == 1]] = np.flatnonzero(place == 1)
    row = rows[first]
    minutes = seen.utc[row].astype("datetime64[m]").astype(int)
    order = np.lexsort((minutes, end[row], area[first]))
    f = first[order]
    same = area[f][1:] == area[f][:-1]
    same &= (end[row[order]][1:] == end[row[order]][:-1]) & (np.diff(minutes[order]) <= 15)
    keep = order[np.append(True, ~same)]
    f, s, row = first[keep], second[keep], row[keep]

    def two(x: Ints, none: int) -> Ints:
        return np.stack([x[f], np.where(s >= 0, x[np.maximum(s, 0)], none)], axis=1)

    return Nameless(
        day[row],
        end[row],
        half[row],
        two(area, -1),
        two(way, UNTOLD),
        two(inside.astype(int), 0) > 0,
    )


def _by_day(
    seen: Detections,
    reached: Bools,
    too_far: Bools,
    start: np.datetime64,
    shape: tuple[int, int, int],
) -> tuple[Bools, Bools, Floats]:
    """Give who stirred where and was far off by full daylight, and his stretches of the night."""
    day = (seen.day - start).astype(int)
    mine = (seen.apart == SURE) & (seen.buck >= 0) & (day >= 0) & (day < shape[1])
    rise, sets = seen.from_sunrise, seen.from_sunset
    with np.errstate(invalid="ignore"):
        full = np.flatnonzero(mine & (rise > WINDOW_MIN) & (sets < -WINDOW_MIN))
        dark = np.flatnonzero(mine & ((rise < -WINDOW_MIN) | (sets > WINDOW_MIN)))
    # One of each deployment, buck and day (or stretch of the night) says all there is to say.
    span = (seen.utc[dark].astype("datetime64[m]").astype(int) // int(SPAN_MIN)).astype(int)
    span -= span.min(initial=0)
    full_at, full_buck, full_day = _distinct(seen.at[full], seen.buck[full], day[full])
    dark_at, dark_buck, spans = _distinct(seen.at[dark], seen.buck[dark], span)
    stirred, far = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
    rows, area = np.nonzero(reached[full_at])
    stirred[full_buck[rows], full_day[rows], area] = True
    rows, area = np.nonzero(too_far[full_at])
    far[full_buck[rows], full_day[rows], area] = True
    rows, area = np.nonzero(reached[dark_at])
    bucks, areas, _ = _distinct(dark_buck[rows], area, spans[rows])
    night = np.zeros((shape[0], shape[2]))
    np.add.at(night, (bucks, areas), 1.0)
    return stirred, far & ~stirred, night


def _distinct(a: Ints, b: Ints, c: Ints) -> tuple[Ints, Ints, Ints]:
    """Give each triple of numbers from 0 on once, in order."""
    most_b, most_c = (int(x.max(initial=0)) + 1 for x in (b, c))
    keys = np.unique((a * most_b + b) * most_c + c)
    return keys // (most_b * most_c), keys // most_c % most_b, keys % most_c
