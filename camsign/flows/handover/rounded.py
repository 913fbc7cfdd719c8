"""Places rounded to 1 km before they leave: nobody who gets the file learns the spot.

A place is put into the middle of its square of a fixed grid of 1 km, so that several exports of one
place say no more than one. Rounding to a grid is what is recommended for places that need care
(A. D. Chapman, Current Best Practices for Generalizing Sensitive Species Occurrence Data, GBIF,
2020).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from math import cos, floor, radians
from typing import Any

from camsign.flows.handover.placeless import without_places
from camsign.flows.handover.things import Thing
from camsign.formats.marked import ROUNDED, ROUNDED_WORDS

GRID_M = 1000
UNCERTAINTY_M = 708
"""How far off a rounded place may be: half the diagonal of a square [m]."""
# One degree of latitude on a sphere of the earth's mean radius, 6371.0088 km [m].
_DEGREE_M = 111_195.08


def rounded(lat: float, lon: float) -> tuple[float, float]:
    """Give the middle of the 1 km square in which a place lies [deg]."""
    row = floor(lat * _DEGREE_M / GRID_M)
    middle = (row + 0.5) * GRID_M / _DEGREE_M
    across = _DEGREE_M * max(cos(radians(middle)), 1e-3)
    column = floor(lon * across / GRID_M)
    return round(middle, 4), round((column + 0.5) * GRID_M / across, 4)


def rounded_thing(thing: Thing) -> Thing:
    """Give a thing at its rounded place: a path or an outline becomes the square's middle."""
    lats, lons = zip(*thing.where, strict=True)
    lat, lon = rounded((min(lats) + max(lats)) / 2, (min(lons) + max(lons)) / 2)
    point = {"type": "Point", "coordinates": [lon, lat]}
    words = ", ".join(part for part in (without_places(thing.words), ROUNDED_WORDS) if part)
    return replace(thing, words=words, shape=point, cells=_vague(thing.cells), id="")


def _vague(cells: Mapping[str, Any]) -> dict[str, Any]:
    kept = {k: without_places(v) if k in ("note", "seen_note") else v
            for k, v in cells.items() if k not in ("shape", "radius_m")}  # fmt: skip
    if "met" in kept:
        met = [{k: without_places(v) if k == "note" else v for k, v in one.items()}
               for one in json.loads(kept["met"])]  # fmt: skip
        kept["met"] = json.dumps(met)
    return {**kept, ROUNDED: GRID_M}
