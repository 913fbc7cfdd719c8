"""A made-up autumn: each day's weather, the sun, and the dress of the woods that goes with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from math import cos, pi
from zoneinfo import ZoneInfo

import numpy as np
from numpy.random import Generator

from camsign.demo.land import FIRST_DAY, LAST_DAY, ORIGIN, TZ
from camsign.demo.specs import Weather
from camsign.sun import sun_days

# Days of the year between which the woods change their dress.
_DRESSES = (
    (date(2025, 9, 10), "green"),
    (date(2025, 10, 6), "gold"),
    (date(2025, 10, 29), "bare"),
)
# Snowfalls: a dusting that melts again in mid November, snow that stays from late November on.
_SNOWFALLS = ((date(2025, 11, 12), 0.7, 0.25), (date(2025, 11, 23), 1.0, 0.02))


@dataclass(frozen=True, slots=True)
class Sun:
    """Sunrise and sunset (UTC) of each day at the property."""

    rise: Mapping[date, datetime]
    set: Mapping[date, datetime]

    def night(self, rng: Generator, day: date) -> datetime:
        """A random instant of the dark, from an hour after sunset to an hour before sunrise."""
        start = self.set[day] + timedelta(hours=1)
        long = self.rise[day + timedelta(1)] - timedelta(hours=1) - start
        return start + rng.random() * long

    def by_day(self, day: date, share: float) -> datetime:
        """An instant of the day, a share of the way from sunrise to sunset."""
        return self.rise[day] + (self.set[day] - self.rise[day]) * share


def property_sun() -> Sun:
    """The sun over the property, a day more on either side of the season."""
    table = sun_days(*ORIGIN, FIRST_DAY - timedelta(1), LAST_DAY + timedelta(2), TZ)
    keys = [day.astype(object) for day in table.day]
    columns = (
        [stamp.astype("datetime64[s]").astype(object).replace(tzinfo=UTC) for stamp in column]
        for column in (table.sunrise, table.sunset)
    )
    return Sun(*(dict(zip(keys, column, strict=True)) for column in columns))


@dataclass(frozen=True, slots=True)
class Autumn:
    """Each day's mean air [°C], wind, cloud, snow cover and morning fog (0 to 1)."""

    mean_c: list[float]
    wind: list[float]
    overcast: list[float]
    snow: list[float]
    fog: list[float]

    def at(self, when: datetime) -> Weather:
        """The weather at an instant (UTC)."""
        there = when.astimezone(ZoneInfo(TZ))
        i = min(max((there.date() - FIRST_DAY).days, 0), len(self.wind) - 1)
        hour = there.hour + there.minute / 60
        swing = (6.0 - 4.0 * self.overcast[i]) * cos((hour - 15) / 12 * pi)
        gust = self.wind[i] * (0.65 + 0.35 * cos((hour - 14) / 12 * pi))
        fog = self.fog[i] * max(0.0, 1 - abs(hour - 6.5) / 2.5)
        grows = i + 1 < len(self.snow) and self.snow[i + 1] > self.snow[i] + 0.1
        clouds, air = self.overcast[i], round(self.mean_c[i] + swing)
        return Weather(air, gust, clouds, self.snow[i], fog, grows and clouds > 0.5)


def make_autumn(rng: Generator) -> Autumn:
    """Weather from the first day to the last, each day leaning on the day before."""
    days = (LAST_DAY - FIRST_DAY).days + 2
    chill = _leaning(rng, days, 0.7)
    overcast = 1 / (1 + np.exp(-1.6 * _leaning(rng, days, 0.5)))
    wind = np.clip(0.42 + 0.28 * _leaning(rng, days, 0.4), 0.05, 1)
    mean = 20.5 - 0.205 * np.arange(days) + 2.6 * chill
    fog = np.where(rng.random(days) < 0.13, rng.uniform(0.5, 1, days), 0.0) * (wind < 0.5)
    snow, snowing = np.zeros(days), np.zeros(days, bool)
    for day, fall, melt in _SNOWFALLS:
        start = (day - FIRST_DAY).days + int(rng.integers(-1, 2))
        snowing[start - 1] = snowing[start] = True
        snow[start:] = np.maximum(snow[start:], fall - melt * np.arange(days - start))
    snow = np.clip(snow, 0, 1)
    overcast[snowing] = np.maximum(overcast[snowing], 0.85)
    cold = -1.0 + rng.normal(0, 1.2, int((snow > 0).sum()))
    mean[snow > 0] = np.minimum(mean[snow > 0], cold)
    return Autumn(*(series.tolist() for series in (mean, wind, overcast, snow, fog)))


def _leaning(rng: Generator, n: int, keeps: float) -> np.ndarray:
    out = np.zeros(n)
    fresh = rng.normal(0, (1 - keeps**2) ** 0.5, n)
    for i in range(1, n):
        out[i] = keeps * out[i - 1] + fresh[i]
    return out


def dress_mix(day: date, snow: float) -> dict[str, float]:
    """Shares (summing to 1) of the dresses that make up the woods on a day."""
    mix = {_DRESSES[0 if day <= _DRESSES[0][0] else -1][1]: 1.0}
    for (start, before), (end, after) in pairwise(_DRESSES):
        if start < day <= end:
            share = (day - start) / (end - start)
            mix = {before: 1 - share, after: share}
    out = {name: share * (1 - snow) for name, share in mix.items()} | {"snow": snow}
    return {name: share for name, share in out.items() if share > 0.02}


def days(first: date, last: date) -> list[date]:
    """All days from first to last."""
    return [first + timedelta(i) for i in range((last - first).days + 1)]
