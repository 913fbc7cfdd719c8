"""Seasons of big woods with known truth: where each buck bedded on each day. Not the demo's code.

Harder than a model may assume: beds on shared trails, corridors walked the same way at dusk and
dawn, places only passed by night, days on which a buck slips by every camera, cameras of unlike
quality, inside the outline or on the trails around it, that die; bucks that move for good after
being pushed; pictures without a name, more of them by night; travel said in a part of the frames,
by arrows and sometimes wrong.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import lru_cache
from math import cos, radians, sin
from statistics import NormalDist

import numpy as np
from answers_world import HOME, TZ, World

from camsign.logbook.session import Session
from camsign.sun import sun_days

FIRST = date(2025, 9, 1)
MINUTE = np.timedelta64(60, "s")
RADIUS_M = 80.0
ELSEWHERE = -1
UNDRAWN = "undrawn"
GRAY_MIN = 30.0


@dataclass(frozen=True)
class Wild:
    """What a season is like; shares between 0 and 1, passes per night and buck."""

    bucks: int = 6
    beds: int = 4
    walked: int = 1  # places only passed by night
    corridors: int = 1
    nights: int = 70
    keeps: float = 0.6  # chance to keep yesterday's bed without choosing anew
    bedding: float = 0.7  # of a buck's choices, those that fall on a bed at all
    hidden: float = 0.2  # of days in bed on which he passes no camera
    night_passes: float = 0.4
    corridor: float = 0.3  # at each dusk and dawn
    unidentified: float = 0.15
    travel: float = 1.0  # of frames with a direction
    reversed: float = 0.04  # of directions, told the wrong way round
    deaths: float = 0.3  # of cameras
    pushed: float = 0.2  # of bucks that leave their bed for good on some day
    inside: float = 0.5  # of cameras that hang inside the outline
    shared: bool = True  # the first two beds lie on one trail
    undrawn: bool = False  # the second is on no map, and every way to it leads past the first
    spread_min: float = 45.0
    strangers: int = 0  # more bucks, whom nobody ever named
    young: int = 0  # of the bucks, the last so many, a year and a half old
    trail_rubs: float = 0.0  # a buck, along what he walks by night and through corridors
    measured: float = 0.0  # of rubs with height and trunk
    ahead: int = 0  # days behind the season, of which only the truth is played


@dataclass
class Camera:
    """Where it hangs [m from home], on which routes (area, route), how well it sees, when alive."""

    name: str
    place: tuple[float, float]
    routes: list[tuple[int, int]]
    sees: float
    alive: np.ndarray
    inside: bool = False


@dataclass
class Season:
    """A season's logbook and the truth behind it."""

    session: Session
    plan: Wild
    bucks: list[str] = field(default_factory=list)
    areas: list[str] = field(default_factory=list)
    centers: list[tuple[float, float]] = field(default_factory=list)
    where: dict[str, np.ndarray] = field(default_factory=dict)  # by night: number of the area
    watched: dict[str, np.ndarray] = field(default_factory=dict)  # by night
    rubs: dict[str, str] = field(default_factory=dict)  # rub: its maker, "" if nobody named him
    where_rubbed: dict[str, str] = field(default_factory=dict)  # rub: "bed" or "trail"
    evenings: dict[str, float] = field(default_factory=dict)  # area: see `_evenings`
    expected: dict[str, float] = field(default_factory=dict)  # area: the same, before they bed
    came: dict[str, int] = field(default_factory=dict)  # area: the same, as it turned out
    by_camera: dict[str, float] = field(default_factory=dict)  # camera: the same, past it alone
    walks: dict[str, list[tuple[str, float, float]]] = field(default_factory=dict)  # see below

    def bedded(self, buck: str, area: str) -> int:
        """Days in bed there, of those the area was watched."""
        here = self.where[buck] == self.areas.index(area)
        return int((here & self.watched[area]).sum())

    def expected_within(self, area: str, anchor: str, first: float, last: float) -> float:
        """How many mature bucks walk there within these minutes of sunrise or sunset, in the days
        behind the season; `walks` holds for each buck how many in all and the mean minute."""
        found = 0.0
        for end, many, mean in self.walks.get(area, []):
            if end == anchor:
                hours = NormalDist(mean, self.plan.spread_min)
                found += many * (hours.cdf(last) - hours.cdf(first))
        return found

    @property
    def drawn(self) -> list[str]:
        """The areas on the map."""
        return [area for area in self.areas if area != UNDRAWN]

    @property
    def nobodys(self) -> list[str]:
        """The areas that are nobody's bed."""
        return self.areas[self.plan.beds :]


