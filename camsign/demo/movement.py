"""Where the bucks bed and walk, day by day: the truth behind the pictures.

A buck who chooses a bed keeps to it for days. He comes in around sunrise and goes out around
sunset, on one of the bed's ways; at night he may feed along the edge or pass through the swale.
Days on which he beds elsewhere leave no trace on the property but for such nights.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np
from numpy.random import Generator

from camsign.demo.land import AXIS, BUCKS, DATA, EDGE, KNOB, RUT, WAYS, Buck
from camsign.demo.weather import Sun

ELSEWHERE = ""
CORRIDOR_NAME = "corridor"
Bedded = dict[tuple[str, str], tuple[date, ...]]


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


def _comes_and_goes(rng: Generator, buck: Buck, day: date, bed: str, sun: Sun) -> list[Pass]:
    hurry = 12 if in_rut(day) else 0  # the rut brings him home later and out earlier
    comes = sun.rise[day] + timedelta(minutes=float(rng.normal(buck.comes_min + hurry, 32)))
    goes = sun.set[day] + timedelta(minutes=float(rng.normal(buck.goes_min - hurry, 34)))
    out = []
    for why, when, turn in (("in", comes, 180), ("out", goes, 0)):
        way = int(rng.choice(3, p=DATA["areas"][bed]["shares"]))
        away = WAYS[bed][way] + float(rng.normal(0, 8))
        out.append(Pass(buck.name, bed, way, when, (away + turn) % 360, why))
        if bed == KNOB and way == 0 and rng.random() < 0.75:
            later = timedelta(minutes=float(rng.uniform(12, 30))) * (1 if why == "out" else -1)
            aim = (AXIS[CORRIDOR_NAME] + turn) % 360
            out.append(Pass(buck.name, CORRIDOR_NAME, -1, when + later, aim, why))
    if rng.random() < 0.06:
        noon = sun.by_day(day, float(rng.uniform(0.35, 0.65)))
        way = int(rng.choice(2))
        aim = (WAYS[bed][way] + 180 * int(rng.integers(2))) % 360
        out.append(Pass(buck.name, bed, way, noon, aim, "stir"))
    return out


def _by_night(rng: Generator, buck: Buck, day: date, sun: Sun) -> list[Pass]:
    out = []
    for spot, rate in buck.nights.items():
        if rng.random() < rate * (1.8 if in_rut(day) else 1.0):
            aim = (AXIS[spot] + 180 * int(rng.integers(2)) + float(rng.normal(0, 6))) % 360
            why = "feed" if spot == EDGE else "through"
            out.append(Pass(buck.name, spot, -1, sun.night(rng, day), aim, why))
    return out


def all_walks(rng: Generator, days: list[date], sun: Sun) -> tuple[list[Pass], Bedded]:
    """Every buck's passes, sorted by time, and the days on which each bedded in each area."""
    passes: list[Pass] = []
    bedded: Bedded = {}
    for buck in BUCKS:
        beds = choose_beds(rng, buck, days)
        for day, bed in zip(days, beds, strict=True):
            if bed:
                passes += _comes_and_goes(rng, buck, day, bed, sun)
            passes += _by_night(rng, buck, day, sun)
        for area in WAYS:
            there = tuple(day for day, bed in zip(days, beds, strict=True) if bed == area)
            bedded[buck.name, area] = there
    return sorted(passes, key=lambda one: one.utc), bedded
