"""One evening (or morning) played many times: he gets up, takes a way, walks; does he come past the
stand in shooting light, and does your scent reach him first?

Everything lies on a local plane in meters, x east and y north; times are minutes from sunset
(evening) or sunrise (morning). What a draw holds: how far the forecast's wind is off (one error for
the whole sit), where in the bed he lies, when he leaves or comes in, how fast he walks and how far
his path strays from the way's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from camsign.air.spread import SCENT_REACH_M, Scent
from camsign.arrays import Bools, Floats
from camsign.ground.drainage import in_stream

STEP_MIN = 10.0
# Walking speed of a deer that travels without hurry [m/s]; common practice, no source.
SLOW_MS, FAST_MS = 0.3, 0.9
# How far his heading strays from a way's mean [deg, standard deviation]; no source.
STRAYS_DEG = 18.0
# How far aside of the point that tells of a way he may walk [m, standard deviation]: a camera
# pictures deer up to about so far off; common practice, no source.
ASIDE_M = 25.0
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
    slope: Floats | None = None


@dataclass(frozen=True, slots=True)
class Sit:
    """When one sits: minutes from sunset or sunrise of arriving, of first and last shooting light.

    `slopes`: the slope's stream at each step of STEP_MIN from `arrive` to `last`.
    """

    morning: bool
    arrive: float
    first: float
    last: float
    slopes: tuple[Floats | None, ...]


@dataclass(frozen=True, slots=True)
class Walk:
    """The way in: points x, y (n x 2 [m]), and the slope's stream at each when one is there."""

    points: Floats
    slopes: tuple[Floats | None, ...]


@dataclass(frozen=True, slots=True)
class Reach:
    """k places that scent starts from and n evenings: whether he is near enough, on which bearing
    [deg], whether the slope's air runs to him; `runs` (k): it runs at all; `luck` (n), 0 to 1.
    """

    near: Bools
    bearing: npt.NDArray[np.float32]
    runs: Bools
    by_slope: Bools
    luck: Floats


@dataclass(frozen=True, slots=True)
class Drawn:
    """n evenings before any wind is known; only the scent is left to be worked out.

    `wind_off`: how far the forecast is off, in its own standard deviations. `minds`: he crosses
    your track and winds it.
    """

    wind_off: Floats
    passes: Bools
    minute: Floats
    sitting: Reach
    in_bed: Bools
    moving: Bools
    walking: Reach | None
    crossed: Bools
    minds: Bools


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


def in_reach(bed: Bed, stand: Stand) -> bool:
    """Whether a buck that beds there can come by the stand."""
    return bool(np.hypot(bed.x - stand.x, bed.y - stand.y) <= bed.radius + FOLLOWED_M)


def drawn(
    seed: int,
    bed: Bed,
    way: Way,
    hours: Hours,
    stand: Stand,
    sit: Sit,
    walk: Walk | None,
    n: int = 600,
) -> Drawn:
    """Draw n evenings before any wind is known: where he is at each step, and when he passes."""
    rng = np.random.default_rng(seed)
    wind_off = rng.normal(0, 1, n)
    # He lies anywhere in the round of the bed, as likely.
    turn, away = rng.uniform(0, 2 * np.pi, n), bed.radius * np.sqrt(rng.random(n))
    lies = np.stack([bed.x + away * np.sin(turn), bed.y + away * np.cos(turn)], 1)
    start, ahead = _paths(rng, lies, bed, way)
    when = rng.normal(hours.mean, hours.spread, n)
    speed = rng.uniform(SLOW_MS, FAST_MS, n) * 60
    to = np.array([stand.x, stand.y]) - start
    along = np.clip((to * ahead).sum(1), 0, FOLLOWED_M)
    off = np.hypot(*(to - along[:, None] * ahead).T)
    minute = when - along / speed if sit.morning else when + along / speed
    lit = (minute >= max(sit.first, sit.arrive)) & (minute <= sit.last)
    passes = (off <= stand.shoots_m) & lit
    sitting, in_bed, moving = _from_stand(
        rng.random(n), sit, stand, lies, start, ahead, when, speed, minute
    )
    walking = None
    # Before a morning sit nobody lies in the bed while one walks in.
    if walk is not None and not sit.morning:
        at = np.broadcast_to(lies, (len(walk.points), *lies.shape))
        walking = _reach(rng.random(n), walk.points, at, walk.slopes)
    crossed = _crossed(walk, start, ahead, along)
    minds = crossed & (rng.random(n) < MINDS_TRACK)
    # In the morning scent on the bed counts only once he is there, and then he is past.
    in_bed &= not sit.morning
    return Drawn(wind_off, passes, minute, sitting, in_bed, moving, walking, crossed, minds)