@lru_cache(maxsize=8)
def _sun(nights: int) -> tuple[np.ndarray, np.ndarray]:
    sun = sun_days(*HOME, FIRST, FIRST + timedelta(days=nights + 1), TZ)
    return sun.sunrise, sun.sunset


def wild_season(plan: Wild, seed: int) -> Season:
    """Play one season."""
    rng = np.random.default_rng(seed)
    world, out = World(), Season(None, plan)  # type: ignore[arg-type]
    old = plan.bucks - plan.young
    out.bucks = [world.buck(f"Buck {i}", 5.5 if i < old else 1.5) for i in range(plan.bucks)]
    _areas(world, plan, out)
    cameras = _cameras(plan, rng, out)
    for camera in cameras:
        _hang(world, plan, camera)
    for a, area in enumerate(out.areas):
        near = [c.alive for c in cameras if any(at == a for at, _ in c.routes)]
        watched = np.logical_or.reduce(near)
        watched[0] = False
        out.watched[area] = watched
    more, hours = np.random.default_rng([seed, 1]), np.random.default_rng([seed, 2])
    for buck in [*out.bucks, *(f"stranger {i}" for i in range(plan.strangers))]:
        where, then, likes = _beds(plan, rng, more)
        out.where[buck] = where
        passes = _Passes(plan, rng, where, cameras)
        passes.days_in_bed()
        passes.by_night()
        passes.through_corridors(out)
        passes.elsewhere()
        passes.record(world, buck if buck in out.bucks else None)
        _evenings(out, passes, then, hours, likes)
        _Rubs(world, out, buck, rng, more).all(passes)
    out.session = world.session()
    return out


