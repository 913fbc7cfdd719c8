"""The invented sign: rubs that lead out of the true beds, a line, an edge rubbed both ways.

Each sign has a maker and a day on which he made it, taken from where he bedded in the season.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from math import atan2, degrees, hypot
from typing import TYPE_CHECKING

from camsign.demo.land import (
    BUCKS,
    CORRIDOR_AXIS,
    EDGE,
    EDGE_AXIS,
    EDGE_LENGTH,
    KNOB,
    MIDDLE,
    SHELF,
    SWALE,
    Metres,
    moved,
    place,
)
from camsign.demo.specs import SignSpec

if TYPE_CHECKING:
    from numpy.random import Generator

Bedded = Mapping[tuple[str, str], tuple[date, ...]]

RUBBING = (date(2025, 9, 5), date(2025, 11, 25))
# Days on which the owner was there: with a camera to see to, or to walk the woods after the season.
WALKED = (date(2025, 10, 4), date(2025, 11, 8), date(2025, 12, 5))
WINTER_WALKS = (date(2026, 1, 17), date(2026, 3, 14), date(2026, 3, 28), date(2026, 4, 11))
_SPECIES = {
    KNOB: ("fir", "aspen", "striped maple", "aspen"),
    SHELF: ("spruce", "fir", "aspen", "alder"),
    EDGE: ("beech", "aspen", "alder", "striped maple"),
    "corridor": ("red maple", "fir", "striped maple", "cedar"),
    "": ("alder", "cedar", "pine", "aspen"),
}
_AXIS = {EDGE: EDGE_AXIS, "corridor": CORRIDOR_AXIS}
# (where, rubs): 55 rubs of 80 signs.
_RUBS = ((KNOB, 15), (SHELF, 13), ("corridor", 9), (EDGE, 12), ("", 6))
_OTHERS = (
    ("scrape", EDGE, 4), ("scrape", "corridor", 3), ("scrape", KNOB, 1), ("scrape", SHELF, 1),
    ("scrape", SWALE, 1), ("bed", KNOB, 5), ("bed", SHELF, 3), ("track", SWALE, 2),
    ("track", EDGE, 1), ("droppings", EDGE, 2), ("droppings", KNOB, 1), ("browse", EDGE, 1),
)  # fmt: skip
_GPS_ERROR = 3.5  # [m]


def make_signs(rng: Generator, bedded: Bedded) -> list[SignSpec]:
    """80 signs, in the order in which they were seen."""
    out = [_rub(rng, where, i, n, bedded) for where, n in _RUBS for i in range(n)]
    out += [_other(rng, kind, where, bedded) for kind, where, n in _OTHERS for _ in range(n)]
    for i in (3, 20):  # two rubs of an earlier year, grey by now
        out[i] = _former(out[i])
    out.sort(key=lambda one: (one.seen_on, one.lat))
    return [replace(one, in_gpx=one.seen_on.year == 2025) for one in out]


def _rub(rng: Generator, where: str, i: int, n: int, bedded: Bedded) -> SignSpec:
    at, aim = _rub_place(rng, where, i, n)
    maker, made = _maker(rng, where, bedded)
    seen = _seen(rng, made)
    buck = next((one for one in BUCKS if one.name == maker), BUCKS[2])
    top = max(0.45, float(rng.normal(*buck.top_cm)) / 100)
    thick = float(rng.uniform(0.02, 0.05)) * (1 + 0.35 * (buck.age - 1))
    species = str(rng.choice(_SPECIES[where]))
    lat, lon = place(_jittered(rng, at))
    return SignSpec(
        "rub", lat, lon, seen, made, maker, where, round(aim % 360), species,
        _surface(species, made, seen), round(thick, 3), round(top, 2),
        round(top - float(rng.uniform(0.25, 0.45)), 2),
        marks="nicks" if maker == BUCKS[0].name and rng.random() < 0.7 else "",
    )  # fmt: skip


def _rub_place(rng: Generator, where: str, i: int, n: int) -> tuple[Metres, float]:
    """Where the i-th of n rubs stands and which way its maker went."""
    if where in (KNOB, SHELF):
        at = moved(MIDDLE[where], (i + rng.uniform(0, 1)) * 360 / n, float(rng.uniform(22, 105)))
        middle = MIDDLE[where]
        outward = degrees(atan2(at[0] - middle[0], at[1] - middle[1]))
        back = 180 if i == 6 else 0  # one was rubbed on the way in
        return at, outward + back + float(rng.normal(0, 13))
    if where == "corridor":
        start = moved(MIDDLE[KNOB], CORRIDOR_AXIS, 170)
        along = moved(start, CORRIDOR_AXIS, i * 85 + float(rng.uniform(-20, 20)))
        return moved(along, CORRIDOR_AXIS + 90, float(rng.normal(0, 8))), CORRIDOR_AXIS + float(
            rng.normal(0, 11)
        )
    if where == EDGE:
        along = moved(MIDDLE[EDGE], EDGE_AXIS, float(rng.uniform(-0.5, 0.5)) * EDGE_LENGTH)
        aim = EDGE_AXIS + (180 if i % 2 else 0) + float(rng.normal(0, 12))
        return moved(along, EDGE_AXIS + 90, float(rng.normal(0, 10))), aim
    return _lonely(rng), float(rng.uniform(0, 360))


def _lonely(rng: Generator) -> Metres:
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
        if area == home and RUBBING[0] <= day <= RUBBING[1]
    ]
    if days:
        return days[int(rng.integers(len(days)))]
    buck = BUCKS[int(rng.choice(len(BUCKS), p=[0.3, 0.2, 0.25, 0.15, 0.1]))]
    return buck.name, RUBBING[0] + timedelta(int(rng.integers((RUBBING[1] - RUBBING[0]).days)))


def _seen(rng: Generator, made: date) -> date:
    """A later day on which the owner came by: some of it at a card pull, most after the season."""
    for day in WALKED:
        if day >= made and rng.random() < 0.22:
            return day
    return WINTER_WALKS[int(rng.choice(4, p=[0.15, 0.35, 0.3, 0.2]))]


def _surface(species: str, made: date, seen: date) -> str | None:
    """What the bare wood looks like: wet, bright, healing or dry; None if it is hard to say.

    Common practice, no source: rubs of early September begin to heal before winter, aspen later.
    """
    age = (seen - made).days
    if age <= 7:
        return "wet"
    if age <= 45:
        return "bright"
    if made <= (date(2025, 10, 12) if species == "aspen" else date(2025, 9, 23)):
        return "healing"
    return "dry" if made >= date(2025, 10, 10) else None


def _former(rub: SignSpec) -> SignSpec:
    return replace(
        rub,
        made_on=rub.made_on.replace(year=2024),
        maker=None,
        surface="grey",
        seen_on=WINTER_WALKS[1],
        marks="",
    )


def _other(rng: Generator, kind: str, where: str, bedded: Bedded) -> SignSpec:
    reach = {"bed": 42.0, "scrape": 105.0}.get(kind, 60.0)
    if where in _AXIS:
        at, aim = _rub_place(rng, where, int(rng.integers(9)), 9)
    else:
        at = moved(MIDDLE[where], float(rng.uniform(0, 360)), float(rng.uniform(6, reach)))
        aim = float(rng.uniform(0, 360))
    if kind == "scrape":
        maker, made = _maker(rng, where, bedded)
        made = max(made, date(2025, 10, 6))
        seen = _seen(rng, made)
    else:
        maker = None
        seen = (*WALKED, *WINTER_WALKS[1:3])[int(rng.integers(5))]
        made = seen - timedelta(int(rng.integers(0, 6)))
    lat, lon = place(_jittered(rng, at))
    size = {"scrape": (0.5, 1.1), "bed": (0.95, 1.3)}.get(kind)
    return SignSpec(
        kind, lat, lon, seen, made, maker, where,
        travel_deg=round(aim % 360) if kind == "track" else None,
        length_m=round(float(rng.uniform(*size)), 2) if size else None,
    )  # fmt: skip


def _jittered(rng: Generator, at: Metres) -> Metres:
    return at[0] + float(rng.normal(0, _GPS_ERROR)), at[1] + float(rng.normal(0, _GPS_ERROR))
