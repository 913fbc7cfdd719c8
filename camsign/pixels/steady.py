"""Whether a camera still looks where it did: when its view moved, how far, or that it is covered.

The grain planes (fine detail of the logarithm, which sun and shade leave alone) of the first
pictures of a view are averaged; each later picture is laid over that average by phase correlation.
A view ends where three pictures in a row, or all that follow, lie elsewhere by the same shift, or
fit nowhere. How far it moved and turned is then measured on both views' averages by matched
features and a similarity (OpenCV ORB, RANSAC).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.opencv import opencv

LEAST_SHIFT = 0.0125
"""A view moved if it shifts by this share of the picture's width: 4 pixels of 320."""

LEAST_TURN_DEG = 1.5
"""Or if it turns by this much around the line of sight [deg]."""

_ROW = 3  # so many pictures in a row must agree
_FIT = 0.12  # correlation below which a picture fits nowhere
_DROP = 0.5  # or below this share of what its view's pictures usually reach
_SMALLEST = 24  # pixels: a view must be this tall and wide to be laid over another
_LEARN = 8  # pictures that make a view's average

Grain = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Move:
    """From picture number `at` on the view is another one.

    kind: "shifted", "turned" or "covered" (nothing of the old view is found again). right, down:
    where things in the picture went, as shares of its width and height. turn_deg: clockwise [deg].
    """

    at: int
    kind: str
    right: float
    down: float
    turn_deg: float


def moves(grains: Sequence[Grain]) -> list[Move]:
    """Find where the view changed.

    Args:
        grains: grain planes (rows, columns) of one camera in one light class, one a burst, in
            order of time; at least six.

    Returns:
        The changes, in order; empty if the view held.
    """
    if not grains or min(grains[0].shape) < _SMALLEST:
        return []
    out: list[Move] = []
    start = 0
    while (at := _change(grains, start)) is not None:
        move = _measure(grains[start:at], average(grains[at : at + _LEARN]), at)
        again = bool(out) and out[-1].kind == "covered" and move and move.kind == "covered"
        if move is not None and not again:
            out.append(move)
        start = at
    return out


def _change(grains: Sequence[Grain], start: int) -> int | None:
    """Give the first picture of the next view, or None."""
    if len(grains) - start < 2 * _ROW:
        return None
    reference = average(grains[start : start + _ROW])
    away: list[tuple[int, float, float, bool]] = []
    fits: list[float] = []
    mine: list[Grain] = list(grains[start : start + _ROW])
    for i in range(start + _ROW, len(grains)):
        (dx, dy), fit = laid_over(reference, grains[i])
        lost = fit < max(_FIT, _DROP * float(np.median(fits or [0.0])))
        if not lost and np.hypot(dx, dy) < LEAST_SHIFT * grains[i].shape[1]:
            away = []
            fits.append(fit)
            mine.append(grains[i])
            if len(mine) in (2 * _ROW, 4 * _ROW, 8 * _ROW):
                reference = average(mine)
            continue
        away.append((i, dx, dy, lost))
        if len(away) >= _ROW and _agree(away[-_ROW:]):
            return away[-_ROW][0]
    return None


def laid_over(reference: NDArray[Any], picture: NDArray[Any]) -> tuple[tuple[float, float], float]:
    """Give the shift [pixels] and the correlation when it is undone, 1 for the same view."""
    cv2 = opencv()
    window = _window(*reference.shape)
    picture = picture.astype(np.float32)
    # Copies, because phaseCorrelate multiplies what it is given by the window.
    (dx, dy), _ = cv2.phaseCorrelate(reference.copy(), picture.copy(), window)
    back = np.array([[1, 0, -dx], [0, 1, -dy]], np.float32)
    moved = cv2.warpAffine(picture, back, picture.shape[::-1], borderMode=cv2.BORDER_REPLICATE)
    a, b = (reference - reference.mean()) * window, (moved - moved.mean()) * window
    fit = float((a * b).sum() / max(float(np.sqrt((a * a).sum() * (b * b).sum())), 1e-6))
    return (float(dx), float(dy)), fit


