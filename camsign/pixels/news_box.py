"""The region of a frame that holds most of its news: where it is, how large, how clear."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.opencv import opencv

_EDGE = 0.3  # the region reaches to where news falls below this share of its peak
_CELL = 4  # pixels; on a grid of such cells, parts up to four cells apart are one animal's
_RIM = 10  # pixels around what differs that its box takes in


@dataclass(frozen=True, slots=True)
class NewsBox:
    """A box as shares of the picture's width and height, from the upper left.

    `news`: the picture's strongest news. `size`: the share of the picture that differs in it.
    `contrast`: the mean news of what differs. `column`, `row`: its center of news, as shares.
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


def strongest(found: NDArray[Any], least: float = 1e-6) -> NewsBox:
    """Find the region of a news map (rows, columns) that holds most of it; no box below `least`.

    Parts up to about 20 pixels apart are one region; its box has a rim of 10 pixels. `news` is the
    map's peak, wherever it is.
    """
    cv2 = opencv()
    rows, columns = found.shape
    peak = float(cv2.minMaxLoc(found)[1])
    if peak < least:
        return NewsBox(0.0, 0.0, 0.0, 0.0, peak, 0.0, 0.0, 0.5, 0.5)
    differs = cv2.findNonZero(cv2.compare(found, _EDGE * peak, cv2.CMP_GE)).reshape(-1, 2)
    x, y = differs[:, 0], differs[:, 1]
    label = _labels(x, y, found.shape)
    weight = found[y, x].astype(np.float64)
    mine = label == np.bincount(label, weights=weight).argmax()
    x, y, weight = x[mine], y[mine], weight[mine]
    left, top = max(0, int(x.min()) - _RIM), max(0, int(y.min()) - _RIM)
    right, bottom = min(columns, int(x.max()) + 1 + _RIM), min(rows, int(y.max()) + 1 + _RIM)
    return NewsBox(
        x=left / columns,
        y=top / rows,
        width=(right - left) / columns,
        height=(bottom - top) / rows,
        news=peak,
        size=len(x) / found.size,
        contrast=float(weight.mean()),
        column=float(np.average(x + 0.5, weights=weight)) / columns,
        row=float(np.average(y + 0.5, weights=weight)) / rows,
    )


def _labels(x: NDArray[Any], y: NDArray[Any], shape: tuple[int, ...]) -> NDArray[Any]:
    """Number the regions that pixels belong to, on a coarse grid, where that is quick."""
    cv2 = opencv()
    grid = np.zeros(tuple(-(-n // _CELL) for n in shape), np.uint8)
    grid[y // _CELL, x // _CELL] = 1
    _, labels = cv2.connectedComponents(cv2.dilate(grid, np.ones((5, 5), np.uint8)))
    return np.asarray(labels[y // _CELL, x // _CELL])
