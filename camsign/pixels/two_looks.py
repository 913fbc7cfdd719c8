"""A place that has two looks, turn about: a deer that half of the pictures show, before leaves.

Leaves in the wind show every shade between their lightest and their darkest. A deer that comes and
lies at one spot, or the leaves without it, are one of two shades with little between. So at each
place the bursts are split in two where that explains most of their variance (Otsu 1979), and the
gap is weighed against what is left of it, and against the gaps all over the picture: sun and snow
make two looks of much of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.news import APART_S
from camsign.pixels.opencv import opencv
from camsign.pixels.planes import Plane
from camsign.pixels.ranks import at_share

CLEARLY, APART, SUM = 1.5, 4.0, 9.0
"""A gap is so many times those all over the picture, and so wide at least (levels spread evenly
have 3.5); and so many times both, added up over neighboring pixels. Tuned on 270 trials with drawn
deer before filmed leaves (docs/accuracy.md)."""

FEWER, FEWEST = 0.15, 3
"""So large a share of the bursts, and so many, have each of the two looks."""

HALF = 0.4
"""If so many bursts have the rarer look, either may be the deer's."""

_MOST = 64  # so many bursts, spread over the time, say where there are two looks
_CALM = 2.0  # levels: what has a look is taken to vary by so much at least
_REST = 0.9  # the gaps all over the picture are this quantile of them

Levels = NDArray[np.float32]


def two_looks(soft: Sequence[Sequence[Plane]], at: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Say of each burst if it may show what comes and goes where a place has two looks.

    Args:
        soft: of each burst, in order of time, the shade of its frames, blurred.
        at: when each burst was taken, in seconds since any instant.

    Returns:
        Those with the rarer look of any such place, if it came at FEWEST times half an hour apart;
        all, where both are about as frequent.
    """
    levels, held = _levels(soft), np.zeros(len(soft), np.bool_)
    if len(levels) < 2 * FEWEST:
        return held
    gap = _gaps(levels[:: -(-len(levels) // _MOST)])
    gap /= max(APART, CLEARLY * (1 + at_share(gap, _REST)))
    count, labels = opencv().connectedComponents((gap >= 1).astype(np.uint8))
    wide = np.bincount(labels.ravel(), gap.ravel(), count) >= SUM
    for label in range(1, count):
        if wide[label]:
            held |= _rarer(levels[:, labels == label].mean(axis=1), at)
    return held


def _levels(soft: Sequence[Sequence[Plane]]) -> Levels:
    """Give each burst's middle level by place, less the picture's own: bright days are no look."""
    at = np.stack([np.median(np.stack(b), axis=0) for b in soft]).astype(np.float32)
    return np.asarray(at - np.median(at, axis=(1, 2), keepdims=True))


def _gaps(levels: Levels) -> Levels:
    """Give at each place the widest gap between two parts of these levels (bursts, ...)."""
    return np.asarray(np.maximum.reduce([gap for _, gap in _parted(np.sort(levels, axis=0))]))


def _parted(in_order: Levels) -> Iterator[tuple[int, Levels]]:
    """Give for each number of levels in the lower part how far the parts' means lie apart, in
    units of what varies within them."""
    n = len(in_order)
    below, squares = np.cumsum(in_order, axis=0), np.cumsum(in_order**2, axis=0)
    least = max(FEWEST, int(np.ceil(FEWER * n)))
    for k in range(least, n - least + 1):
        low, high = below[k - 1] / k, (below[-1] - below[k - 1]) / (n - k)
        within = squares[-1] / n - (k * low**2 + (n - k) * high**2) / n
        yield k, (high - low) / np.sqrt(np.maximum(within, 0) + _CALM**2)


def _rarer(levels: Levels, at: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Give the bursts with the rarer of two looks; all if neither is rare, none if one look came
    once for good, as snow does, or stayed for a while."""
    in_order, none = np.sort(levels), np.zeros(len(levels), np.bool_)
    below = max(_parted(in_order), key=lambda part: float(part[1]))[0]
    high = levels >= in_order[below]
    rarer = high if high.mean() <= 0.5 else ~high
    times = np.count_nonzero(np.diff(at[rarer], prepend=-np.inf) > APART_S)
    if np.count_nonzero(np.diff(high)) < 2 or times < FEWEST:
        return none
    return rarer if rarer.mean() < HALF else ~none
