"""Where radiants may lie: the likelihood of every place at once, by convolution.

The gain of a source is a sum over rubs of a function of where the source lies from the rub and of
the rub's travel. Rubs are counted in cells and in 16 bearings; each bearing's counts are convolved
with that function. The same is done for axes: rubs close together whose travels agree or oppose.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from camsign.arrays import Bools, Floats
from camsign.sign.origin_likelihood import Law, Rubs, density, density_at, gain, odds_at

CELL_M = 12.5
BEARINGS = 16
AXES = 8
# A tile's core; with its margins a transform stays small whatever the property's size.
_TILE_M = 5000.0
# Peaks nearer than this are one.
APART_M = 60.0


@dataclass(frozen=True, slots=True)
class Peaks:
    """Places that gain more than a threshold, best first: east, north [m], gain, axis or not."""

    east: Floats
    north: Floats
    gain: Floats
    is_axis: Bools

    def __len__(self) -> int:
        return len(self.gain)


def peaks(rubs: Rubs, weights: Floats, law: Law, least: float, axes: bool = True) -> Peaks:
    """Find local maxima of the gain above `least`, those of `axes` as well.

    `weights`: how far each rub is still unexplained, 0 to 1.
    """
    found: list[Any] = [np.empty((0, 4))]
    for tile, inside, core in _tiles(rubs, law):
        ready = _transformed(tile, weights[inside], law)
        if ready is not None:
            found.append(_of_tile(ready, core, law, least, axes))
    rows = np.concatenate(found)
    rows = rows[np.argsort(-rows[:, 2], kind="stable")]
    return Peaks(rows[:, 0], rows[:, 1], rows[:, 2], rows[:, 3] > 0)


@dataclass(frozen=True, slots=True)
class _Counts:
    """A tile's counts by bearing, transformed, and how its cells lie."""

    spectra: npt.NDArray[np.complex64]
    shape: tuple[int, int]
    rows: int
    columns: int
    east: float
    north: float


def _tiles(rubs: Rubs, law: Law) -> Iterator[tuple[Rubs, Any, tuple[float, float]]]:
    """Give the rubs of each tile with its margin, which they are, and the corner of its core."""
    # A source may lie outside of all its rubs, by less than the reach.
    points = np.stack([rubs.east, rubs.north], axis=1)
    low = points.min(axis=0) - law.reach_m
    shifts = law.reach_m * np.array([(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1)])
    tiles = np.floor((points[:, None] + shifts - low) / _TILE_M).reshape(-1, 2)
    for corner in low + _TILE_M * np.unique(tiles, axis=0):
        # A margin of twice the reach, so that what lies near an edge has all its rubs.
        near = (points >= corner - 2 * law.reach_m) & (points < corner + _TILE_M + 2 * law.reach_m)
        inside = np.flatnonzero(near.all(axis=1))
        yield rubs.some(inside), inside, (float(corner[0]), float(corner[1]))


