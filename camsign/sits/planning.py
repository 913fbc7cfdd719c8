"""One stand on one evening or morning: when to be there, the walk in, and the air at each step: its
stability by sun, cloud and wind, and whether it slides along the slope instead of following the
wind.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import numpy as np

from camsign.air.spread import SCENT_REACH_M, scent
from camsign.air.stability import net_radiation_index, stability_class
from camsign.arrays import Floats
from camsign.errors import UsageError
from camsign.ground.drainage import stream
from camsign.logbook.settings import Settings
from camsign.sits.evenings import STEP_MIN, Air, Bed, Hours, Sit, Walk
from camsign.sits.hourwords import rise_and_set
from camsign.sits.plane import Plane
from camsign.sits.stands import StandPlace, WayIn
from camsign.sits.terrain import Terrain, sunlit
from camsign.sits.weather import Sky
from camsign.sun import sun_height
from camsign.zones import zone

# One sits at least so long before sunset, and is in before the earliest of his usual hours [min].
LEAST_MIN, AHEAD_MIN, MOST_MIN = 90.0, 30.0, 240.0
# Walking in quietly [m/s]; common practice, no source.
WALK_MS = 0.8
MORNING_UNTIL_MIN = 180.0
# Where nobody says how the sky is: half covered.
USUAL_CLOUD = 0.5
# Slope winds rule in air lighter than the first and are gone above the second [m/s]; no source.
RULES_MS, GONE_MS = 1.0, 3.0


@dataclass(frozen=True, slots=True)
class Day:
    """Sunrise and sunset (UTC) of the local day asked for."""

    day: date
    sunrise: datetime
    sunset: datetime

    def anchor(self, morning: bool) -> datetime:
        """Sunrise for a morning, sunset for an evening (UTC)."""
        return self.sunrise if morning else self.sunset

    def is_night(self, when: datetime) -> bool:
        """Whether the air counts as night's: from an hour before sunset to one after sunrise."""
        hour = timedelta(hours=1)
        return when >= self.sunset - hour or when <= self.sunrise + hour


@dataclass(frozen=True, slots=True)
class Moment:
    """An instant (UTC) at a place before any wind is known: how high the sun stands [deg], whether
    it is night to the air, whether the place lies in shade, and where its air would slide or climb.

    `shade` and `slope` are None where the ground is unknown.
    """

    when: datetime
    sun_deg: float
    night: bool
    shade: bool | None
    slope: Floats | None


@dataclass(frozen=True, slots=True)
class Outing:
    """A sit before any wind is known. Times UTC; `moments` one a step of STEP_MIN."""

    sit: Sit
    be_in_by: datetime
    until: datetime
    moments: tuple[Moment, ...]


def day_of(plane: Plane, day: date, tz: str) -> Day:
    """The sun's day at a place. Raises UsageError where the sun does not rise or set."""
    found = rise_and_set(plane.lat, plane.lon, day, tz)
    if found is None:
        raise UsageError("the sun does not rise and set there that day", "pick another day")
    return Day(day, *found)


def next_day(settings: Settings, morning: bool = False, now: datetime | None = None) -> date:
    """Give the local day of the next evening's sit, or morning's: today, until that is over.

    `now`: an instant, the present one without.
    """
    now = now or datetime.now(UTC)
    day = now.astimezone(zone(settings.tz)).date()
    sun = rise_and_set(*settings.home, day, settings.tz) if settings.home else None
    if sun is None:  # whoever asks for a sit is told so
        return day
    until = MORNING_UNTIL_MIN if morning else settings.light_after_min
    over = sun[0 if morning else 1] + timedelta(minutes=until)
    return day + timedelta(days=1) if now > over else day


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


