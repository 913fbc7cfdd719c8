"""What sets the cameras off: bucks, does, others, people and the wind."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from camsign.demo.land import CORRIDOR, DEPLOYMENTS, EDGE, RUT, Deployment, day_of, way_place
from camsign.demo.movement import CORRIDOR_NAME, Pass, in_rut
from camsign.demo.weather import days

if TYPE_CHECKING:
    from numpy.random import Generator

    from camsign.demo.movement import Sun
    from camsign.demo.weather import Autumn

TRIGGERS = 500
# The chance that a camera is set off by a buck who passes it.
_SEEN = {"in": 0.46, "out": 0.46, "stir": 0.6, "feed": 0.8, "through": 0.85}


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
    if one.way < 0:
        return here
    return [d for d in here if d.at == way_place(one.spot, one.way)]


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
    shares = {"CAM04-1": 0.42, "CAM05-1": 0.13, "CAM06-1": 0.13, "CAM02-1": 0.10}
    weights = [shares.get(d.key, 0.0733) for d in DEPLOYMENTS]
    out: list[Trigger] = []
    while len(out) < n:
        deployment = DEPLOYMENTS[int(rng.choice(len(DEPLOYMENTS), p=_norm(weights)))]
        when = _crepuscular(rng, deployment, sun)
        if not deployment.alive(when):
            continue
        stands = deployment.area == EDGE and rng.random() < 0.6
        aim = (deployment.trail_deg + 180 * int(rng.integers(2))) % 360
        out.append(Trigger(deployment, when, _family(rng, None if stands else aim)))
    return out


def _family(rng: Generator, travel: float | None) -> tuple[Member, ...]:
    does = int(rng.choice([1, 2, 3], p=[0.55, 0.33, 0.12]))
    fawns = int(rng.random() < 0.3)
    return tuple(Member("doe", None, travel) for _ in range(does)) + tuple(
        Member("fawn", None, travel) for _ in range(fawns)
    )


def _crepuscular(rng: Generator, deployment: Deployment, sun: Sun) -> datetime:
    span = days(deployment.hung.date(), deployment.until.date())
    day = span[int(rng.integers(len(span)))]
    kind = rng.random()
    if kind < 0.34:
        return sun.set[day] + timedelta(minutes=float(rng.normal(-20, 55)))
    if kind < 0.60:
        return sun.rise[day] + timedelta(minutes=float(rng.normal(25, 55)))
    if kind < 0.88:
        return sun.night(rng, day)
    return sun.rise[day] + (sun.set[day] - sun.rise[day]) * float(rng.random())


def other_triggers(rng: Generator, sun: Sun) -> list[Trigger]:
    """A coyote now and then, squirrels by day, two hunters in the gun season."""
    out: list[Trigger] = []
    for what, n in (("coyote", 11), ("squirrel", 15), ("person", 3)):
        while n:
            deployment = DEPLOYMENTS[int(rng.integers(len(DEPLOYMENTS)))]
            span = days(deployment.hung.date(), deployment.until.date())
            span = [d for d in span if what != "person" or RUT[0] <= d <= RUT[1]]
            if not span:
                continue
            day = span[int(rng.integers(len(span)))]
            light = sun.rise[day] + (sun.set[day] - sun.rise[day]) * float(rng.uniform(0.06, 0.94))
            when = sun.night(rng, day) if what == "coyote" else light
            if not deployment.alive(when):
                continue
            aim = (deployment.trail_deg + 180 * int(rng.integers(2))) % 360
            stands = what == "squirrel" and rng.random() < 0.5
            out.append(Trigger(deployment, when, (Member(what, None, None if stands else aim),)))
            n -= 1
    return out


def owner_triggers() -> list[Trigger]:
    """The owner, who walks off after hanging a camera and comes back to pull its card."""
    out = []
    for deployment in DEPLOYMENTS:
        away = (deployment.trail_deg + 180) % 360
        visits = [deployment.hung + timedelta(minutes=2)]
        visits += [when - timedelta(minutes=3) for when in (*deployment.pulls, deployment.until)]
        for when in visits:
            if deployment.alive(when):
                aim = away if when > deployment.hung + timedelta(hours=1) else deployment.trail_deg
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
