"""The air at each step of a sit: its stability by sun, cloud and wind, and whether it slides along
the slope instead of following the wind.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from camsign.air.spread import FORECAST_DEG, scent
from camsign.air.stability import net_radiation_index, stability_class
from camsign.ground.drainage import Stream, stream
from camsign.sits.evenings import Air
from camsign.sits.terrain import Terrain, sunlit
from camsign.sun import sun_height

if TYPE_CHECKING:
    from camsign.formats.wind import WindHour

# Where nobody says how the sky is: half covered.
USUAL_CLOUD = 0.5
# Slope winds rule in air lighter than the first and are gone above the second [m/s]; no source.
RULES_MS, GONE_MS = 1.0, 3.0


@dataclass(frozen=True, slots=True)
class Sky:
    """What a question knows of the air: the wind at an instant, and how far its bearing is off.

    `typed`: somebody said it of the hours of the sit; of others it says nothing.
    """

    wind: Callable[[datetime], WindHour | None]
    doubt_deg: float = FORECAST_DEG
    typed: bool = False


@dataclass(frozen=True, slots=True)
class Night:
    """An hour before sunset to an hour after sunrise is night to the air (UTC)."""

    begins: datetime
    ends: datetime

    def holds(self, when: datetime) -> bool:
        """Whether the air counts as night's at an instant."""
        return when >= self.begins or when <= self.ends


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
    slope: Stream | None


def moments_of(
    times: Sequence[datetime], place: tuple[float, float], night: Night, shades: Shades | None
) -> tuple[Moment, ...]:
    """The moments of a place (lat, lon [deg]) at times (UTC).

    `shades`: the place's sun and slope; None where the ground is unknown.
    """
    stamps = np.array([t.astimezone(UTC).replace(tzinfo=None) for t in times], "datetime64[us]")
    found = []
    for when, height in zip(times, sun_height(*place, stamps), strict=True):
        shade = None if shades is None else shades.shade_at(when)
        slope = None if shades is None else shades.down if shade else shades.up
        found.append(Moment(when, float(height), night.holds(when), shade, slope))
    return tuple(found)


def air_of(sky: Sky, moment: Moment) -> Air | None:
    """The air at a moment; None where the wind is unknown then."""
    wind = sky.wind(moment.when)
    if wind is None:
        return None
    cloud = USUAL_CLOUD if wind.cloud is None else wind.cloud
    index = net_radiation_index(moment.sun_deg, moment.night, cloud, wind.ceiling_m)
    steady = stability_class(wind.speed_ms, index)
    by_wind = scent(wind.from_deg, wind.speed_ms, steady, sky.doubt_deg)
    if moment.shade is None:
        return Air(by_wind)
    return Air(by_wind, slope_share(wind.speed_ms, index, moment.shade), moment.slope)


def slope_share(speed_ms: float, index: int, shade: bool) -> float:
    """The chance that air follows the slope: down in shade, up in the sun, in light wind.

    Under a low overcast (index 0) the ground neither cools nor warms much, and the wind rules.
    """
    if index == 0:
        return 0.0
    calm = float(np.clip((GONE_MS - speed_ms) / (GONE_MS - RULES_MS), 0, 1))
    strong = 1.0 if shade else index / 3
    return calm * float(np.clip(strong, 0, 1))


@dataclass(frozen=True, slots=True)
class Shades:
    """When a place lies in shade, and where its air then goes: down in shade, up in the sun."""

    times: tuple[datetime, ...]
    lit: tuple[bool, ...]
    down: Stream
    up: Stream

    def shade_at(self, when: datetime) -> bool:
        """Whether the place lies in shade at an instant."""
        gaps = [abs((when - t).total_seconds()) for t in self.times]
        return not self.lit[int(np.argmin(gaps))]


def shades_of(terrain: Terrain, x: float, y: float, first: datetime, last: datetime) -> Shades:
    """Follow sun and shade at a place x, y [m] from first to last (UTC), every ten minutes."""
    steps = int((last - first) / timedelta(minutes=10)) + 2
    times = tuple(first + timedelta(minutes=10 * i) for i in range(steps))
    stamps = np.array([t.astimezone(UTC).replace(tzinfo=None) for t in times], "datetime64[s]")
    lit = tuple(bool(one) for one in sunlit(terrain, x, y, stamps))
    down, up = (stream(terrain.slopes, x, y, uphill=way) for way in (False, True))
    return Shades(times, lit, down, up)