def outing_of(
    place: StandPlace, day: Day, morning: bool, span: tuple[float, float, float],
    terrain: Terrain | None,
) -> Outing:  # fmt: skip
    """The steps of a sit: when, how the sun stands, where air would slide."""
    arrive, first, last = span
    begin, end = (day.anchor(morning) + timedelta(minutes=m) for m in (arrive, last))
    steps = int(np.ceil((last - arrive) / STEP_MIN)) + 1
    times = [begin + timedelta(minutes=STEP_MIN * i) for i in range(steps)]
    at = place.stand.x, place.stand.y
    moments = _moments(times, (place.lat, place.lon), at, day, terrain)
    sit = Sit(morning, arrive, first, last, tuple(m.slope for m in moments))
    return Outing(sit, begin, end, moments)


def walk_in(
    way: WayIn, arrive: datetime, day: Day, plane: Plane, terrain: Terrain | None,
    beds: Sequence[Bed],
) -> tuple[Walk, tuple[Moment, ...]]:  # fmt: skip
    """A way in, walked so as to be there by `arrive` (UTC), and the moment at each of its points.

    The slope matters only where scent can get to one of the beds; elsewhere it is not worked out.
    """
    legs = np.hypot(*np.diff(way.points, axis=0).T)
    left = np.concatenate([np.cumsum(legs[::-1])[::-1], [0.0]])
    found: list[Moment] = []
    for point, place, far in zip(way.points, plane.lat_lon(way.points), left, strict=True):
        when = arrive + timedelta(minutes=float(-far / WALK_MS / 60))
        x, y = float(point[0]), float(point[1])
        near = any(np.hypot(b.x - x, b.y - y) <= b.radius + SCENT_REACH_M for b in beds)
        ground = terrain if near else None
        found += _moments([when], (float(place[0]), float(place[1])), (x, y), day, ground)
    return Walk(way.points, tuple(m.slope for m in found)), tuple(found)


def _moments(
    times: Sequence[datetime], place: tuple[float, float], at: tuple[float, float], day: Day,
    terrain: Terrain | None,
) -> tuple[Moment, ...]:  # fmt: skip
    """The moments of a place (lat, lon [deg]; x, y [m]) at times (UTC), so far as its ground is
    known."""
    naive = [t.astimezone(UTC).replace(tzinfo=None) for t in times]
    heights = sun_height(*place, np.array(naive, "datetime64[us]")).tolist()
    nights = [day.is_night(when) for when in times]
    if terrain is None:
        return tuple(map(Moment, times, heights, nights, [None] * len(times), [None] * len(times)))
    shades = [not lit for lit in sunlit(terrain, *at, np.array(naive, "datetime64[s]"))]
    down, up = (stream(terrain.slopes, *at, uphill=way) for way in (False, True))
    slopes = [down if shade else up for shade in shades]
    return tuple(map(Moment, times, heights, nights, shades, slopes))


def airs_of(sky: Sky, moments: Sequence[Moment]) -> tuple[Air, ...] | None:
    """The air at each moment; None where the wind is unknown at one of them."""
    found = []
    for moment in moments:
        wind = sky.wind(moment.when)
        if wind is None:
            return None
        cloud = USUAL_CLOUD if wind.cloud is None else wind.cloud
        index = net_radiation_index(moment.sun_deg, moment.night, cloud, wind.ceiling_m)
        steady = stability_class(wind.speed_ms, index)
        by_wind = scent(wind.from_deg, wind.speed_ms, steady, sky.doubt_deg)
        if moment.shade is None:
            found.append(Air(by_wind))
        else:
            share = slope_share(wind.speed_ms, index, moment.shade)
            found.append(Air(by_wind, share, moment.slope))
    return tuple(found)


def slope_share(speed_ms: float, index: int, shade: bool) -> float:
    """The chance that air follows the slope: down in shade, up in the sun, in light wind.

    Under a low overcast (index 0) the ground neither cools nor warms much, and the wind rules.
    """
    if index == 0:
        return 0.0
    calm = float(np.clip((GONE_MS - speed_ms) / (GONE_MS - RULES_MS), 0, 1))
    strong = 1.0 if shade else index / 3
    return calm * float(np.clip(strong, 0, 1))
