"""A glance as the two planes that frames of one camera are compared in.

- shade: square root of the grey values (so that noise is about equally strong everywhere), brought
  to one median, so that a lamp that dims or an exposure that wanders is no news.
- grain: the fine part (below about 2 pixels) of the logarithm of the grey values. Sun on the
  ground multiplies the grey values over patches with soft rims, which leaves this plane as it was;
  an animal replaces what was there.

Both stand in one array, shade above grain, so that each step is one call for both.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.opencv import opencv

TINY = (16, 12)
"""Columns and rows of the summary by which frames in like light are found."""

_MIDDLE = 110.0  # the shade that every frame's median is brought to
_DARKEST, _GLOOM = 16.0, 40.0  # offsets [grey levels]: below them differences are noise

Plane = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Planes:
    """Shade above grain (2 x rows, columns), 0..255, and a tiny summary of the shade."""

    both: Plane
    tiny: NDArray[np.float32]

    @property
    def grain(self) -> Plane:
        """Give the lower half."""
        return self.both[self.both.shape[0] // 2 :]


def planes_of(grey: NDArray[Any]) -> Planes:
    """Compute the planes of a glance (rows, columns) without its info strips."""
    cv2 = opencv()
    root, log = _tables()
    median = float(np.median(root[grey[::2, ::2]]))
    gain = float(np.clip(_MIDDLE / max(median, 4.0), 0.25, 4.0))
    shade = cv2.LUT(grey, np.clip(root * gain, 0, 255).astype(np.uint8))
    fine = cv2.LUT(grey, log)
    fine = fine - cv2.GaussianBlur(fine, (5, 5), 1.2)
    grain = cv2.blur(cv2.convertScaleAbs(fine + 64.0, alpha=2.0), (2, 2))
    tiny = cv2.resize(shade, TINY, interpolation=cv2.INTER_AREA).astype(np.float32)
    return Planes(np.vstack([shade, grain]), tiny.ravel())


@cache
def _tables() -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    grey = np.arange(256, dtype=np.float32)
    root = (np.sqrt(grey + _DARKEST) - np.sqrt(_DARKEST)) * 20.6
    log = np.log((grey + _GLOOM) / _GLOOM) * 127.6
    return root.astype(np.float32), log.astype(np.float32)
