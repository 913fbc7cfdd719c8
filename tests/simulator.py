"""Seasons with known truth, for measuring whether intervals hold it. Not the demo's code.

Bucks bed by day in areas or elsewhere, keep to a bed for some days, come in around sunrise and go
out around sunset by routes on which cameras hang, slip by on some days, pass by night, walk through
corridors the same way at dusk and dawn; cameras die; some events carry no name.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import lru_cache

import numpy as np
from answers_world import HOME, TZ, World

from camsign.logbook.session import Session
from camsign.sun import sun_days

FIRST = date(2025, 9, 1)
MINUTE = np.timedelta64(60, "s")
GAP_MIN = 30.0


@dataclass(frozen=True)
class Plan:
    """What a season is like. Rates are per night and buck; shares between 0 and 1."""

    bucks: int = 5
    areas: int = 4
    nights: int = 70
    persistence: float = 0.5
    bedding: float = 0.6  # share of his days a buck spends in the areas at all
    hidden: float = 0.2  # of bedded days on which he passes no camera
    night_passes: float = 0.3
    corridors: int = 0  # how many of the areas nobody beds in, but all walk through
    corridor: float = 0.3  # at each dusk and each dawn
    unidentified: float = 0.15
    known_direction: float = 1.0
    failures: float = 0.3  # share of cameras that die somewhere in the season
    spread_min: float = 45.0


@dataclass
class Camera:
    """Where it hangs from the area's center [m], which way leads in [deg], and when it is alive."""

    name: str
    place: tuple[float, float]
    inward_deg: float
    alive: np.ndarray  # by night


@dataclass
class Passes:
    """Events at one area: day number, minute from that day's sunrise reference, camera, travel."""

    day: np.ndarray
    utc: np.ndarray
    camera: np.ndarray
    travel_deg: np.ndarray
    daylight: np.ndarray


@dataclass
class Played:
    """Named passes of one buck at one area over many `days` with every camera alive, and minutes
    from sunrise and sunset."""

    days: int
    day: np.ndarray
    since_rise: np.ndarray
    since_set: np.ndarray


@dataclass
class Season:
    """A season's database and the truth behind it, by (buck id, area id); `lit`: of visits, the
    share in shooting light."""

    session: Session
    bedded: dict[tuple[str, str], int] = field(default_factory=dict)
    rate: dict[tuple[str, str], float] = field(default_factory=dict)
    daylight: dict[tuple[str, str], float] = field(default_factory=dict)
    lit: dict[tuple[str, str], float] = field(default_factory=dict)
    played: dict[tuple[str, str], Played] = field(default_factory=dict)
    corridors: set[str] = field(default_factory=set)
    bucks: list[str] = field(default_factory=list)
    areas: list[str] = field(default_factory=list)

    def users(self, area: str) -> int:
        """How many bucks bedded there on a watched day."""
        return sum(self.bedded[b, area] > 0 for b in self.bucks)


@dataclass
class _Habits:
    """How one buck uses one area."""

    share: float
    routes: np.ndarray  # chances of the routes in and out; the last has no camera
    come: float  # minutes from sunrise, mean
    go: float  # minutes from sunset, mean


