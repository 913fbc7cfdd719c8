"""The made-up sign: rubs that lead out of the true beds, a line, an edge rubbed both ways.

Each sign has a maker and a day on which he made it, taken from where he bedded in the season.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from math import atan2, degrees, hypot

from numpy.random import Generator

from camsign.demo.land import (
    AXIS,
    BUCKS,
    DATA,
    EDGE,
    EDGE_LENGTH,
    KNOB,
    MIDDLE,
    Meters,
    moved,
    place,
)
from camsign.demo.specs import SignSpec

Bedded = Mapping[tuple[str, str], tuple[date, ...]]

_SIGN = DATA["sign"]
_FIRST, _LAST = _SIGN["rubbing"]
_WINTER = _SIGN["winter_walks"]
_GPS_ERROR = 3.5  # [m]


def make_signs(rng: Generator, bedded: Bedded) -> list[SignSpec]:
    """80 signs, in the order in which they were seen."""
    out = [_rub(rng, where, i, n, bedded) for where, n in _SIGN["rubs"].items() for i in range(n)]
    out += [
        _other(rng, kind, where, bedded) for kind, where, n in _SIGN["others"] for _ in range(n)
    ]
    for i in (3, 20):  # two rubs of an earlier year, gray by now
        made = out[i].made_on.replace(year=2024)
        out[i] = replace(
            out[i], made_on=made, maker=None, surface="grey", seen_on=_WINTER[1], marks=""
        )
    out.sort(key=lambda one: (one.seen_on, one.lat))
    return [replace(one, in_gpx=one.seen_on.year == 2025) for one in out]


def _rub(rng: Generator, where: str, i: int, n: int, bedded: Bedded) -> SignSpec:
    at, aim = _rub_place(rng, where, i, n)
    maker, made = _maker(rng, where, bedded)
    seen = _seen(rng, made)
    buck = next(one for one in BUCKS if one.name == maker)
    top = max(0.45, float(rng.normal(*buck.top_cm)) / 100)
    thick = float(rng.uniform(0.02, 0.05)) * (1 + 0.35 * (buck.age - 1))
    species = str(rng.choice(_SIGN["species"][where]))
    lat, lon = _jittered(rng, at)
    return SignSpec(
        "rub", lat, lon, seen, made, maker, where, round(aim % 360), species,
        _surface(species, made, seen), round(thick, 3), round(top, 2),
        round(top - float(rng.uniform(0.25, 0.45)), 2),
        marks="nicks" if maker == BUCKS[0].name and rng.random() < 0.7 else "",
    )  # fmt: skip


def _rub_place(rng: Generator, where: str, i: int, n: int) -> tuple[Meters, float]:
    """Where the i-th of n rubs is and which way its maker went."""
    if where == "corridor":
        along = moved(
            moved(MIDDLE[KNOB], AXIS[where], 170), AXIS[where], i * 85 + float(rng.uniform(-20, 20))
        )
        at = moved(along, AXIS[where] + 90, float(rng.normal(0, 8)))
        return at, AXIS[where] + float(rng.normal(0, 11))
    if where == EDGE:
        along = moved(MIDDLE[EDGE], AXIS[EDGE], float(rng.uniform(-0.5, 0.5)) * EDGE_LENGTH)
        aim = AXIS[EDGE] + (180 if i % 2 else 0) + float(rng.normal(0, 12))
        return moved(along, AXIS[EDGE] + 90, float(rng.normal(0, 10))), aim
    if not where:
        return _lonely(rng), float(rng.uniform(0, 360))
    middle = MIDDLE[where]
    at = moved(middle, (i + rng.uniform(0, 1)) * 360 / n, float(rng.uniform(22, 105)))
    outward = degrees(atan2(at[0] - middle[0], at[1] - middle[1]))
    back = 180 if i == 6 else 0  # one was rubbed on the way in
    return at, outward + back + float(rng.normal(0, 13))


def _lonely(rng: Generator) -> Meters:
    """A spot well away from every area."""
    while True:
        at = (float(rng.uniform(-900, 1400)), float(rng.uniform(-1200, 900)))
        if all(hypot(at[0] - x, at[1] - y) > 320 for x, y in MIDDLE.values()):
            return at


def _maker(rng: Generator, where: str, bedded: Bedded) -> tuple[str, date]:
    """Who made it, on a day in the rubbing time on which he was about there."""
    home = KNOB if where == "corridor" else where
    days = [
        (buck, day)
        for (buck, area), spent in bedded.items()
        for day in spent
        if area == home and _FIRST <= day <= _LAST
    ]
    if days:
        return days[int(rng.integers(len(days)))]
    buck = BUCKS[int(rng.choice(len(BUCKS), p=[0.3, 0.2, 0.25, 0.15, 0.1]))]
    return buck.name, _FIRST + timedelta(int(rng.integers((_LAST - _FIRST).days)))


def _seen(rng: Generator, made: date) -> date:
    """A later day on which the owner came by: some of it at a card pull, most after the season."""
    for day in _SIGN["walked"]:
        if day >= made and rng.random() < 0.22:
            return date.fromisoformat(str(day))
    return date.fromisoformat(str(_WINTER[int(rng.choice(4, p=[0.15, 0.35, 0.3, 0.2]))]))


def _surface(species: str, made: date, seen: date) -> str | None:
    """What the bare wood looks like: wet, bright, healing or dry; None if it is hard to say.

    Common practice, no source: rubs of early September begin to heal before winter, aspen later.
    """
    age = (seen - made).days
    if age <= 45:
        return "wet" if age <= 7 else "bright"
    if made <= (date(2025, 10, 12) if species == "aspen" else date(2025, 9, 23)):
        return "healing"
    return "dry" if made >= date(2025, 10, 10) else None


def _other(rng: Generator, kind: str, where: str, bedded: Bedded) -> SignSpec:
    reach = {"bed": 42.0, "scrape": 105.0}.get(kind, 60.0)
    if where in (EDGE, "corridor"):
        at, aim = _rub_place(rng, where, int(rng.integers(9)), 9)
    else:
        at = moved(MIDDLE[where], float(rng.uniform(0, 360)), float(rng.uniform(6, reach)))
        aim = float(rng.uniform(0, 360))
    maker: str | None = None
    if kind == "scrape":
        maker, made = _maker(rng, where, bedded)
        made = max(made, date(2025, 10, 6))
        seen = _seen(rng, made)
    else:
        seen = (*_SIGN["walked"], *_WINTER[1:3])[int(rng.integers(5))]
        made = seen - timedelta(int(rng.integers(0, 6)))
    lat, lon = _jittered(rng, at)
    size = {"scrape": (0.5, 1.1), "bed": (0.95, 1.3)}.get(kind)
    return SignSpec(
        kind, lat, lon, seen, made, maker, where,
        travel_deg=round(aim % 360) if kind == "track" else None,
        length_m=round(float(rng.uniform(*size)), 2) if size else None,
    )  # fmt: skip


def _jittered(rng: Generator, at: Meters) -> tuple[float, float]:
    """The place [deg] as a handheld has it."""
    return place(
        (at[0] + float(rng.normal(0, _GPS_ERROR)), at[1] + float(rng.normal(0, _GPS_ERROR)))
    )
