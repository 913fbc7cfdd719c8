"""One evening (or morning) played many times: he gets up, takes a way, walks; does he come past the
stand in shooting light, and does your scent reach him first?

Everything lies on a local plane in meters, x east and y north; times are minutes from sunset
(evening) or sunrise (morning). What a draw holds: how far the forecast's wind is off (one error for
the whole sit), where in the bed he lies, when he leaves or comes in, how fast he walks and how far
his heading strays from the way's.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from camsign.air.spread import SCENT_REACH_M, Scent
from camsign.ground.drainage import SPREADS, WIDTH_M

if TYPE_CHECKING:
    import numpy.typing as npt

    from camsign.ground.drainage import Stream

    Floats = npt.NDArray[np.float64]
    Bools = npt.NDArray[np.bool_]

STEP_MIN = 10.0
# Walking speed of a deer that travels without hurry [m/s]; common practice, no source.
SLOW_MS, FAST_MS = 0.3, 0.9
# How far his heading strays from a way's mean [deg, standard deviation]; no source.
STRAYS_DEG = 18.0
# He is followed this far from the bed's edge [m].
FOLLOWED_M = 600.0
# Who crosses your track within this distance may wind it; half of them do (no source) [m].
TRACK_M, MINDS_TRACK = 12.0, 0.5


@dataclass(frozen=True, slots=True)
class Bed:
    """Where he lies: middle x, y [m] and how far from it the bed reaches [m]."""

    x: float
    y: float
    radius: float


@dataclass(frozen=True, slots=True)
class Way:
    """A way out of a bed: the point it passes, x, y [m], and its heading [deg].

    `heading_deg` None: nobody knows the way; every heading is as likely. `doubt_deg`: how far the
    mean itself may be off.
    """

    x: float
    y: float
    heading_deg: float | None
    doubt_deg: float = 10.0


@dataclass(frozen=True, slots=True)
class Stand:
    """A stand at x, y [m] from which one shoots so far [m]."""

    x: float
    y: float
    shoots_m: float


@dataclass(frozen=True, slots=True)
class Air:
    """The air at one step: the wind's stream; the chance that it slides along `slope` instead."""

    scent: Scent
    slope_share: float = 0.0
    slope: Stream | None = None


@dataclass(frozen=True, slots=True)
class Sit:
    """When one sits: minutes from sunset or sunrise of arriving, of first and last shooting light.

    `airs`: one a step of STEP_MIN from `arrive` to `last`.
    """

    morning: bool
    arrive: float
    first: float
    last: float
    airs: tuple[Air, ...]


@dataclass(frozen=True, slots=True)
class Walk:
    """The way in: points x, y (n x 2 [m]), the minute at each, the air there and then."""

    points: Floats
    minutes: Floats
    airs: tuple[Air, ...]


@dataclass(frozen=True, slots=True)
class Played:
    """Shares of the evenings on which he took this way.

    `meets`: he comes past within shooting distance, in shooting light, not winded before. `passes`:
    the same whatever the wind. `bed_winded`, `way_winded`, `walk_winded`: your scent reaches the
    bed while you sit; him on his way before he is in front of you; the bed while you walk in.
    `crosses`: he crosses your track first. `minute`: when he comes past (median), None if he never
    does.
    """

    meets: float
    passes: float
    bed_winded: float
    way_winded: float
    walk_winded: float
    crosses: float
    minute: float | None


@dataclass(frozen=True, slots=True)
class Hours:
    """When he goes out, or comes in: mean and spread [min from sunset or sunrise]."""

    mean: float
    spread: float


def play(
    seed: int,
    bed: Bed,
    way: Way,
    hours: Hours,
    stand: Stand,
    sit: Sit,
    walk: Walk | None,
    n: int = 600,
) -> Played:
    """Play n evenings on which he beds in `bed` and takes `way`. The same seed, the same draws."""
    rng = np.random.default_rng(seed)
    wind_off = rng.normal(0, 1, n)
    lies = _lies(rng, bed, n)
    start, ahead = _paths(rng, bed, way, n)
    when = rng.normal(hours.mean, hours.spread, n)
    speed = rng.uniform(SLOW_MS, FAST_MS, n) * 60
    along, off = _closest(start, ahead, stand)
    minute = when - along / speed if sit.morning else when + along / speed
    lit = (minute >= max(sit.first, sit.arrive)) & (minute <= sit.last)
    passes = (off <= stand.shoots_m) & lit
    bed_hit, way_hit = _winded(rng, sit, stand, wind_off, lies, start, ahead, when, speed, minute)
    walk_hit = _winded_walking(rng, walk, wind_off, lies, sit.morning)
    crossed = _crossed(walk, start, ahead, along)
    spooked = bed_hit | way_hit | walk_hit | (crossed & (rng.random(n) < MINDS_TRACK))
    meets = passes & ~spooked
    return Played(
        float(meets.mean()), float(passes.mean()), float(bed_hit.mean()), float(way_hit.mean()),
        float(walk_hit.mean()), float(crossed.mean()),
        float(np.median(minute[passes])) if passes.any() else None,
    )  # fmt: skip