@lru_cache(maxsize=8)
def _sun(nights: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Midnight, sunrise and sunset (UTC) of each local day of the season."""
    sun = sun_days(*HOME, FIRST, FIRST + timedelta(days=nights + 1), TZ)
    return sun.noon - np.timedelta64(12, "h"), sun.sunrise, sun.sunset


def season(plan: Plan, seed: int, truth_days: int = 3000) -> Season:
    """Play one season; `truth_days`: how many days the generating rates are averaged over."""
    rng = np.random.default_rng(seed)
    world, out = World(), Season(session=None)  # type: ignore[arg-type]
    out.bucks = [world.buck(f"Buck {i}", 5.5) for i in range(plan.bucks)]
    cameras: list[list[Camera]] = []
    for a in range(plan.areas):
        center = (1600.0 * (a % 3), 1600.0 * (a // 3))
        out.areas.append(world.area(f"Area {a}", center, 80))
        cameras.append(_cameras(plan, rng, a))
        for camera in cameras[-1]:
            _hang(world, plan, camera, center)
    out.corridors = set(out.areas[: plan.corridors])
    for buck in out.bucks:
        habits = _habits(plan, rng)
        where = _beds(plan, rng, [h.share for h in habits])
        for a, area in enumerate(out.areas):
            corridor = plan.corridor if area in out.corridors else 0.0
            passes = _passes(plan, rng, where == a, habits[a], cameras[a], corridor)
            alive = np.array([c.alive for c in cameras[a]])
            night = np.clip(_night_of(passes, plan), 0, plan.nights - 1)
            passes = _kept(passes, alive[passes.camera, night])
            _record(world, plan, rng, buck, cameras[a], passes)
            _truth(plan, rng, out, buck, area, habits[a], cameras[a], corridor, truth_days)
            watched = alive.any(axis=0)
            days = watched.copy()
            days[0] = False
            out.bedded[buck, area] = int(((where == a)[: plan.nights] & days).sum())
    out.session = world.session()
    return out


def _cameras(plan: Plan, rng: np.random.Generator, area: int) -> list[Camera]:
    """Two cameras, on one trail or on two sides; they die on some night."""
    found = []
    shared = rng.random() < 0.5
    for i in range(2):
        side = 1 if shared or i == 0 else -1
        east = side * (180.0 + 60.0 * (i if shared else 0))
        alive = np.ones(plan.nights, dtype=bool)
        if rng.random() < plan.failures:
            alive[rng.integers(10, plan.nights) :] = False
        found.append(Camera(f"A{area}C{i}", (east, 0.0), 270.0 if side > 0 else 90.0, alive))
    return found


def _hang(world: World, plan: Plan, camera: Camera, center: tuple[float, float]) -> None:
    place = (center[0] + camera.place[0], center[1] + camera.place[1])
    last = FIRST + timedelta(days=plan.nights - 1)
    dead = np.flatnonzero(~camera.alive)
    off = [(FIRST + timedelta(days=int(dead[0])), last)] if len(dead) else []
    world.camera(camera.name, place, FIRST, last, off=off)


def _habits(plan: Plan, rng: np.random.Generator) -> list[_Habits]:
    """Most bucks use one to three of the areas; corridors, which come first, are nobody's bed."""
    shares = rng.dirichlet(np.full(plan.areas, 0.5)) * (rng.random(plan.areas) < 0.7)
    shares[: plan.corridors] = 0
    if shares.sum() > 0:
        shares *= plan.bedding / shares.sum()
    return [
        _Habits(s, rng.dirichlet([2.0, 2.0, 1.0]), rng.normal(0, 30), rng.normal(0, 30))
        for s in shares
    ]


def _beds(plan: Plan, rng: np.random.Generator, shares: list[float]) -> np.ndarray:
    """Which area he beds in on each day (-1: elsewhere); he keeps yesterday's with persistence."""
    days = plan.nights + 1
    p = np.array([*shares, max(1 - sum(shares), 0.0)])
    fresh = rng.choice(len(p), days, p=p / p.sum())
    new = rng.random(days) >= plan.persistence
    new[0] = True
    at = np.maximum.accumulate(np.where(new, np.arange(days), 0))
    where = fresh[at]
    where[where == len(shares)] = -1
    return where


def _passes(
    plan: Plan,
    rng: np.random.Generator,
    beds: np.ndarray,
    habits: _Habits,
    cameras: list[Camera],
    corridor: float,
    day_of: np.ndarray | None = None,
) -> Passes:
    """All passes before cameras of one area, over the days of `beds`, time order not kept."""
    n = len(beds)
    day_of = np.arange(n) if day_of is None else day_of
    _, rise, sets = _sun(plan.nights)
    parts: list[tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]] = []
    open_days = beds & (rng.random(n) >= plan.hidden)
    for ends, mean, inward in ((rise, habits.come, True), (sets, habits.go, False)):
        days = np.flatnonzero(open_days)
        offset = rng.normal(mean, plan.spread_min, len(days))
        route = rng.choice(3, len(days), p=habits.routes)
        for i, camera in enumerate(cameras):
            # On a shared trail both cameras stand on both routes, else each on its own.
            same = cameras[0].inward_deg == cameras[1].inward_deg
            on = (route < 2) if same else (route == i)
            on &= rng.random(len(days)) < 0.85
            later = 3.0 * i * (-1 if inward else 1)
            heading = camera.inward_deg + (0 if inward else 180)
            parts.append((days[on], _at(ends, day_of[days[on]], offset[on] + later), i, heading))
    number = rng.poisson(plan.night_passes / plan.areas, n)
    days = np.repeat(np.arange(n), number)
    dark = rng.random(len(days))
    start, stop = sets[day_of[days]], rise[np.minimum(day_of[days] + 1, len(rise) - 1)]
    times = start + 30 * MINUTE + ((stop - start - 60 * MINUTE) * dark).astype("timedelta64[s]")
    which = rng.integers(0, 2, len(days))
    for i in (0, 1):
        parts.append((days[which == i], times[which == i], i, rng.uniform(0, 360)))
    for ends in (rise, sets) if corridor else ():
        days = np.flatnonzero(rng.random(n) < corridor)
        offset = rng.normal(0, plan.spread_min, len(days))
        for i in np.argsort([c.place[0] for c in cameras]):
            on = rng.random(len(days)) < 0.85
            late = offset[on] + cameras[i].place[0] / 60
            parts.append((days[on], _at(ends, day_of[days[on]], late), i, 90.0))
    return _gathered(parts, day_of, rise, sets)


