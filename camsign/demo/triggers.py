"""What sets the cameras off (bucks, does, others, people and the wind), and where everybody is in
each of a burst's three pictures.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

import numpy as np
from numpy.random import Generator

from camsign.demo.land import (
    CORRIDOR,
    DEPLOYMENTS,
    EDGE,
    ORIGIN,
    RUT,
    Deployment,
    day_of,
    way_place,
)
from camsign.demo.movement import CORRIDOR_NAME, Pass, in_rut
from camsign.demo.paint import FOCAL, WIDTH
from camsign.demo.specs import FrameSpec, Light, Pictured, Weather
from camsign.demo.weather import Autumn, Sun, days
from camsign.sun import sun_height

# The chance that a camera is set off by a buck who passes it.
_SEEN = {"in": 0.46, "out": 0.46, "stir": 0.6, "feed": 0.8, "through": 0.85}
# The cameras that does pass most; the others share the rest.
_DOES_AT = {"CAM04-1": 0.42, "CAM05-1": 0.13, "CAM06-1": 0.13, "CAM02-1": 0.10}


@dataclass(frozen=True, slots=True)
class Member:
    """One animal of a trigger: what, whose name, which way it goes (None: it stands about)."""

    what: str
    buck: str | None
    travel_deg: float | None


@dataclass(frozen=True, slots=True)
class Trigger:
    """One burst: the deployment, the instant of its first frame (UTC) and who is there."""

    deployment: Deployment
    utc: datetime
    members: tuple[Member, ...]


def _watching(one: Pass) -> list[Deployment]:
    """The deployments that hang where a pass goes by."""
    if one.spot == CORRIDOR_NAME:
        return [d for d in DEPLOYMENTS if d.at == CORRIDOR and d.alive(one.utc)]
    here = [d for d in DEPLOYMENTS if d.area == one.spot and d.alive(one.utc)]
    return here if one.way < 0 else [d for d in here if d.at == way_place(one.spot, one.way)]


def buck_triggers(rng: Generator, passes: list[Pass]) -> tuple[list[Trigger], list[Pass]]:
    """Triggers by bucks, and the passes behind them; in the rut some follow a doe."""
    out, seen = [], []
    for one in passes:
        for deployment in _watching(one):
            if rng.random() >= _SEEN[one.why]:
                continue
            feeds = one.why == "feed" and rng.random() < 0.5
            member = Member("buck", one.buck, None if feeds else one.travel_deg)
            chased = in_rut(one.utc.date()) and one.why == "feed" and rng.random() < 0.35
            doe = (Member("doe", None, member.travel_deg),) if chased else ()
            out.append(Trigger(deployment, one.utc, (*doe, member)))
            seen.append(one)
    return out, seen


def doe_triggers(rng: Generator, sun: Sun, n: int) -> list[Trigger]:
    """Does and fawns, mostly along the edge around dusk and dawn and through the night."""
    weights = _norm([_DOES_AT.get(d.key, 0.0733) for d in DEPLOYMENTS])
    out: list[Trigger] = []
    while len(out) < n:
        deployment = DEPLOYMENTS[int(rng.choice(len(DEPLOYMENTS), p=weights))]
        when = _crepuscular(rng, deployment, sun)
        if not deployment.alive(when):
            continue
        stands = deployment.area == EDGE and rng.random() < 0.6
        aim = _along(rng, deployment)
        travel = None if stands else aim
        does = int(rng.choice([1, 2, 3], p=[0.55, 0.33, 0.12]))
        family = ["doe"] * does + ["fawn"] * int(rng.random() < 0.3)
        members = tuple(Member(what, None, travel) for what in family)
        out.append(Trigger(deployment, when, members))
    return out


def _along(rng: Generator, deployment: Deployment) -> float:
    return (deployment.trail_deg + 180 * int(rng.integers(2))) % 360


def _span(deployment: Deployment) -> list[date]:
    return days(deployment.hung.date(), deployment.until.date())


def _crepuscular(rng: Generator, deployment: Deployment, sun: Sun) -> datetime:
    span = _span(deployment)
    day = span[int(rng.integers(len(span)))]
    kind = rng.random()
    if kind < 0.34:
        return sun.set[day] + timedelta(minutes=float(rng.normal(-20, 55)))
    if kind < 0.60:
        return sun.rise[day] + timedelta(minutes=float(rng.normal(25, 55)))
    return sun.night(rng, day) if kind < 0.88 else sun.by_day(day, float(rng.random()))


def other_triggers(rng: Generator, sun: Sun) -> list[Trigger]:
    """A coyote now and then, squirrels by day, hunters in the gun season."""
    out: list[Trigger] = []
    for what, n in (("coyote", 11), ("squirrel", 15), ("person", 3)):
        while n:
            deployment = DEPLOYMENTS[int(rng.integers(len(DEPLOYMENTS)))]
            span = [d for d in _span(deployment) if what != "person" or RUT[0] <= d <= RUT[1]]
            if not span:
                continue
            day = span[int(rng.integers(len(span)))]
            light = sun.by_day(day, float(rng.uniform(0.06, 0.94)))
            when = sun.night(rng, day) if what == "coyote" else light
            if not deployment.alive(when):
                continue
            aim = _along(rng, deployment)
            stands = what == "squirrel" and rng.random() < 0.5
            out.append(Trigger(deployment, when, (Member(what, None, None if stands else aim),)))
            n -= 1
    return out


def owner_triggers() -> list[Trigger]:
    """The owner, who walks off after hanging a camera and comes back to pull its card."""
    out = []
    for deployment in DEPLOYMENTS:
        trail = deployment.trail_deg
        visits = [(deployment.hung + timedelta(minutes=2), trail)]
        for pulled in (*deployment.pulls, deployment.until):
            visits.append((pulled - timedelta(minutes=3), (trail + 180) % 360))
        for when, aim in visits:
            if deployment.alive(when):
                out.append(Trigger(deployment, when, (Member("person", None, aim),)))
    return out


def wind_triggers(rng: Generator, autumn: Autumn, sun: Sun, n: int) -> list[Trigger]:
    """Bursts of nothing: sun on moving leaves, gusts; most by day, on windy days."""
    out: list[Trigger] = []
    weights = _norm([d.windy * (d.until - d.hung).days for d in DEPLOYMENTS])
    while len(out) < n:
        deployment = DEPLOYMENTS[int(rng.choice(len(DEPLOYMENTS), p=weights))]
        when = deployment.hung + (deployment.until - deployment.hung) * float(rng.random())
        day = day_of(when)
        bright = sun.rise[day] < when < sun.set[day]
        chance = autumn.at(when).wind ** 1.5 * (1.0 if bright else 0.45)
        if deployment.alive(when) and rng.random() < chance:
            out.append(Trigger(deployment, when, ()))
    return out


def _norm(weights: list[float]) -> list[float]:
    total = sum(weights)
    return [weight / total for weight in weights]


_FIELD = WIDTH / FOCAL  # width of the view at a distance of 1 m [m]
_SPEED = {"buck": 1.0, "doe": 0.9, "fawn": 0.95, "coyote": 1.7, "squirrel": 0.25, "person": 1.2}
_HALF_LONG = {"squirrel": 0.25, "coyote": 0.7, "person": 0.35}


def shoot(rng: Generator, triggers: list[Trigger], autumn: Autumn) -> list[FrameSpec]:
    """Three pictures for each trigger, about a second apart, in order of time."""
    out: list[FrameSpec] = []
    for number, trigger in enumerate(triggers):
        hung, weather = trigger.deployment, autumn.at(trigger.utc)
        start = rng.uniform(0, 0.9)
        gaps = np.round(start + np.cumsum([0, rng.uniform(0.9, 1.2), rng.uniform(0.9, 1.2)]), 3)
        times = [trigger.utc + timedelta(seconds=float(gap)) for gap in gaps]
        naive = np.array([when.replace(tzinfo=None) for when in times], "datetime64[ms]")
        heights = [float(height) for height in sun_height(*ORIGIN, naive)]
        light = _light(rng, hung, heights[0], times[0], weather)
        seen = _burst(rng, trigger, [(when - times[0]).total_seconds() for when in times])
        for shot, (when, height, subjects) in enumerate(zip(times, heights, seen, strict=True)):
            shifted = hung.knocked is not None and when >= hung.knocked
            height = round(height, 2)
            out.append(FrameSpec(
                hung.camera.camera, hung.key, when, number, shot, light, height, subjects, weather,
                shifted,
            ))  # fmt: skip
    return out


def _light(
    rng: Generator, deployment: Deployment, height: float, when: datetime, weather: Weather
) -> Light:
    """Day or infrared: by the sun's height, earlier dark under clouds, with some chance."""
    evening = (when + timedelta(hours=deployment.clock_hours)).hour >= 12
    bar = deployment.dark_deg[evening] + 0.9 * weather.overcast + float(rng.normal(0, 0.5))
    return "day" if height > bar else "infrared"


