"""Where air slides when it is colder than its surroundings, or climbs when the sun warms a slope.

Slope winds follow the fall line: down once the sun has left the slope, up after it has reached it,
most plainly in light wind and clear sky (C. D. Whiteman, Mountain meteorology, Oxford 2000,
chapter 11; D. Zardi and C. D. Whiteman, Diurnal mountain wind systems, 2013, chapter 2).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from camsign.arrays import Bools, Floats
from camsign.ground.grid import Grid, gradient, sampled

# Flow follows the lay of the land, not each hump: heights are smoothed over this far [m].
SMOOTH_M = 40.0
# Gentler slopes move no air that anyone could count on; common practice, no source [deg].
LEAST_SLOPE_DEG = 2.0
# A stream of cold air is this wide at once and spreads by this share of its way (no source).
WIDTH_M, SPREADS = 20.0, 0.2


@dataclass(frozen=True, slots=True)
class Slopes:
    """The lay of the land as air feels it: smoothed rise to the east and north [m per m]."""

    grid: Grid
    east: Floats
    north: Floats


def slopes_of(grid: Grid) -> Slopes:
    """Smooth the heights and give their slopes; NaN on the rim and in holes."""
    from scipy.ndimage import gaussian_filter

    known = np.isfinite(grid.heights)
    sigma = SMOOTH_M / grid.cell / 2
    weight = gaussian_filter(known.astype(float), sigma, mode="nearest")
    filled = gaussian_filter(np.where(known, grid.heights, 0.0), sigma, mode="nearest")
    smooth = np.where(known, filled / np.maximum(weight, 1e-9), np.nan)
    return Slopes(grid, *gradient(replace(grid, heights=smooth)))


def stream(
    slopes: Slopes, x: float, y: float, uphill: bool = False, far_m: float = 400.0
) -> Floats:
    """The way air takes from x, y [m] along the fall line, or up it, for at most far_m [m]: points
    (n x 2, x and y [m]), the first where it starts.

    It ends where the ground is all but level, where it would turn back, and at the grid's edge.
    """
    grid = slopes.grid
    here, points, step = np.array([x, y]), [np.array([x, y])], grid.cell
    sign = 1.0 if uphill else -1.0
    least = np.tan(np.radians(LEAST_SLOPE_DEG))
    for _ in range(int(far_m / step)):
        row, column = grid.index_of(here[0], here[1])
        rise = sign * np.array(
            [float(sampled(g, row, column)) for g in (slopes.east, slopes.north)]
        )
        steep = float(np.hypot(*rise))
        if not np.isfinite(steep) or steep < least:
            break
        here = here + rise / steep * step
        if len(points) > 3 and np.hypot(*(here - points[-3])) < step:
            break
        points.append(here)
    return np.array(points)


def in_stream(flow: Floats, x: npt.ArrayLike, y: npt.ArrayLike) -> Bools:
    """Whether places x, y [m] (same shape) lie in a stream, which widens on its way."""
    x, y = np.asarray(x, float), np.asarray(y, float)
    if len(flow) < 2:
        return np.zeros(x.shape, bool)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(flow, axis=0).T))])
    off = np.hypot(flow[:, 0] - x[..., None], flow[:, 1] - y[..., None])
    return np.asarray((off <= WIDTH_M + SPREADS * along).any(-1), bool)
