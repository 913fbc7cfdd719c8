"""Where a camera prints its info strip, so that no measure takes letters for woods."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.ranks import median

MAX_SHARE = 0.14
"""A strip is at most this share of the picture's height."""

_NEAR = 16  # gray levels that still count as the strip's ground


def find_strips(gray: NDArray[Any]) -> tuple[int, int]:
    """Find bands of one shade that run along the top and the bottom edge.

    Args:
        gray: (rows, columns), 0..255.

    Returns:
        Rows that belong to the strip at the top and at the bottom [pixels]; 0 where there is none.
        A strip as dark as the scene beside it has no edge and is not found in a single picture.
    """
    if gray.shape[0] < 24 or gray.shape[1] < 24:
        return 0, 0
    tall = int(gray.shape[0] * MAX_SHARE) + 4
    return _band(gray[:tall]), _band(gray[: -tall - 1 : -1])


def without_strips(picture: NDArray[Any], strips: tuple[int, int]) -> NDArray[Any]:
    """Give the picture's rows between the strips, as a view."""
    top, bottom = strips
    return picture[top : picture.shape[0] - bottom]


def _band(rows: NDArray[Any]) -> int:
    """Count the rows of a band at the start of `rows`.

    Its last row is nearly free of letters and the second and third rows behind it are of another
    shade; one row between may be a mixture of both.
    """
    ground = median(rows[:2])
    share = (np.abs(rows.astype(np.float32) - ground) <= _NEAR).mean(axis=1)
    for end in range(len(rows) - 4, 2, -1):
        inside = share[:end]
        outside = share[end + 1 : end + 3]
        if inside[-1] >= 0.7 and outside.max() <= 0.3 and inside.mean() >= 0.6:
            return end + 1 if share[end] > 0.3 or _mixed(rows, end, ground) else end
    return 0


def _mixed(rows: NDArray[Any], at: int, ground: float) -> bool:
    here, behind = (median(rows[i]) for i in (at, at + 1))
    return abs(here - ground) < 0.7 * abs(behind - ground)