def _burst(rng: Generator, trigger: Trigger, seconds: list[float]) -> list[tuple[Pictured, ...]]:
    """The subjects of each picture; who has walked out of the view is in none."""
    frames: list[list[Pictured]] = [[] for _ in seconds]
    lead = float(rng.uniform(0.22, 0.42))
    for number, member in enumerate(trigger.members):
        first = _start(rng, trigger.deployment, member, number, lead)
        for frame, passed in zip(frames, seconds, strict=True):
            subject = _later(rng, first, passed)
            half = _HALF_LONG.get(member.what, 0.8) / (_FIELD * subject.distance_m)
            if -half * 0.4 < subject.x < 1 + half * 0.4:
                frame.append(subject)
    return [tuple(frame) for frame in frames]


def _start(
    rng: Generator, deployment: Deployment, member: Member, number: int, lead: float
) -> Pictured:
    """Where one member is in the first picture."""
    what, travel = member.what, member.travel_deg
    away = deployment.view.trail_m + float(rng.normal(0, 0.5))
    away = max(away + 0.8 * number * (1 if rng.random() < 0.6 else -0.4), 3.8)
    if what == "squirrel":
        away = float(rng.uniform(3.8, 5.5))
    if travel is None:
        deer = what in ("buck", "doe", "fawn")
        pose = str(rng.choice(["feed", "feed", "alert"])) if deer else "walk"
        x = float(np.clip(lead + 0.2 + number * rng.uniform(0.16, 0.3), 0.1, 0.9))
        right = bool(rng.random() < 0.5)
        return Pictured(what, member.buck, x, away, right, pose, 0, None, number)
    right = deployment.to_right(travel)
    behind = number * float(rng.uniform(1.3, 2.2)) / (_FIELD * away)
    x, phase = lead - behind if right else 1 - lead + behind, int(rng.integers(8))
    return Pictured(what, member.buck, x, away, right, "walk", phase, travel, number)


def _later(rng: Generator, first: Pictured, passed: float) -> Pictured:
    """The same one some seconds later: walked on, or stepped about where it stood."""
    if first.travel_deg is None:
        if passed and rng.random() < 0.3:
            x, pose = first.x + float(rng.normal(0, 0.012)), first.pose
            return replace(first, x=x, pose="alert" if pose == "feed" else pose)
        return replace(first, phase=round(passed) % 2)
    step = _SPEED[first.what] * passed / (_FIELD * first.distance_m)
    x = first.x + (step if first.to_right else -step)
    return replace(first, x=x, phase=(first.phase + round(passed * 6.4)) % 8)