def _lies(rng: np.random.Generator, bed: Bed, n: int) -> Floats:
    """Where in the bed he lies: anywhere in its round, as likely."""
    turn, away = rng.uniform(0, 2 * np.pi, n), bed.radius * np.sqrt(rng.random(n))
    return np.stack([bed.x + away * np.sin(turn), bed.y + away * np.cos(turn)], 1)


def _paths(rng: np.random.Generator, bed: Bed, way: Way, n: int) -> tuple[Floats, Floats]:
    """Where each path leaves the bed's edge, and its direction as unit vectors (n x 2)."""
    if way.heading_deg is None:
        turn = rng.uniform(0, 2 * np.pi, n)
    else:
        spread = np.hypot(STRAYS_DEG, way.doubt_deg)
        turn = np.radians(way.heading_deg + rng.normal(0, spread, n))
    ahead = np.stack([np.sin(turn), np.cos(turn)], 1)
    if way.heading_deg is None:
        return np.array([bed.x, bed.y]) + bed.radius * ahead, ahead
    past = np.array([way.x, way.y])
    gap = float(np.hypot(way.x - bed.x, way.y - bed.y))
    back = max(gap - bed.radius, 0.0)
    return past - back * ahead + rng.normal(0, 6, (n, 2)), ahead


def _closest(start: Floats, ahead: Floats, stand: Stand) -> tuple[Floats, Floats]:
    """How far along [m] each path comes nearest to the stand, and how near [m]."""
    to = np.array([stand.x, stand.y]) - start
    along = np.clip((to * ahead).sum(1), 0, FOLLOWED_M)
    off = np.hypot(*(to - along[:, None] * ahead).T)
    return along, off


def _winded(
    rng: np.random.Generator,
    sit: Sit,
    stand: Stand,
    wind_off: Floats,
    lies: Floats,
    start: Floats,
    ahead: Floats,
    when: Floats,
    speed: Floats,
    minute: Floats,
) -> tuple[Bools, Bools]:
    """Whether scent from the stand reaches him in bed, and on his way before he is in front."""
    n = len(when)
    here = np.array([stand.x, stand.y])
    bed_hit, way_hit = np.zeros(n, bool), np.zeros(n, bool)
    slope_luck = rng.random(n)
    for step, air in enumerate(sit.airs):
        now = sit.arrive + STEP_MIN * step
        gone = (when - now if sit.morning else now - when) * speed
        moving = (gone > 0) & (gone < FOLLOWED_M) & (now <= minute)
        in_bed = (now >= when) if sit.morning else (now < when)
        at = np.where(in_bed[:, None], lies, start + np.clip(gone, 0, FOLLOWED_M)[:, None] * ahead)
        hit = _reached(air, here, at, wind_off, slope_luck)
        # In the morning scent on the bed counts only once he is there, and then he is past.
        bed_hit |= hit & in_bed & (not sit.morning)
        way_hit |= hit & moving
    return bed_hit, way_hit


def _winded_walking(
    rng: np.random.Generator, walk: Walk | None, wind_off: Floats, lies: Floats, morning: bool
) -> Bools:
    """Whether scent reaches the bed while one walks in; before a morning sit nobody lies there."""
    hit = np.zeros(len(wind_off), bool)
    if walk is None or morning:
        return hit
    luck = rng.random(len(wind_off))
    for point, air in zip(walk.points, walk.airs, strict=True):
        hit |= _reached(air, point, lies, wind_off, luck)
    return hit


def _reached(air: Air, here: Floats, at: Floats, wind_off: Floats, luck: Floats) -> Bools:
    """Whether scent let go at one place reaches each of the places (n x 2 [m])."""
    away = at - here
    near: Bools = np.hypot(*away.T) <= SCENT_REACH_M
    by_wind: Bools = near & _in_wind(air.scent, away, wind_off)
    if air.slope is None or len(air.slope.points) < 2:
        return by_wind
    by_slope = near & _in_slope(air.slope, at)
    either: Bools = np.where(luck < air.slope_share, by_slope, by_wind)
    return either


def _in_wind(scent: Scent, away: Floats, wind_off: Floats) -> Bools:
    if scent.toward_deg is None or scent.half_width_deg >= 180:
        return np.ones(len(away), bool)
    bearing = np.degrees(np.arctan2(away[:, 0], away[:, 1]))
    middle = scent.toward_deg + scent.doubt_deg * wind_off
    off = np.abs((bearing - middle + 180) % 360 - 180)
    return np.asarray(off <= scent.half_width_deg, bool)


def _in_slope(stream: Stream, at: Floats) -> Bools:
    legs = np.hypot(*np.diff(stream.points, axis=0).T)
    wide = WIDTH_M + SPREADS * np.concatenate([[0.0], np.cumsum(legs)])
    off = np.hypot(*(at[:, None, :] - stream.points[None]).transpose(2, 0, 1))
    return np.asarray((off <= wide).any(1), bool)


def _crossed(walk: Walk | None, start: Floats, ahead: Floats, along: Floats) -> Bools:
    """Whether he comes over the track one walked in on before he is in front of the stand."""
    crossed = np.zeros(len(along), bool)
    for point in walk.points if walk is not None else ():
        to = point - start
        there = (to * ahead).sum(1)
        off = np.hypot(*(to - there[:, None] * ahead).T)
        crossed |= (off <= TRACK_M) & (there >= 0) & (there < along - TRACK_M)
    return crossed
