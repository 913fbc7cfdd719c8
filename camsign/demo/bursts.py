"""From triggers to frames: where everybody is in each of a burst's three pictures."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
from numpy.random import Generator

from camsign.demo.land import ORIGIN, Deployment
from camsign.demo.paint import FOCAL, WIDTH
from camsign.demo.specs import Light, Pictured, Weather
from camsign.demo.triggers import Member, Trigger
from camsign.demo.weather import Autumn
from camsign.sun import sun_height

_FIELD = WIDTH / FOCAL  # width of the view at a distance of 1 m [m]
_SPEED = {"buck": 1.0, "doe": 0.9, "fawn": 0.95, "coyote": 1.7, "squirrel": 0.25, "person": 1.2}
_HALF_LONG = {"squirrel": 0.25, "coyote": 0.7, "person": 0.35}


@dataclass(frozen=True, slots=True)
class Shot:
    """One picture before it has a place on a card; times UTC."""

    deployment: Deployment
    utc: datetime
    trigger: int
    shot: int
    light: Light
    sun_deg: float
    subjects: tuple[Pictured, ...]
    weather: Weather
    shifted: bool


def shoot(rng: Generator, triggers: list[Trigger], autumn: Autumn) -> list[Shot]:
    """Three pictures for each trigger, about a second apart, in order of time."""
    out: list[Shot] = []
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
            out.append(Shot(hung, when, number, shot, light, height, subjects, weather, shifted))
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