def _at(ends: np.ndarray, day: np.ndarray, minutes: np.ndarray) -> np.ndarray:
    return ends[day] + (minutes * 60).astype("timedelta64[s]")


def _gathered(
    parts: list[tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]],
    day_of: np.ndarray,
    rise: np.ndarray,
    sets: np.ndarray,
) -> Passes:
    day = np.concatenate([p[0] for p in parts])
    utc = np.concatenate([p[1] for p in parts]).astype("datetime64[s]")
    camera = np.concatenate([np.full(len(p[0]), p[2]) for p in parts])
    travel = np.concatenate([np.full(len(p[0]), float(p[3]) % 360) for p in parts])
    # Shooting light: half an hour before sunrise to half an hour after sunset.
    half = np.timedelta64(30, "m")
    light = (utc >= rise[day_of[day]] - half) & (utc <= sets[day_of[day]] + half)
    return Passes(day, utc, camera, travel, light)


def _kept(p: Passes, keep: np.ndarray) -> Passes:
    return Passes(
        *(getattr(p, f)[keep] for f in ("day", "utc", "camera", "travel_deg", "daylight"))
    )


def _night_of(p: Passes, plan: Plan) -> np.ndarray:
    """The number of the night (noon to noon) of each pass."""
    midnight, _, _ = _sun(plan.nights)
    noon = midnight + np.timedelta64(12, "h")
    return np.searchsorted(noon, p.utc, side="right") - 1


def _record(
    world: World, plan: Plan, rng: np.random.Generator, buck: str, cameras: list[Camera], p: Passes
) -> None:
    """Two frames a pass; some passes lose the name, some the direction."""
    named = rng.random(len(p.day)) >= plan.unidentified
    known = rng.random(len(p.day)) < plan.known_direction
    travel = np.where(known, (p.travel_deg + rng.normal(0, 20, len(p.day))) % 360, np.nan)
    for i, camera in enumerate(cameras):
        for name, which in ((buck, named), (None, ~named)):
            rows = np.flatnonzero((p.camera == i) & which)
            if len(rows):
                utc = np.concatenate([p.utc[rows], p.utc[rows] + np.timedelta64(8, "s")])
                world.seen_many(name, f"d-{camera.name}", utc, np.tile(travel[rows], 2))


def _truth(
    plan: Plan,
    rng: np.random.Generator,
    out: Season,
    buck: str,
    area: str,
    habits: _Habits,
    cameras: list[Camera],
    corridor: float,
    truth_days: int,
) -> None:
    """The generating rate of visits that carry his name, and the chance of one by daylight."""
    if truth_days == 0:
        return
    beds = rng.random(truth_days) < habits.share
    day_of = rng.integers(0, plan.nights - 1, truth_days)
    p = _passes(plan, rng, beds, habits, cameras, corridor, day_of)
    p = _kept(p, rng.random(len(p.day)) >= plan.unidentified)
    alive = np.array([c.alive for c in cameras])
    out.played[buck, area] = _played(p, day_of, plan)
    rate = chance = lit = 0.0
    for key in {tuple(column) for column in alive.T}:
        weight = float((key == alive.T).all(axis=1).sum()) / max(int(alive.any(axis=0).sum()), 1)
        if not any(key):
            continue
        seen = _kept(p, np.array(key)[p.camera])
        visits, of_light = _visits(seen)
        rate += weight * visits / truth_days
        lit += weight * of_light / truth_days
        chance += weight * len(set(seen.day[seen.daylight].tolist())) / truth_days
    out.rate[buck, area], out.daylight[buck, area] = rate, chance
    if rate:
        out.lit[buck, area] = lit / rate