@cache
def _window(rows: int, columns: int) -> NDArray[np.float32]:
    cv2 = opencv()
    return np.asarray(cv2.createHanningWindow((columns, rows), cv2.CV_32F), np.float32)


def _agree(away: Sequence[tuple[int, float, float, bool]]) -> bool:
    if all(lost for *_, lost in away):
        return True
    if any(lost for *_, lost in away):
        return False
    spread = np.ptp(np.array([(dx, dy) for _, dx, dy, _ in away]), axis=0).max()
    return bool(spread <= 2.0)


def average(grains: Sequence[Grain]) -> NDArray[np.float32]:
    """Give what some pictures, at most eight of them, show on average."""
    picked = grains[:: max(1, -(-len(grains) // _LEARN))]
    return np.asarray(np.mean(picked, axis=0, dtype=np.float32), np.float32)


def _measure(view: Sequence[Grain], after: NDArray[Any], at: int) -> Move | None:
    """Measure the move from a view to the next one's average; None if it is none after all."""
    if not _is_view(view[:_ROW]):
        return Move(at, "covered", 0.0, 0.0, 0.0)
    before = average(view)
    rows, columns = before.shape
    found = _similarity(before, after)
    if found is None:
        (dx, dy), fit = laid_over(before, after)
        if fit < _FIT:
            return Move(at, "covered", 0.0, 0.0, 0.0)
        turn = 0.0
    else:
        (dx, dy), turn = found
    right, down = float(dx / columns), float(dy / rows)
    if abs(turn) >= LEAST_TURN_DEG:
        return Move(at, "turned", right, down, float(turn))
    if np.hypot(dx, dy) < LEAST_SHIFT * columns:
        return None
    return Move(at, "shifted", right, down, float(turn))


def _is_view(pictures: Sequence[Grain]) -> bool:
    """Say whether the first of them fits any other: in rubbish no feature is worth matching."""
    first = pictures[0].astype(np.float32)
    return any(laid_over(first, other)[1] >= _FIT for other in pictures[1:])


def _similarity(
    before: NDArray[Any], after: NDArray[Any]
) -> tuple[tuple[float, float], float] | None:
    """Give how the middle of the picture went [pixels] and the turn [deg] by matched features."""
    cv2 = opencv()
    orb = cv2.ORB_create(nfeatures=600, fastThreshold=5)
    scaled = [cv2.resize(_stretched(p), None, fx=2, fy=2) for p in (before, after)]
    (k1, d1), (k2, d2) = (orb.detectAndCompute(p, None) for p in scaled)
    if d1 is None or d2 is None or min(len(k1), len(k2)) < 12:
        return None
    matches = cv2.BFMatcher(cv2.NORM_HAMMING, crossCheck=True).match(d1, d2)
    if len(matches) < 12:
        return None
    a = np.array([k1[m.queryIdx].pt for m in matches], np.float32) / 2
    b = np.array([k2[m.trainIdx].pt for m in matches], np.float32) / 2
    found, inside = cv2.estimateAffinePartial2D(a, b, ransacReprojThreshold=1.5, maxIters=4000)
    if found is None or int(inside.sum()) < max(10, 0.15 * len(matches)):
        return None
    middle = np.array([before.shape[1] / 2, before.shape[0] / 2])
    went = found[:, :2] @ middle + found[:, 2] - middle
    turn = np.degrees(np.arctan2(found[1, 0], found[0, 0]))
    return (float(went[0]), float(went[1])), float(turn)


def _stretched(plane: NDArray[Any]) -> NDArray[np.uint8]:
    return np.asarray(np.clip(128 + 2.5 * (plane - plane.mean()), 0, 255), np.uint8)
