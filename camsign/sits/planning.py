"""One stand on one evening or morning: when to be there, the air at each step, the walk in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import numpy as np

from camsign.air.spread import SCENT_REACH_M
from camsign.sits.airs import Moment, Night, Sky, air_of, moments_of, shades_of
from camsign.sits.evenings import STEP_MIN, Bed, Course, Hours, Sit, Stay, Walk
from camsign.sits.plane import Plane
from camsign.sits.stands import StandPlace, WayIn
from camsign.sits.terrain import Terrain
from camsign.sun import sun_days

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


@dataclass(frozen=True, slots=True)
class Outing:
    """A sit before any wind is known. Times UTC; `moments` one a step of STEP_MIN."""

    stay: Stay
    be_in_by: datetime
    until: datetime
    moments: tuple[Moment, ...]


@dataclass(frozen=True, slots=True)
class Approach:
    """A way in walked so as to be there in time, before any wind is known."""

    way: WayIn
    course: Course
    moments: tuple[Moment, ...]


def outing_of(
    place: StandPlace, day: Day, morning: bool, span: tuple[float, float, float],
    terrain: Terrain | None,
) -> Outing:  # fmt: skip
    """The steps of a sit: when, how the sun stands, where air would slide."""
    arrive, first, last = span
    anchor = day.anchor(morning)
    begin, end = (anchor + timedelta(minutes=m) for m in (arrive, last))
    shades = None
    if terrain is not None:
        shades = shades_of(terrain, place.stand.x, place.stand.y, begin, end)
    steps = int(np.ceil((last - arrive) / STEP_MIN)) + 1
    times = [begin + timedelta(minutes=STEP_MIN * i) for i in range(steps)]
    moments = moments_of(times, (place.lat, place.lon), day.night, shades)
    stay = Stay(morning, arrive, first, last, tuple(m.slope for m in moments))
    return Outing(stay, begin, end, moments)


def plan(outing: Outing, sky: Sky) -> Plan | None:
    """The air at each step of a sit; None where no wind is known for one of them."""
    airs = [air_of(sky, moment) for moment in outing.moments]
    known = tuple(a for a in airs if a is not None)
    if len(known) < len(airs):
        return None
    stay, moments = outing.stay, outing.moments
    sit = Sit(stay.morning, stay.arrive, stay.first, stay.last, known)
    turns = next(
        (m.when for m, a in zip(moments, known, strict=True) if a.slope_share >= 0.5), None
    )
    shade = next((m.when for m in moments if m.shade), None)
    return Plan(sit, outing.be_in_by, outing.until, turns, shade)


def approach_of(
    way: WayIn, arrive: datetime, day: Day, plane: Plane, terrain: Terrain | None,
    beds: Sequence[Bed],
) -> Approach:  # fmt: skip
    """A way in, walked so as to be there by `arrive` (UTC).

    The slope matters only where scent can get to one of the beds; elsewhere it is not worked out.
    """
    legs = np.hypot(*np.diff(way.points, axis=0).T)
    left = np.concatenate([np.cumsum(legs[::-1])[::-1], [0.0]])
    minutes = -left / WALK_MS / 60
    found: list[Moment] = []
    for point, place, minute in zip(way.points, plane.lat_lon(way.points), minutes, strict=True):
        when = arrive + timedelta(minutes=float(minute))
        x, y = float(point[0]), float(point[1])
        shades = None
        if terrain is not None and _near_a_bed(x, y, beds):
            shades = shades_of(terrain, x, y, when, when)
        found += moments_of([when], (float(place[0]), float(place[1])), day.night, shades)
    course = Course(way.points, minutes, tuple(m.slope for m in found))
    return Approach(way, course, tuple(found))


def _near_a_bed(x: float, y: float, beds: Sequence[Bed]) -> bool:
    return any(np.hypot(b.x - x, b.y - y) <= b.radius + SCENT_REACH_M for b in beds)


def walk_in(approach: Approach, sky: Sky) -> Walk | None:
    """The airs of a walk in; None where no wind is known."""
    airs = [air_of(sky, moment) for moment in approach.moments]
    known = tuple(a for a in airs if a is not None)
    if len(known) < len(airs):
        return None
    return Walk(approach.course.points, approach.course.minutes, known)
