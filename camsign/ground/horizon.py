"""What the ground hides: the horizon around a place, the sun behind it, and who sees whom."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from camsign.arrays import Bools, Floats
from camsign.ground.grid import Grid

# The Earth's curve drops ground by d²/2R; light bends along by about 0.13 of it (a usual value in
# surveying; gdal_viewshed takes 1 - 1/7).
EARTH_M = 6_371_000.0
BENDING = 0.13
EYE_M = 1.7
_BEARINGS = 360


def drop_m(distance: npt.ArrayLike) -> Floats:
    """How far ground a distance [m] away lies below a level line through the eye [m]."""
    drop: Floats = np.asarray(distance, float) ** 2 * (1 - BENDING) / (2 * EARTH_M)
    return drop


def horizon_deg(
    grid: Grid,
    x: float,
    y: float,
    eye_m: float = EYE_M,
    bearings: npt.NDArray[np.int_] | None = None,
) -> Floats:
    """Height of the horizon [deg] seen from x, y [m], for 360 bearings clockwise from grid north.

    `bearings`: only these [deg]. Never below 0: beyond the grid the land is taken as level. NaN
    where the place lies outside it.
    """
    wanted = np.arange(_BEARINGS) if bearings is None else bearings
    own = float(grid.at(x, y)) + eye_m
    if not np.isfinite(own):
        return np.full(len(wanted), np.nan)
    far = np.hypot(*grid.heights.shape) * grid.cell
    steps = np.arange(grid.cell, far, grid.cell)
    turn = np.radians(wanted)[:, None]
    heights = grid.at(x + steps * np.sin(turn), y + steps * np.cos(turn))
    angle = np.degrees(np.arctan2(heights - drop_m(steps) - own, steps))
    seen: Floats = np.maximum(np.nanmax(np.where(np.isfinite(angle), angle, -90.0), axis=1), 0.0)
    return seen


def in_sun(horizon: Floats, sun_bearing_deg: npt.ArrayLike, sun_deg: npt.ArrayLike) -> Bools:
    """Whether the sun (bearing, height [deg]) stands above a horizon of 360 bearings."""
    bearing = np.asarray(sun_bearing_deg, float) % 360
    low = np.floor(bearing).astype(int) % _BEARINGS
    part = bearing - np.floor(bearing)
    edge = horizon[low] * (1 - part) + horizon[(low + 1) % _BEARINGS] * part
    above: Bools = np.asarray(sun_deg, float) > edge
    return above


def seen_from(
    grid: Grid,
    eye: tuple[float, float],
    points: Floats,
    eye_m: float = EYE_M,
    target_m: float = EYE_M,
) -> Bools:
    """Which of the points (n x 2, x and y [m]) the eye at x, y [m] sees over the ground.

    Trees hide more; this says only what the ground leaves open. False outside the grid.
    """
    own = float(grid.at(*eye)) + eye_m
    return np.array([_sees(grid, eye, own, a, b, target_m) for a, b in points.tolist()], bool)


def _sees(
    grid: Grid, eye: tuple[float, float], own: float, x: float, y: float, target_m: float
) -> bool:
    distance = float(np.hypot(x - eye[0], y - eye[1]))
    top = float(grid.at(x, y)) + target_m - float(drop_m(distance))
    if not (np.isfinite(own) and np.isfinite(top)):
        return False
    n = max(2, int(np.ceil(distance / (grid.cell / 2))))
    share = np.arange(1, n) / n
    between = grid.at(eye[0] + share * (x - eye[0]), eye[1] + share * (y - eye[1]))
    sight = own + share * (top - own)
    ground = between - drop_m(share * distance)
    return bool(np.all(~np.isfinite(ground) | (ground <= sight)))