def _areas(world: World, plan: Wild, out: Season) -> None:
    for a in range(plan.beds + plan.walked + plan.corridors):
        center = (1500.0 * (a % 3), 1500.0 * (a // 3))
        if plan.shared and a == 1:
            center = (520.0, 0.0)
        drawn = a != 1 or not plan.undrawn
        out.areas.append(world.area(f"Area {a}", center, RADIUS_M) if drawn else UNDRAWN)
        out.centers.append(center)


ROUTES = 4


def _cameras(plan: Wild, rng: np.random.Generator, out: Season) -> list[Camera]:
    """One to three at each area on different routes, one on a shared trail, two far from all."""
    found: list[Camera] = []
    for a, (east, north) in enumerate(out.centers):
        order = rng.permutation(ROUTES)
        for i in range(int(rng.choice([1, 2, 3], p=[0.3, 0.5, 0.2]))):
            # Two cameras on one trail now and then.
            route = int(order[0] if i == 1 and rng.random() < 0.4 else order[i])
            inside = bool(rng.random() < plan.inside)
            away = rng.uniform(25, 70) if inside else rng.uniform(110, 240)
            turn = radians(90.0 * route + 45.0)
            place = (east + away * sin(turn), north + away * cos(turn))
            found.append(
                Camera(f"A{a}C{i}", place, [(a, route)], rng.beta(6, 2), _alive(plan, rng), inside)
            )
    if plan.shared:
        past = range(ROUTES) if plan.undrawn else (2,)
        routes = [(0, 0), *((1, route) for route in past)]
        found.append(Camera("TRAIL", (260.0, 0.0), routes, 0.8, _alive(plan, rng)))
    for i in range(2):
        found.append(Camera(f"FAR{i}", (-2500.0, 900.0 * i), [], 0.8, _alive(plan, rng)))
    return found


def _alive(plan: Wild, rng: np.random.Generator) -> np.ndarray:
    alive = np.ones(plan.nights, dtype=bool)
    if rng.random() < plan.deaths:
        alive[rng.integers(10, plan.nights) :] = False
    return alive


def _hang(world: World, plan: Wild, camera: Camera) -> None:
    last = FIRST + timedelta(days=plan.nights - 1)
    dead = np.flatnonzero(~camera.alive)
    off = [(FIRST + timedelta(days=int(dead[0])), last)] if len(dead) else []
    world.camera(camera.name, camera.place, FIRST, last, off=off)


def _beds(
    plan: Wild, rng: np.random.Generator, more: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """In which area he beds on each day, and on those behind the season; his likings then.

    Who is pushed chooses otherwise from then on.
    """
    where = np.full(plan.nights + plan.ahead, ELSEWHERE)
    pushed = int(rng.integers(15, plan.nights - 15)) if rng.random() < plan.pushed else plan.nights
    p = np.zeros(0)
    for first, last in ((0, pushed), (pushed, plan.nights)):
        likes = rng.dirichlet(np.full(plan.beds, 0.4)) * plan.bedding
        if first and where[first - 1] >= 0:
            likes[where[first - 1]] = 0.0
        if first < last:
            p = np.append(likes, max(1 - likes.sum(), 0.05))
        _course(plan, rng, where, range(first, last), p, fresh=True)
    _course(plan, more, where, range(plan.nights, len(where)), p, fresh=False)
    return where[: plan.nights], where[plan.nights :], p / p.sum()


def _course(
    plan: Wild, rng: np.random.Generator, where: np.ndarray, days: range, p: np.ndarray, fresh: bool
) -> None:
    """Fill in these days: he keeps yesterday's bed or chooses by `p`, the last elsewhere."""
    for day in days:
        if (fresh and day == days.start) or rng.random() >= plan.keeps:
            chosen = int(rng.choice(len(p), p=p / p.sum()))
            where[day] = ELSEWHERE if chosen == plan.beds else chosen
        else:
            where[day] = where[day - 1]


def _evenings(
    out: Season, passes: _Passes, then: np.ndarray, hours: np.random.Generator, likes: np.ndarray
) -> None:
    """Add how often he is expected to leave an area in shooting light on the evenings to come: in
    the beds he will choose, and by his likings and the last day alone."""
    keeps = out.plan.keeps ** np.arange(1, len(then) + 1)
    late = NormalDist(passes.go, out.plan.spread_min).cdf(GRAY_MIN)
    by_corridor = NormalDist(0.0, out.plan.spread_min).cdf(GRAY_MIN)
    for a, area in enumerate(out.areas):
        from_bed = float((then == a).sum()) * late
        walks = passes.often.get(a, 0.0) * by_corridor
        through = walks * len(then)
        ends = (("sunrise", passes.come), ("sunset", passes.go))
        out.walks.setdefault(area, []).extend(
            walk
            for end, mean in ends
            for walk in (
                (end, float((then == a).sum()), mean),
                (end, walks / by_corridor * len(then), 0.0),
            )
        )
        turned = hours.binomial([(then == a).sum(), len(then)], [late, walks]).sum()
        out.came[area] = out.came.get(area, 0) + int(turned)
        out.evenings[area] = out.evenings.get(area, 0.0) + from_bed + through
        chance = keeps * (passes.where[-1] == a)
        if a < out.plan.beds:
            chance = chance + (1 - keeps) * likes[a]
        known = float(chance.sum()) * late + through
        out.expected[area] = out.expected.get(area, 0.0) + known
        for camera in passes.cameras:
            routes = [route for at, route in camera.routes if at == a]
            past = from_bed * sum(passes.likes[a][route] for route in routes)
            past += through if routes else 0.0
            out.by_camera[camera.name] = out.by_camera.get(camera.name, 0.0) + past


class _Passes:
    """What cameras took of one buck: (night, utc, camera, travel [deg])."""

    def __init__(
        self, plan: Wild, rng: np.random.Generator, where: np.ndarray, cameras: list[Camera]
    ) -> None:
        self.plan, self.rng, self.where, self.cameras = plan, rng, where, cameras
        self.rise, self.sets = _sun(plan.nights)
        self.likes = rng.dirichlet(np.full(ROUTES, 1.5), plan.beds + plan.walked + plan.corridors)
        self.come, self.go = rng.normal(0, 25), rng.normal(0, 25)
        self.taken: list[tuple[int, np.datetime64, int, float]] = []
        self.nightly = np.zeros(len(cameras))
        self.often: dict[int, float] = {}  # corridor: walks at each dusk and dawn

    def days_in_bed(self) -> None:
        """Come in by one route, go out by another, unless he slips by; stir inside by day."""
        for day in np.flatnonzero(self.where >= 0):
            if self.rng.random() < self.plan.hidden:
                continue
            area = int(self.where[day])
            for ends, mean, inward in ((self.rise, self.come, True), (self.sets, self.go, False)):
                route = int(self.rng.choice(ROUTES, p=self.likes[area]))
                offset = self.rng.normal(mean, self.plan.spread_min)
                for i, camera in enumerate(self.cameras):
                    if (area, route) in camera.routes and self.rng.random() < camera.sees:
                        heading = _outward(camera, area, route) + (180 if inward else 0)
                        self._take(day, ends[day], offset + self.rng.uniform(-4, 4), i, heading)
            for i, camera in enumerate(self.cameras):
                mine = any(at == area for at, _ in camera.routes)
                if mine and camera.inside and self.rng.random() < 0.08:
                    span = (self.sets[day] - self.rise[day]) / MINUTE
                    at = self.rng.uniform(130, span - 130)
                    self._take(day, self.rise[day], at, i, self.rng.uniform(0, 360))

    def by_night(self) -> None:
        """Pass somewhere in the dark, each camera with a liking of his own."""
        mine = self.rng.gamma(0.6, 1.0, len(self.cameras))
        mine *= self.plan.night_passes / max(mine.sum(), 1e-9)
        self.nightly = mine
        for i in range(len(self.cameras)):
            way = self.rng.uniform(0, 360)
            for day in np.flatnonzero(self.rng.random(self.plan.nights) < mine[i]):
                dark = (self.rise[day + 1] - self.sets[day]) / MINUTE
                back = 180 if self.rng.random() < 0.5 else 0
                self._take(day, self.sets[day], self.rng.uniform(30, dark - 30), i, way + back)

    def through_corridors(self, out: Season) -> None:
        """Walk through the same way at dusk and dawn, a camera after the other as they lie."""
        for a in range(self.plan.beds + self.plan.walked, len(out.areas)):
            often = self.often[a] = self.plan.corridor * self.rng.beta(2, 2) * 2
            way = self.rng.uniform(0, 360)
            for ends in (self.rise, self.sets):
                for day in np.flatnonzero(self.rng.random(self.plan.nights) < often):
                    offset = self.rng.normal(0, self.plan.spread_min)
                    for i, camera in enumerate(self.cameras):
                        here = any(at == a for at, _ in camera.routes)
                        if here and self.rng.random() < camera.sees:
                            east = camera.place[0] - out.centers[a][0]
                            north = camera.place[1] - out.centers[a][1]
                            along = east * sin(radians(way)) + north * cos(radians(way))
                            self._take(day, ends[day], offset + along / 40, i, way)

    def elsewhere(self) -> None:
        """By day before the far cameras, when he beds in none of the areas."""
        far = [i for i, c in enumerate(self.cameras) if not c.routes]
        for day in np.flatnonzero(self.where == ELSEWHERE):
            for i in far:
                if self.rng.random() < 0.06:
                    self._take(day, self.rise[day], self.rng.uniform(-30, 500), i, 0.0)

    def _take(self, day: int, end: np.datetime64, minutes: float, camera: int, way: float) -> None:
        utc = end + np.timedelta64(int(minutes * 60), "s")
        if self.cameras[camera].alive[day]:
            self.taken.append((int(day), utc, camera, way % 360))

    def record(self, world: World, buck: str | None) -> None:
        """Two frames a pass; some lose the name, more by night, some the direction."""
        rows: dict[tuple[str | None, int], list[tuple[np.datetime64, float]]] = {}
        for day, utc, camera, way in sorted(self.taken, key=lambda row: row[1]):
            light = self.rise[day] <= utc <= self.sets[day]
            nameless = self.rng.random() < self.plan.unidentified * (0.7 if light else 1.3)
            told = (
                way
                + self.rng.normal(0, 20)
                + (180 if self.rng.random() < self.plan.reversed else 0)
            )
            told = round(told / 45) * 45 % 360 if self.rng.random() < self.plan.travel else np.nan
            rows.setdefault((None if nameless else buck, camera), []).append((utc, told))
        for (who, camera), taken in rows.items():
            utc = np.array([t for t, _ in taken], dtype="datetime64[s]")
            told = np.array([x for _, x in taken])
            both = np.concatenate([utc, utc + np.timedelta64(8, "s")])
            world.seen_many(who, f"d-{self.cameras[camera].name}", both, np.tile(told, 2))


def _outward(camera: Camera, area: int, route: int) -> float:
    if len(camera.routes) > 1:
        return 90.0 if area == 0 else 270.0
    return 90.0 * route + 45.0


class _Rubs:
    """What one buck rubs: found in spring, made some time in the season."""

    def __init__(
        self, world: World, out: Season, buck: str, rng: np.random.Generator,
        more: np.random.Generator,
    ) -> None:  # fmt: skip
        self.world, self.out, self.buck, self.rng, self.more = world, out, buck, rng, more

    def all(self, passes: _Passes) -> None:
        """Rub around his beds, by the days in each, and along what he walks."""
        for a, center in enumerate(self.out.centers[: self.out.plan.beds]):
            days = int((self.out.where[self.buck] == a).sum())
            for _ in range(self.rng.poisson(0.08 * days)):
                turn = self.rng.uniform(0, 360)
                away = self.rng.uniform(20, 200)
                place = _off(center, away, turn)
                self._rub("bed", place, (turn + self.rng.normal(0, 40)) % 360)
        self._along(passes)

    def _along(self, passes: _Passes) -> None:
        plan, more = self.out.plan, self.more
        walked = passes.nightly.copy()
        for i, camera in enumerate(passes.cameras):
            walked[i] += 2 * sum(passes.often.get(area, 0.0) for area, _ in camera.routes) / 3
        for _ in range(more.poisson(plan.trail_rubs)):
            camera = passes.cameras[int(more.choice(len(walked), p=walked / walked.sum()))]
            place = _off(camera.place, 150.0 * more.rayleigh(), more.uniform(0, 360))
            self._rub("trail", place, more.uniform(0, 360))

    def _rub(self, where: str, place: tuple[float, float], way: float) -> None:
        plan = self.out.plan
        made = (FIRST, FIRST + timedelta(days=plan.nights + 20))
        rub = self.world.sign("rub", place, date(2026, 3, 20), made, way, measures=self._measures())
        self.out.rubs[rub] = self.buck if self.buck in self.out.bucks else ""
        self.out.where_rubbed[rub] = where

    def _measures(self) -> dict[str, float] | None:
        """Old bucks rub higher and on thicker trunks, more often than not."""
        plan, more = self.out.plan, self.more
        if more.random() >= plan.measured:
            return None
        old = self.buck not in self.out.bucks[plan.bucks - plan.young :] if plan.young else True
        top, trunk = (1.02, 0.075) if old else (0.88, 0.06)
        return {
            "top_m": round(float(more.normal(top, 0.2)), 2),
            "diameter_m": round(float(abs(more.normal(trunk, 0.03)) + 0.01), 3),
        }


def _off(place: tuple[float, float], away: float, turn: float) -> tuple[float, float]:
    return place[0] + away * sin(radians(turn)), place[1] + away * cos(radians(turn))
