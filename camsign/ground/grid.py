"""A grid of heights on a local plane, and what follows from it cell by cell.

Slope, aspect and shade are B. K. P. Horn, Hill shading and the reflectance map, Proc. IEEE 69
(1981) 14-47: third-order differences over the eight neighbors.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from camsign.arrays import Floats


@dataclass(frozen=True, slots=True)
class Grid:
    """Heights [m] (rows from north to south, NaN where unknown) on a plane in meters.

    `west`, `north` are the outer edges of the first column and row [m east, m north of the
    plane's origin]; `cell` the side of a cell [m].
    """

    heights: Floats
    west: float
    north: float
    cell: float

    def index_of(self, x: npt.ArrayLike, y: npt.ArrayLike) -> tuple[Floats, Floats]:
        """Fractional row and column of places x, y [m]; 0, 0 is the middle of the first cell."""
        column = (np.asarray(x, float) - self.west) / self.cell - 0.5
        row = (self.north - np.asarray(y, float)) / self.cell - 0.5
        return row, column

    def at(self, x: npt.ArrayLike, y: npt.ArrayLike) -> Floats:
        """Height [m] at places x, y [m] (same shape), between cells by both sides; NaN outside."""
        return sampled(self.heights, *self.index_of(x, y))


def sampled(values: Floats, row: Floats, column: Floats) -> Floats:
    """Values at fractional rows and columns, linear in both; NaN outside and beside a hole."""
    rows, columns = values.shape
    inside = (row >= 0) & (column >= 0) & (row <= rows - 1) & (column <= columns - 1)
    r0 = np.clip(np.floor(np.nan_to_num(row)), 0, rows - 2).astype(int)
    c0 = np.clip(np.floor(np.nan_to_num(column)), 0, columns - 2).astype(int)
    fr, fc = row - r0, column - c0
    top = values[r0, c0] * (1 - fc) + values[r0, c0 + 1] * fc
    low = values[r0 + 1, c0] * (1 - fc) + values[r0 + 1, c0 + 1] * fc
    return np.where(inside, top * (1 - fr) + low * fr, np.nan)


def gradient(grid: Grid) -> tuple[Floats, Floats]:
    """Rise to the east and to the north [m per m] of each cell; NaN on the rim. Source: Horn."""
    z = grid.heights
    east, north = np.full(z.shape, np.nan), np.full(z.shape, np.nan)
    a, b, c = z[:-2, :-2], z[:-2, 1:-1], z[:-2, 2:]
    d, f = z[1:-1, :-2], z[1:-1, 2:]
    g, h, i = z[2:, :-2], z[2:, 1:-1], z[2:, 2:]
    east[1:-1, 1:-1] = ((c + 2 * f + i) - (a + 2 * d + g)) / (8 * grid.cell)
    north[1:-1, 1:-1] = ((a + 2 * b + c) - (g + 2 * h + i)) / (8 * grid.cell)
    return east, north


def hillshade(grid: Grid, sun_bearing_deg: float = 315.0, sun_deg: float = 45.0) -> Floats:
    """How bright each cell lies in a light from a bearing and height [deg], 0 to 1; NaN on the rim.

    The cosine of the angle between the light and the cell's upright (Lambert), 0 where turned away.
    """
    east, north = gradient(grid)
    bearing, height = np.radians(sun_bearing_deg), np.radians(sun_deg)
    light = (
        np.sin(height)
        - east * np.cos(height) * np.sin(bearing)
        - north * np.cos(height) * np.cos(bearing)
    ) / np.sqrt(1 + east**2 + north**2)
    shade: Floats = np.clip(light, 0, 1)
    return shade