def played(draws: Drawn, airs: Sequence[Air], walk_airs: Sequence[Air] | None) -> Played:
    """Say how drawn evenings go in the airs of each step of a sit and of the walk in to it."""
    hit = _reached(draws.sitting, airs, draws.wind_off)
    bed_hit, way_hit = (hit & draws.in_bed).any(0), (hit & draws.moving).any(0)
    walk_hit = np.zeros(len(draws.wind_off), bool)
    if draws.walking is not None and walk_airs is not None:
        walk_hit |= _reached(draws.walking, walk_airs, draws.wind_off).any(0)
    passes = draws.passes
    meets = passes & ~(bed_hit | way_hit | walk_hit | draws.minds)
    return Played(
        float(meets.mean()), float(passes.mean()), float(bed_hit.mean()), float(way_hit.mean()),
        float(walk_hit.mean()), float(draws.crossed.mean()),
        float(np.median(draws.minute[passes])) if passes.any() else None,
    )  # fmt: skip


def _paths(rng: np.random.Generator, lies: Floats, bed: Bed, way: Way) -> tuple[Floats, Floats]:
    """Where each path begins, and its direction as unit vectors (n x 2).

    A known way begins at the bed's edge and leads past its point; another one where he lies.
    """
    n = len(lies)
    if way.heading_deg is None:
        turn = rng.uniform(0, 2 * np.pi, n)
        return lies, np.stack([np.sin(turn), np.cos(turn)], 1)
    spread = np.hypot(STRAYS_DEG, way.doubt_deg)
    turn = np.radians(way.heading_deg + rng.normal(0, spread, n))
    ahead = np.stack([np.sin(turn), np.cos(turn)], 1)
    back = max(float(np.hypot(way.x - bed.x, way.y - bed.y)) - bed.radius, 0.0)
    return np.array([way.x, way.y]) - back * ahead + rng.normal(0, ASIDE_M, (n, 2)), ahead


def _from_stand(
    luck: Floats,
    sit: Sit,
    stand: Stand,
    lies: Floats,
    start: Floats,
    ahead: Floats,
    when: Floats,
    speed: Floats,
    minute: Floats,
) -> tuple[Reach, Bools, Bools]:
    """Where he is at each step as seen from the stand; in his bed then; on his way then."""
    now = (sit.arrive + STEP_MIN * np.arange(len(sit.slopes)))[:, None]
    gone = (when - now if sit.morning else now - when) * speed
    moving = (gone > 0) & (gone < FOLLOWED_M) & (now <= minute)
    in_bed = (now >= when) if sit.morning else (now < when)
    walked = start + np.clip(gone, 0, FOLLOWED_M)[..., None] * ahead
    at = np.where(in_bed[..., None], lies, walked)
    here = np.broadcast_to(np.array([stand.x, stand.y]), (len(now), 2))
    return _reach(luck, here, at, sit.slopes), in_bed, moving


def _reach(luck: Floats, here: Floats, at: Floats, slopes: Sequence[Floats | None]) -> Reach:
    """k places (k x 2 [m]) that scent starts from, and the n places it may reach from each."""
    away = at - here[:, None, :]
    near: Bools = np.hypot(away[..., 0], away[..., 1]) <= SCENT_REACH_M
    bearing = np.degrees(np.arctan2(away[..., 0], away[..., 1])).astype(np.float32)
    runs = np.array([slope is not None and len(slope) > 1 for slope in slopes])
    by_slope = np.zeros(near.shape, bool)
    for i, slope in enumerate(slopes):
        if slope is not None and runs[i] and near[i].any():
            by_slope[i, near[i]] = in_stream(slope, *at[i, near[i]].T)
    return Reach(near, bearing, runs, by_slope, luck)


def _reached(seen: Reach, airs: Sequence[Air], wind_off: Floats) -> Bools:
    """Whether scent reaches each of the places (k x n), k airs from k places."""
    by_wind = seen.near & _in_wind(seen, [air.scent for air in airs], wind_off)
    shares = np.where(seen.runs, [air.slope_share for air in airs], 0.0)
    if not shares.any():
        return by_wind
    either: Bools = np.where(seen.luck < shares[:, None], seen.by_slope, by_wind)
    return either


def _in_wind(seen: Reach, scents: Sequence[Scent], wind_off: Floats) -> Bools:
    half = np.array([180.0 if s.toward_deg is None else s.half_width_deg for s in scents])
    toward = np.array([s.toward_deg or 0.0 for s in scents], np.float32)[:, None]
    doubt = np.array([s.doubt_deg for s in scents], np.float32)[:, None]
    off = np.abs(seen.bearing - (toward + doubt * wind_off.astype(np.float32)))
    # The same to the last bit as a remainder, which takes three times as long.
    while (over := off >= 360).any():
        off -= np.float32(360) * over
    return np.asarray(np.minimum(off, 360 - off) <= half[:, None], bool)


def _crossed(walk: Walk | None, start: Floats, ahead: Floats, along: Floats) -> Bools:
    """Whether he comes over the track one walked in on before he is in front of the stand."""
    crossed = np.zeros(len(along), bool)
    for point in walk.points if walk is not None else ():
        to = point - start
        there = (to * ahead).sum(1)
        off = np.hypot(*(to - there[:, None] * ahead).T)
        crossed |= (off <= TRACK_M) & (there >= 0) & (there < along - TRACK_M)
    return crossed
