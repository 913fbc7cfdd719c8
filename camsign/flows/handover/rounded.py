"""Places rounded to 1 km before they leave, and left out of words: nobody learns the spot.

A place is put into the middle of its square of a fixed grid of 1 km, so that several exports of one
place say no more than one. Rounding to a grid is what is recommended for places that need care
(A. D. Chapman, Current Best Practices for Generalizing Sensitive Species Occurrence Data, GBIF,
2020). In words they are found in every form in which a place is commonly written down: decimal
degrees, degrees with minutes (and seconds), UTM, the military grid (NGA.STND.0037), and Open
Location Code. A bearing such as 217° stays, a year and a count too.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import replace
from math import cos, floor, radians
from typing import Any

from camsign.flows.handover.things import Thing
from camsign.formats.marked import ROUNDED, ROUNDED_WORDS

GRID_M = 1000
UNCERTAINTY_M = 708
"""How far off a rounded place may be: half the diagonal of a square [m]."""
# One degree of latitude on a sphere of the earth's mean radius, 6371.0088 km [m].
_DEGREE_M = 111_195.08

_TURN = r"\d{1,3}\s*[°º]\s*\d{1,2}(?:[.,]\d+)?"
_SIDE = r"(?:\s*[NSEWnsew]\b)?"
_PLACES = re.compile(
    "|".join(
        (
            # 44°36'42.1"N, 44° 36.715' N
            rf"{_TURN}\s*['′’´](?:\s*\d{{1,2}}(?:[.,]\d+)?\s*(?:[\"″”]|''|’’)?)?{_SIDE}",
            # N44 36.715, W071° 13.875, N 44 36 42
            r"\b[NSEWnsew]\s*\d{1,3}(?:\s*[°º]\s*|[\s:-]+)\d{1,2}(?:[.,]\d+|[\s:-]+\d{1,2})(?:[.,]\d+)?",
            # 44 36 42 N, 44-36-42.1N, 44 36.715 N, 44.61 N
            r"\b\d{1,3}(?:[\s:-]+\d{1,2}){0,2}[.,]\d+\s*°?\s*[NSEWnsew]\b",
            r"\b\d{1,3}[\s:-]\d{1,2}[\s:-]\d{1,2}\s*[NSEWnsew]\b",
            # 19T 323456 4943210, 323456E 4943210N, 323456.0 mE / 4943210.5 mN
            r"(?:\b\d{1,2}\s?[C-HJ-NP-Xc-hj-np-x]\s*)?\b\d{6}(?:\.\d+)?\s*(?:m?\s*[Ee])?[\s,;/]*(?:[Nn](?:orthing)?\s*)?\d{6,7}(?:\.\d+)?(?:\s*m?\s*[NnSs]\b)?",
            # 19T CJ 23456 43210, 19TCJ2345643210
            r"\b\d{1,2}[C-HJ-NP-X]\s?[A-HJ-NP-Z]{2}\s?\d{2,5}\s?\d{2,5}\b",
            # 87PCJQ6Q+5V
            r"\b[23456789CFGHJMPQRVWX]{4,8}\+[23456789CFGHJMPQRVWX]{2,3}\b",
            # 44.6123, -71,23125; 44.612 with three digits only where it is no share of one
            r"[-+−]?\b\d{1,3}[.,]\d{4,}",
            r"[-+−]?\b[1-9]\d{0,2}\.\d{3}(?!\d)",
        )
    )
)  # fmt: skip


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


def without_places(text: str) -> str:
    """Give words with all taken out that may be part of a place."""
    return _PLACES.sub("…", text)