def _played(p: Passes, day_of: np.ndarray, plan: Plan) -> Played:
    _, rise, sets = _sun(plan.nights)
    since = [(p.utc - ends[day_of[p.day]]) / MINUTE for ends in (rise, sets)]
    return Played(len(day_of), p.day, *since)


def _visits(p: Passes) -> tuple[int, int]:
    """How many visits passes make, days kept apart, and how many with a pass in shooting light."""
    if not len(p.day):
        return 0, 0
    clock = (p.utc - p.utc.astype("datetime64[D]")) / MINUTE
    # Nights run over midnight UTC; days of the truth are separate, so shift by noon UTC.
    clock = (clock - 960) % 1440
    order = np.lexsort((clock, p.day))
    day, clock = p.day[order], clock[order]
    new = np.append(True, (np.diff(day) != 0) | (np.diff(clock) > GAP_MIN))
    lit = np.maximum.reduceat(p.daylight[order], np.flatnonzero(new))
    return int(new.sum()), int(lit.sum())


@dataclass
class MakersTrial:
    """What guesses at makers were worth: mean log scores, every probability and its outcome."""

    log_score: float
    nearest_log_score: float
    p: np.ndarray
    happened: np.ndarray


def makers_trial(seeds: range, unidentified: float = 0.15, draws: int = 500) -> MakersTrial:
    """Invent properties with ranging bucks, cameras and rubs, and guess each rub's maker.

    Six bucks, one of them never named, have two centers each; visits to a camera and rubs both
    follow a buck's density. The rival guess: shares of visits at the nearest camera with any.
    """
    from camsign.stats.origin import origin_shares

    scores, nearest, p, happened = [], [], [], []
    for seed in seeds:
        rng = np.random.default_rng(seed)
        named, unnamed, cameras, nights, rubs = _property(rng, unidentified)
        for maker, place in rubs:
            away = np.hypot(*(cameras - place).T)
            near = away <= 2000
            if not near.any():
                continue
            likelihoods = np.ones(len(named) + 1)
            shares = origin_shares(
                named[:, near], unnamed[near], nights[near], away[near], likelihoods, draws=draws
            )
            at = np.argmin(np.where(named.sum(axis=0) > 0, away, np.inf))
            rival = np.append(named[:, at], 0) + 0.5
            scores.append(np.log(shares.value[maker]))
            nearest.append(np.log(rival[maker] / rival.sum()))
            p += shares.value
            happened += [i == maker for i in range(len(shares.value))]
    return MakersTrial(
        float(np.mean(scores)), float(np.mean(nearest)), np.array(p), np.array(happened)
    )


def _property(
    rng: np.random.Generator, unidentified: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, list[tuple[int, np.ndarray]]]:
    """Visits by named buck and camera, those without a name, cameras, nights, rubs with makers."""
    bucks, cameras, side, range_m = 6, 12, 3000.0, 450.0
    centers, mix = rng.uniform(0, side, (bucks, 2, 2)), rng.beta(2, 2, bucks)
    activity = rng.gamma(3, 1 / 3, bucks)
    places, nights = rng.uniform(0, side, (cameras, 2)), rng.integers(20, 90, cameras).astype(float)
    away2 = ((places[None, None] - centers[:, :, None]) ** 2).sum(axis=-1)
    density = np.exp(-away2 / (2 * range_m**2))
    use = activity[:, None] * (mix[:, None] * density[:, 0] + (1 - mix[:, None]) * density[:, 1])
    visits = rng.poisson(0.12 * use * nights)
    named = rng.binomial(visits, 1 - unidentified)
    unnamed = (visits - named)[:-1].sum(axis=0) + visits[-1]
    rubs = []
    for _ in range(8):
        maker = int(rng.choice(bucks, p=activity / activity.sum()))
        center = centers[maker, int(rng.random() > mix[maker])]
        rubs.append((maker, center + rng.normal(0, range_m, 2)))
    return named[:-1].astype(float), unnamed.astype(float), places, nights, rubs
