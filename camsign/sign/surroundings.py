"""What else is known around a place: other sign, seasons, density, paths walked, areas drawn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import pi

import numpy as np

from camsign.geo import Area, Places, distance_bearing, distance_to_area
from camsign.logbook.session import Session
from camsign.logbook.shapes import to_area, to_line
from camsign.sign.windows import only_winter
from camsign.stats.estimate import Estimate, rate_ratio
from camsign.units import UnitSystem, format_length

Place = tuple[float, float]
# Rubs within the first distance are compared with those between it and the second [m].
NEAR_M = 75.0
AROUND_M = 300.0
# Walked paths are measured in pieces no longer than this [m].
_PIECE_M = 10.0


class WeightedPoints:
    """Places [deg], each with a weight (1, or meters walked)."""

    def __init__(self, rows: Sequence[tuple[float, float, float]]) -> None:
        """Take rows of latitude, longitude, weight; at least one."""
        lat, lon, self.weight = np.array(sorted(rows), dtype=float).reshape(-1, 3).T
        self.places = Places(lat, lon)

    def within(self, at: Place, near_m: float, far_m: float | None = None) -> float:
        """The weight of what lies within `near_m`, or between it and `far_m`."""
        total = 0.0
        for _, j, distance, _ in self.places.near([at[0]], [at[1]], far_m or near_m):
            inside = j if far_m is None else j[distance > near_m]
            total += float(self.weight[inside].sum())
        return total


@dataclass(frozen=True, slots=True)
class Surroundings:
    """Everything that stands in a logbook and bears on a proposal."""

    kinds: Mapping[str, WeightedPoints] = field(default_factory=dict)
    paths: WeightedPoints | None = None
    made_in: Mapping[str, frozenset[int]] = field(default_factory=dict)
    areas: Sequence[tuple[str, str, Area]] = ()
    units: UnitSystem = "imperial"

    @classmethod
    def of(cls, session: Session) -> Surroundings:
        """Gather it from the database."""
        rows = session.con.execute(
            """SELECT w.kind, w.sign, w.lat, w.lon, list(DISTINCT w.season), s.bed_of,
                list([w.made_from, w.made_to])
            FROM made_windows w LEFT JOIN signs s USING (sign) GROUP BY ALL"""
        ).fetchall()
        kinds: dict[str, list[tuple[float, float, float]]] = {}
        for kind, _, lat, lon, _, bed_of, made in rows:
            # A doe's bed and one of winter say nothing of where a buck beds in fall.
            winter = all(only_winter(first, last, session.settings) for first, last in made)
            if kind != "bed" or not (bed_of == "doe" or winter):
                kinds.setdefault(kind, []).append((lat, lon, 1.0))
        areas = session.con.execute("SELECT name, kind, shape FROM areas_now").fetchall()
        walked = session.con.execute(
            "SELECT shape FROM walks WHERE gone IS NOT TRUE AND shape IS NOT NULL"
        ).fetchall()
        return cls(
            {kind: WeightedPoints(points) for kind, points in kinds.items()},
            _walked([shape for (shape,) in walked]),
            {row[1]: frozenset(row[4]) for row in rows},
            [(name, kind, to_area(shape)) for name, kind, shape in areas if shape],
            session.settings.units,
        )

    def length(self, m: float) -> str:
        """Write a length [m] in the units of the logbook."""
        return format_length(m, self.units)

    def count(self, kind: str, at: Place, within_m: float) -> int:
        """How many signs of a kind lie within so many meters."""
        points = self.kinds.get(kind)
        return int(points.within(at, within_m)) if points else 0

    def seasons(self, signs: Sequence[str]) -> int:
        """In how many seasons these signs were made."""
        return len({season for sign in signs for season in self.made_in.get(sign, ())})

    def density(self, at: Place) -> Estimate:
        """Rubs a square meter within 75 m over those between 75 and 300 m, exact interval."""
        here, around = _near_and_around(self.kinds.get("rub"), at)
        disc = pi * NEAR_M**2
        return rate_ratio(int(here), disc, int(around), pi * AROUND_M**2 - disc)

    def per_km(self, at: Place) -> Estimate | None:
        """Rubs a kilometer walked within 75 m over those of the surrounding; None if unwalked."""
        here, around = _near_and_around(self.paths, at)
        if "rub" not in self.kinds or not here or not around:
            return None
        near, others = _near_and_around(self.kinds["rub"], at)
        return rate_ratio(int(near), here / 1000, int(others), around / 1000)

    def known_as(self, kinds: Sequence[str], at: Place, within_m: float) -> str | None:
        """The name of an area of one of these kinds that is drawn here already."""
        for name, other, area in self.areas:
            if other in kinds and float(distance_to_area(area, at[0], at[1])) <= within_m:
                return name
        return None


def _near_and_around(points: WeightedPoints | None, at: Place) -> tuple[float, float]:
    """The weight of what lies within 75 m, and between 75 and 300 m."""
    if points is None:
        return 0.0, 0.0
    return points.within(at, NEAR_M), points.within(at, NEAR_M, AROUND_M)


def _walked(shapes: Sequence[str]) -> WeightedPoints | None:
    """Cut walked paths into short pieces, each a place with its meters."""
    rows: list[tuple[float, float, float]] = []
    for shape in shapes:
        line = np.array(to_line(shape))
        if len(line) < 2:
            continue
        lons, lats = line.T
        meters, _ = distance_bearing(lats[:-1], lons[:-1], lats[1:], lons[1:])
        for i, length in enumerate(meters):
            pieces = max(1, int(np.ceil(length / _PIECE_M)))
            part = (np.arange(pieces) + 0.5) / pieces
            lat = lats[i] + part * (lats[i + 1] - lats[i])
            lon = lons[i] + part * (lons[i + 1] - lons[i])
            rows += [(a, o, length / pieces) for a, o in zip(lat, lon, strict=True)]
    return WeightedPoints(rows) if rows else None
