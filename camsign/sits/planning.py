"""One stand on one evening or morning: when to be there, the air at each step, the walk in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from camsign.sits.airs import Night, Sky, air_at, shades_of
from camsign.sits.evenings import STEP_MIN, Hours, Sit, Walk
from camsign.sun import sun_days

if TYPE_CHECKING:
    from collections.abc import Sequence

    from camsign.sits.plane import Plane
    from camsign.sits.stands import StandPlace, WayIn
    from camsign.sits.terrain import Terrain

# One sits at least so long before sunset, and is in before the earliest of his usual hours [min].
LEAST_MIN, AHEAD_MIN, MOST_MIN = 90.0, 30.0, 240.0
# Walking in quietly [m/s]; common practice, no source.
WALK_MS = 0.8
MORNING_UNTIL_MIN = 180.0


@dataclass(frozen=True, slots=True)
class Day:
    """Sunrise and sunset (UTC) of the day asked for, and its night to the air."""

    day: date
    sunrise: datetime
    sunset: datetime
    night: Night

    def anchor(self, morning: bool) -> datetime:
        """Sunrise for a morning, sunset for an evening (UTC)."""
        return self.sunrise if morning else self.sunset


@dataclass(frozen=True, slots=True)
class Plan:
    """A sit as it is played, and what is told of it. Times UTC; None where the wind is unknown."""

    sit: Sit
    be_in_by: datetime
    until: datetime
    turns_at: datetime | None
    shade_at: datetime | None


def day_of(plane: Plane, day: date, tz: str) -> Day | None:
    """The sun's day at a place; None where the sun does not rise or set."""
    table = sun_days(plane.lat, plane.lon, day, day, tz)
    if np.isnat(table.sunrise[0]) or np.isnat(table.sunset[0]):
        return None
    rise, sets = (_aware(column[0]) for column in (table.sunrise, table.sunset))
    hour = timedelta(hours=1)
    return Day(day, rise, sets, Night(sets - hour, rise + hour))


def _aware(stamp: np.datetime64) -> datetime:
    naive: datetime = stamp.astype("datetime64[s]").astype(object)
    return naive.replace(tzinfo=UTC)


def span_of(
    morning: bool, hours: Sequence[Hours], light: tuple[float, float]
) -> tuple[float, float, float]:
    """When to arrive, first and last shooting light [min from sunset or sunrise].

    `light`: minutes of shooting light before sunrise and after sunset.
    """
    before, after = light
    if morning:
        return -before - AHEAD_MIN, -before, MORNING_UNTIL_MIN
    early = min((h.mean - 1.645 * h.spread for h in hours), default=-LEAST_MIN)
    arrive = float(np.clip(early - AHEAD_MIN, -MOST_MIN, -LEAST_MIN))
    return arrive, -MOST_MIN, after


def plan(
    place: StandPlace, day: Day, morning: bool, span: tuple[float, float, float], sky: Sky,
    terrain: Terrain | None,
) -> Plan | None:  # fmt: skip
    """The air at each step of a sit; None where no wind is known for one of them."""
    arrive, first, last = span
    anchor = day.anchor(morning)
    begin, end = (anchor + timedelta(minutes=m) for m in (arrive, last))
    shades = None
    if terrain is not None:
        shades = shades_of(terrain, place.stand.x, place.stand.y, begin, end)
    steps = int(np.ceil((last - arrive) / STEP_MIN)) + 1
    times = [begin + timedelta(minutes=STEP_MIN * i) for i in range(steps)]
    here = (place.lat, place.lon)
    airs = [air_at(sky, t, here, day.night.holds(t), shades) for t in times]
    known = tuple(a for a in airs if a is not None)
    if len(known) < len(airs):
        return None
    sit = Sit(morning, arrive, first, last, known)
    turns = next((t for t, a in zip(times, known, strict=True) if a.slope_share >= 0.5), None)
    shade = next((t for t in times if shades is not None and shades.shade_at(t)), None)
    return Plan(sit, begin, end, turns, shade)


def walk_in(
    way: WayIn, arrive: datetime, day: Day, sky: Sky, plane: Plane, terrain: Terrain | None
) -> Walk | None:
    """The walk in along a way, so as to be there by `arrive` (UTC); None where no wind is known."""
    legs = np.hypot(*np.diff(way.points, axis=0).T)
    left = np.concatenate([np.cumsum(legs[::-1])[::-1], [0.0]])
    minutes = -left / WALK_MS / 60
    places = plane.lat_lon(way.points)
    airs = []
    for point, place, minute in zip(way.points, places, minutes, strict=True):
        when = arrive + timedelta(minutes=float(minute))
        x, y = float(point[0]), float(point[1])
        shades = None if terrain is None else shades_of(terrain, x, y, when, when)
        here = (float(place[0]), float(place[1]))
        air = air_at(sky, when, here, day.night.holds(when), shades)
        if air is None:
            return None
        airs.append(air)
    return Walk(way.points, minutes, tuple(airs))
