"""Where the bucks bed and walk, day by day: the truth behind the pictures.

A buck who chooses a bed keeps to it for days. He comes in around sunrise and goes out around
sunset, on one of the bed's ways; at night he may feed along the edge or pass through the swale.
Days on which he beds elsewhere leave no trace on the property but for such nights.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from camsign.demo.land import (
    BUCKS,
    CORRIDOR_AXIS,
    EDGE,
    EDGE_AXIS,
    FIRST_DAY,
    KNOB,
    LAST_DAY,
    ORIGIN,
    RUT,
    SWALE,
    SWALE_AXIS,
    TZ,
    WAYS,
    Buck,
)
from camsign.sun import sun_days

if TYPE_CHECKING:
    from numpy.random import Generator

ELSEWHERE = ""
CORRIDOR_NAME = "corridor"
# How a buck shares his comings and goings out among a bed's three ways.
WAY_SHARES: Mapping[str, tuple[float, ...]] = {KNOB: (0.48, 0.36, 0.16)}
_USUAL_SHARES = (0.52, 0.32, 0.16)


@dataclass(frozen=True, slots=True)
class Pass:
    """One walk past a spot, seen by a camera or not: who, where, when (UTC), which way.

    `spot` is an area's name or "corridor"; `way` the number of the bed's way, -1 if none. `why`:
    in, out, stir (moving about at the bed by day), feed or through.
    """

    buck: str
    spot: str
    way: int
    utc: datetime
    travel_deg: float
    why: str


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


def property_sun() -> Sun:
    """The sun over the property, a day more on either side of the season."""
    table = sun_days(*ORIGIN, FIRST_DAY - timedelta(1), LAST_DAY + timedelta(2), TZ)
    keys = [day.astype(object) for day in table.day]
    rise, down = (
        dict(zip(keys, (_aware(stamp) for stamp in column), strict=True))
        for column in (table.sunrise, table.sunset)
    )
    return Sun(rise, down)


def _aware(stamp: np.datetime64) -> datetime:
    naive: datetime = stamp.astype("datetime64[s]").astype(object)
    return naive.replace(tzinfo=UTC)


def in_rut(day: date) -> bool:
    """Whether the bucks are after the does rather than at home."""
    return RUT[0] <= day <= RUT[1]


def choose_beds(rng: Generator, buck: Buck, days: list[date]) -> list[str]:
    """The area in which a buck beds on each day, "" for elsewhere."""
    areas = [*buck.beds, ELSEWHERE]
    shares = np.array([*buck.beds.values(), 1 - sum(buck.beds.values())])
    beds: list[str] = []
    for day in days:
        keeps = buck.faithful * (0.45 if in_rut(day) else 1)
        if beds and rng.random() < keeps:
            beds.append(beds[-1])
            continue
        home = shares * ([0.45] * len(buck.beds) + [1.0] if in_rut(day) else 1.0)
        beds.append(areas[int(rng.choice(len(areas), p=home / home.sum()))])
    return beds


def walks(rng: Generator, buck: Buck, days: list[date], beds: list[str], sun: Sun) -> list[Pass]:
    """All passes of one buck through the season, in no particular order."""
    out: list[Pass] = []
    for day, bed in zip(days, beds, strict=True):
        if bed:
            out += _comes_and_goes(rng, buck, day, bed, sun)
        out += _by_night(rng, buck, day, sun)
    return out


def _comes_and_goes(rng: Generator, buck: Buck, day: date, bed: str, sun: Sun) -> list[Pass]:
    hurry = 12 if in_rut(day) else 0  # the rut brings him home later and out earlier
    comes = sun.rise[day] + timedelta(minutes=float(rng.normal(buck.comes_min + hurry, 32)))
    goes = sun.set[day] + timedelta(minutes=float(rng.normal(buck.goes_min - hurry, 34)))
    out = []
    for why, when in (("in", comes), ("out", goes)):
        way = int(rng.choice(3, p=WAY_SHARES.get(bed, _USUAL_SHARES)))
        away = WAYS[bed][way] + float(rng.normal(0, 8))
        out.append(Pass(buck.name, bed, way, when, (away + 180 * (why == "in")) % 360, why))
        if bed == KNOB and way == 0 and rng.random() < 0.75:
            later = timedelta(minutes=float(rng.uniform(12, 30))) * (1 if why == "out" else -1)
            aim = (CORRIDOR_AXIS + 180 * (why == "in")) % 360
            out.append(Pass(buck.name, CORRIDOR_NAME, -1, when + later, aim, why))
    if rng.random() < 0.06:
        noon = sun.rise[day] + (sun.set[day] - sun.rise[day]) * float(rng.uniform(0.35, 0.65))
        way = int(rng.choice(2))
        turn = 180 * int(rng.integers(2))
        out.append(Pass(buck.name, bed, way, noon, (WAYS[bed][way] + turn) % 360, "stir"))
    return out


def _by_night(rng: Generator, buck: Buck, day: date, sun: Sun) -> list[Pass]:
    restless = 1.8 if in_rut(day) else 1.0
    out = []
    for spot, rate, axis, why in (
        (EDGE, buck.edge_nights, EDGE_AXIS, "feed"),
        (SWALE, buck.swale_nights, SWALE_AXIS, "through"),
    ):
        if rng.random() < rate * restless:
            aim = (axis + 180 * int(rng.integers(2)) + float(rng.normal(0, 6))) % 360
            out.append(Pass(buck.name, spot, -1, sun.night(rng, day), aim, why))
    return out


def all_walks(
    rng: Generator, days: list[date], sun: Sun
) -> tuple[list[Pass], dict[tuple[str, str], tuple[date, ...]]]:
    """Every buck's passes, sorted by time, and the days on which each bedded in each area."""
    passes: list[Pass] = []
    bedded: dict[tuple[str, str], tuple[date, ...]] = {}
    for buck in BUCKS:
        beds = choose_beds(rng, buck, days)
        passes += walks(rng, buck, days, beds, sun)
        for area in WAYS:
            bedded[buck.name, area] = tuple(
                day for day, bed in zip(days, beds, strict=True) if bed == area
            )
    return sorted(passes, key=lambda one: one.utc), bedded
