"""Places in degrees to meters east and north, one plane for each stretch of land with sign.

Azimuthal equidistant projection about the middle of the stretch: distances and bearings near it are
true to 1e-4 within 100 km (J. P. Snyder, Map projections, USGS PP 1395, 1987, ch. 25).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pyproj

from camsign.arrays import Floats, Ints
from camsign.geo import equidistant

# Sign farther apart than about this many degrees never belongs together.
_CELL_DEG = 0.05


@dataclass(frozen=True, slots=True)
class Plane:
    """A plane touching the earth at one place."""

    projection: pyproj.Proj

    def to_meters(self, lat: Floats, lon: Floats) -> tuple[Floats, Floats]:
        """East and north [m] of places [deg]."""
        east, north = self.projection(np.asarray(lon, float), np.asarray(lat, float))
        return np.asarray(east), np.asarray(north)

    def to_degrees(self, east: float, north: float) -> tuple[float, float]:
        """Latitude and longitude [deg] of a point [m]."""
        lon, lat = self.projection(east, north, inverse=True)
        return float(lat), float(lon)


def plane_at(lat: float, lon: float) -> Plane:
    """Give the plane that touches the earth here [deg]."""
    return Plane(equidistant(lat, lon))


def stretches(lat: Floats, lon: Floats) -> Iterator[tuple[Ints, Plane]]:
    """Part places [deg] into stretches kilometers apart; give indices and plane of each."""
    cells: dict[tuple[int, int], list[int]] = {}
    wide = round(360 / _CELL_DEG)
    for i, (row, column) in enumerate(
        zip(np.floor(lat / _CELL_DEG), np.floor(lon / _CELL_DEG), strict=True)
    ):
        cells.setdefault((int(row), int(column) % wide), []).append(i)
    while cells:
        members = np.array(sorted(_flood(cells, wide)))
        # The middle longitude as an angle, since a stretch may lie across the 180th meridian.
        angle = np.radians(lon[members])
        middle = np.degrees(np.arctan2(np.sin(angle).mean(), np.cos(angle).mean()))
        yield members, plane_at(float(lat[members].mean()), float(middle))


def _flood(cells: dict[tuple[int, int], list[int]], wide: int) -> list[int]:
    """Take one stretch out of the cells: a cell and all that hang together with it."""
    members: list[int] = []
    waiting = [next(iter(cells))]
    members += cells.pop(waiting[0])
    while waiting:
        row, column = waiting.pop()
        for i in (-1, 0, 1):
            for j in (-1, 0, 1):
                beside = (row + i, (column + j) % wide)
                if beside in cells:
                    members += cells.pop(beside)
                    waiting.append(beside)
    return members
