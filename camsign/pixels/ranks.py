"""The value at a rank of some pixels: NumPy's own do so much more that on small pictures most of
their time is spent elsewhere."""

from __future__ import annotations

from math import floor
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from camsign.pixels.opencv import opencv


def median(values: ArrayLike) -> float:
    """Give the middle of at least one value; of an even number, halfway between both."""
    flat = np.asarray(values).ravel()
    middle = flat.size // 2
    if flat.size % 2:
        return float(np.partition(flat, middle)[middle])
    parted = np.partition(flat, (middle - 1, middle))
    return (float(parted[middle - 1]) + float(parted[middle])) / 2


def at_share(values: NDArray[Any], share: float) -> float:
    """Give the value that so large a share of at least one does not exceed, between two linearly.

    The share [0..1] of the way from the smallest to the largest, as numpy.quantile has it.
    """
    flat = values.ravel()
    place = share * (flat.size - 1)
    below = floor(place)
    above = min(below + 1, flat.size - 1)
    parted = np.partition(flat, (below, above))
    low, high = float(parted[below]), float(parted[above])
    return low + (high - low) * (place - below)


def counted_below(gray: NDArray[np.uint8]) -> NDArray[np.int64]:
    """Count by gray value (256) how many pixels do not exceed it, of every fourth."""
    some = np.ascontiguousarray(gray[::2, ::2])
    counts = opencv().calcHist([some], [0], None, [256], [0, 256]).ravel()
    return np.cumsum(counts.astype(np.int64))
