"""How far a patch lies, on average, from what the pictures in like light show there.

Pixel by pixel waving leaves explain nearly anything: here a leaf, there the sky. Their mean over a
patch hardly moves, and an animal before them moves it. The patch farthest outside what the others
show is weighed against how much it varies there, and against the rest of the picture, since sun
and snow move patches all over it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.opencv import opencv
from camsign.pixels.ranks import at_share
from camsign.pixels.rare import Small

APART = 4.5
"""A patch so far from the others shows a thing. Set so that every deer is kept that was drawn
before real leaves in 30 trials, or on four cameras in the wind (docs/accuracy.md)."""

_PATCH = (3, 3)  # pixels at half the size
_STEADY = 2.0  # gray levels: a patch is taken to vary by that much at least
_REST = 0.9  # the rest of the picture is this quantile of it

Map = NDArray[np.float32]


def farthest(burst: Sequence[Small], like: Sequence[Small]) -> list[float]:
    """Give for each frame of a burst how far its farthest patch lies from what the others show.

    Args:
        burst: its frames.
        like: at least two pictures of other times in like light. The one that comes nearest does
            not count, so that an animal that stood there once does not explain the next.

    Returns:
        How many times a patch's usual spread, less where much of the picture is off; 0 for not
        at all.
    """
    low, high, spread = _shown([_patches(one) for one in like])
    found = []
    for frame in burst:
        here = _patches(frame)
        off = np.maximum(np.maximum(low - here, here - high), 0) / (spread + np.float32(_STEADY))
        found.append(float(off.max() / (1 + at_share(off, _REST))))
    return found


def _shown(others: Sequence[Map]) -> tuple[Map, Map, Map]:
    """Give the second lowest and highest at each place, and how much they vary: in one pass."""
    cv2, shape = opencv(), others[0].shape
    first, low = (np.full(shape, np.inf, np.float32) for _ in range(2))
    last, high = (np.full(shape, -np.inf, np.float32) for _ in range(2))
    total, squares = (np.zeros(shape, np.float32) for _ in range(2))
    for one in others:
        low, first = cv2.min(low, cv2.max(first, one)), cv2.min(first, one)
        high, last = cv2.max(high, cv2.min(last, one)), cv2.max(last, one)
        cv2.accumulate(one, total)
        cv2.accumulateSquare(one, squares)
    mean = total / len(others)
    return low, high, np.sqrt(np.maximum(squares / len(others) - mean * mean, 0))


def _patches(one: Small) -> Map:
    """Give the mean shade around each pixel."""
    rows = one.both.shape[0] // 2
    return np.asarray(opencv().blur(one.both[:rows].astype(np.float32), _PATCH), np.float32)
