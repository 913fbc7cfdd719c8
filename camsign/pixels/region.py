"""The region of a frame that holds most of its news: where it is, how large, how clear."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.opencv import opencv

_EDGE = 0.3  # the region reaches to where news falls below this share of its peak
_NEAR = 21  # pixels that parts of one animal may lie apart


@dataclass(frozen=True, slots=True)
class Region:
    """A box as shares of the picture's width and height, from the upper left.

    `news`: the picture's strongest news. `size`: the share of the picture that differs in it.
    `contrast`: the mean news of what differs. `column`, `row`: its centre of news, as shares.
    """

    x: float
    y: float
    width: float
    height: float
    news: float
    size: float
    contrast: float
    column: float
    row: float


def strongest(found: NDArray[Any], least: float = 1e-6) -> Region:
    """Find the region of a news map (rows, columns) that holds most of it; no box below `least`.

    Parts up to 21 pixels apart are one region. `news` is the map's peak, wherever it is.
    """
    cv2 = opencv()
    rows, columns = found.shape
    y, x = np.unravel_index(int(found.argmax()), found.shape)
    peak = float(found[y, x])
    if peak < least:
        return Region(0.0, 0.0, 0.0, 0.0, peak, 0.0, 0.0, 0.5, 0.5)
    differs = (found >= _EDGE * peak).astype(np.uint8)
    joined = cv2.dilate(differs, np.ones((_NEAR, _NEAR), np.uint8))
    _, labels, stats, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
    mass = np.bincount(labels.ravel(), weights=(found * differs).ravel())
    label = int(mass[1:].argmax()) + 1
    mine = (labels == label) & (differs > 0)
    left, top, wide, tall = (int(v) for v in stats[label][:4])
    ys, xs = np.nonzero(mine)
    weight = found[ys, xs]
    return Region(
        x=left / columns,
        y=top / rows,
        width=wide / columns,
        height=tall / rows,
        news=peak,
        size=float(mine.mean()),
        contrast=float(weight.mean()),
        column=float(np.average(xs + 0.5, weights=weight)) / columns,
        row=float(np.average(ys + 0.5, weights=weight)) / rows,
    )