def _transformed(rubs: Rubs, weights: Floats, law: Law) -> _Counts | None:
    from scipy import fft

    heavy = weights > 0.02
    if not heavy.any():
        return None
    rubs, weights = rubs.some(heavy), weights[heavy]
    half = _half(law)
    east, north = rubs.east.min() - law.reach_m, rubs.north.min() - law.reach_m
    column = ((rubs.east - east) / CELL_M).astype(int)
    row = ((rubs.north - north) / CELL_M).astype(int)
    rows, columns = int(row.max()) + half + 1, int(column.max()) + half + 1
    # Few different shapes, so that the kernels of one tile serve the next.
    shape = tuple(fft.next_fast_len(-(-(n + 2 * half) // 64) * 64) for n in (rows, columns))
    bearing = np.round(rubs.travel / (2 * np.pi) * BEARINGS).astype(int) % BEARINGS
    counts = np.zeros((BEARINGS, rows, columns), dtype=np.float32)
    np.add.at(counts, (bearing, row, column), weights)
    spectra = fft.rfft2(counts, s=shape)
    return _Counts(spectra, (shape[0], shape[1]), rows, columns, float(east), float(north))


def _of_tile(
    counts: _Counts, core: tuple[float, float], law: Law, least: float, axes: bool
) -> Floats:
    """Give the peaks of one tile's core as rows of east, north, gain, axis."""
    summed = np.einsum("bij,bij->ij", counts.spectra, _radiant_kernels(counts.shape, law))
    best = _back(counts, summed, law)
    is_axis = np.zeros(best.shape, dtype=bool)
    kernels = _axis_kernels(counts.shape, law)
    both_ways = counts.spectra[:AXES] + counts.spectra[AXES:]
    for axis in range(AXES if axes else 0):
        summed = sum(kernels[k] * sum(both_ways[b] for b in bs) for k, bs in _beside(axis))
        gained = _back(counts, summed, law)
        is_axis |= gained > best
        best = np.maximum(best, gained)
    return _maxima(counts, best, is_axis, core, least)


def _maxima(
    counts: _Counts, best: Floats, is_axis: Any, core: tuple[float, float], least: float
) -> Floats:
    from scipy.ndimage import maximum_filter

    around = maximum_filter(best, size=2 * round(APART_M / CELL_M) + 1)
    row, column = np.nonzero((best == around) & (best > least))
    east = counts.east + (column + 0.5) * CELL_M
    north = counts.north + (row + 0.5) * CELL_M
    kept = (east >= core[0]) & (east < core[0] + _TILE_M)
    kept &= (north >= core[1]) & (north < core[1] + _TILE_M)
    return np.stack([east, north, best[row, column], is_axis[row, column]], axis=1)[kept]


def _back(counts: _Counts, spectrum: Any, law: Law) -> Floats:
    from scipy import fft

    half = _half(law)
    field = fft.irfft2(spectrum, s=counts.shape)
    return np.asarray(field[half : half + counts.rows, half : half + counts.columns])


def _half(law: Law) -> int:
    return round(law.reach_m / CELL_M)


@lru_cache(maxsize=4)
def _radiant_kernels(shape: tuple[int, int], law: Law) -> npt.NDArray[np.complex64]:
    """The gain of a source by where it lies from the rub, for each bearing, transformed."""
    from scipy import fft

    east, north, distance = _offsets(law)
    away = np.arctan2(-east, -north)
    bearing = np.arange(BEARINGS)[:, None, None] * (2 * np.pi / BEARINGS)
    odds, nothing = odds_at(distance, law), np.zeros_like(distance)
    dense = density_at(distance, np.cos(bearing - away), law)
    kernel = gain(odds, dense, nothing, nothing).astype(np.float32)
    return np.asarray(fft.rfft2(kernel, s=shape))


@lru_cache(maxsize=4)
def _axis_kernels(shape: tuple[int, int], law: Law) -> npt.NDArray[np.complex64]:
    """The gain of an axis at some distance, by how many steps a bearing lies off it."""
    from scipy import fft

    _, _, distance = _offsets(law)
    steps = np.asarray(np.arange(AXES // 2 + 1)[:, None, None] * (np.pi / AXES))
    odds, nothing = odds_at(distance, law, law.axis_length_m), np.zeros_like(distance)
    kernel = gain(odds, density(np.cos(steps), law.kappa, 0.5), nothing, nothing).astype(np.float32)
    return np.asarray(fft.rfft2(kernel, s=shape))


def _beside(axis: int) -> list[tuple[int, list[int]]]:
    """Give, for each number of steps off the axis, the axes that lie so far off it."""
    off = [min((b - axis) % AXES, (axis - b) % AXES) for b in range(AXES)]
    return [(k, [b for b in range(AXES) if off[b] == k]) for k in range(AXES // 2 + 1)]


def _offsets(law: Law) -> tuple[Floats, Floats, Floats]:
    line = np.arange(-_half(law), _half(law) + 1) * CELL_M
    east, north = np.meshgrid(line, line)
    return east, north, np.hypot(east, north)
