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
from camsign.pixels.rare import PATCH, Small, Sums

APART = 4.5
"""A patch so far from the others shows a thing. Set so that every deer is kept that was drawn
before real leaves in 30 trials, or on four cameras in the wind (docs/accuracy.md)."""

_STEADY = 2.0 * PATCH * PATCH  # 2 gray levels: a patch is taken to vary by that much at least
_REST = 0.9  # the rest of the picture is this quantile of it


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
    cv2 = opencv()
    low, high, spread = _shown([one.patches for one in like])
    found = []
    for here in (frame.patches for frame in burst):
        outside = cv2.max(cv2.subtract(low, here), cv2.subtract(here, high))
        off = outside / (spread + np.float32(_STEADY))
        found.append(float(off.max() / (1 + at_share(off, _REST))))
    return found


def _shown(others: Sequence[Sums]) -> tuple[Sums, Sums, NDArray[np.float32]]:
    """Give the second lowest and highest at each place, and how much they vary: in one pass."""
    cv2, shape = opencv(), others[0].shape
    first, low = (np.full(shape, np.iinfo(np.uint16).max, np.uint16) for _ in range(2))
    last, high, spare = (np.zeros(shape, np.uint16) for _ in range(3))
    total, squares = (np.zeros(shape) for _ in range(2))
    for one in others:
        cv2.min(low, cv2.max(first, one, dst=spare), dst=low)
        cv2.min(first, one, dst=first)
        cv2.max(high, cv2.min(last, one, dst=spare), dst=high)
        cv2.max(last, one, dst=last)
        cv2.accumulate(one, total)
        cv2.accumulateSquare(one, squares)
    mean = total / len(others)
    spread = np.sqrt(np.maximum(squares / len(others) - mean * mean, 0))
    return low, high, spread.astype(np.float32)
