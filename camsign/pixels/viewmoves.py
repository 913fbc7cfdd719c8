"""When a camera's view moved, and by how much, from pictures spread over its time.

`steady` says that a view ended. Here the first picture of the next one is found by laying each
over what the view shows before and after; and the turn by trying turns, since fine detail that
was averaged seldom keeps corners to match. A change that the pictures on both sides do not bear
out is dropped.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.changes import Glanced, grays_of
from camsign.pixels.opencv import opencv
from camsign.pixels.planes import planes_of
from camsign.pixels.steady import LEAST_TURN_DEG, Move, average, laid_over, moves

WIDEST_TURN_DEG = 25.0
"""Turns up to this are tried [deg]; beyond it a view counts as another."""

_NEAR = 6  # pictures around the end that steady found, among which the first new one is looked for
_APART = 0.15  # correlation by which pictures must lie nearer to their own side
_FOUND = 0.25  # correlation from which a view is found again

Grain = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class ViewMove:
    """A view ends with picture `last`; picture `first` is the next one's.

    kind: "shifted", "turned" or "covered" (nothing of the old view is found again; the numbers are
    0). right, down: where things in the picture went, as shares of its width and height; turn_deg:
    how far they turned, clockwise [deg].
    """

    last: int
    first: int
    kind: str
    right: float
    down: float
    turn_deg: float


def moves_among(glanced: Sequence[Glanced]) -> list[ViewMove]:
    """Find moves; their numbers count all that was handed in, also what has no glance."""
    grays, (start, stop) = grays_of(glanced)
    numbers = list(grays)
    found = view_moves([planes_of(grays[i]).grain for i in numbers])
    return [
        replace(
            m,
            last=numbers[m.last],
            first=numbers[m.first],
            right=round(m.right, 4),
            down=round(m.down * (stop - start), 4),
        )
        for m in found
    ]


def view_moves(grains: Sequence[Grain]) -> list[ViewMove]:
    """Find where a camera's view moved.

    Args:
        grains: grain planes (rows, columns) of one camera in one light class, in order of time.

    Returns:
        The moves, in order; empty if the view held or there are fewer than six pictures.
    """
    if len(grains) < 6:
        return []
    found = moves(grains)
    ends = [*(m.at for m in found[1:]), len(grains)]
    out: list[ViewMove] = []
    start = 0
    for move, end in zip(found, ends, strict=False):
        measured = _measured(grains, start, move, end)
        if measured is not None:
            out.append(measured)
            start = measured.first
    return out


def _measured(grains: Sequence[Grain], start: int, move: Move, end: int) -> ViewMove | None:
    before, after = average(grains[start : move.at]), average(grains[move.at : end])
    near = range(max(start, move.at - _NEAR), min(end, move.at + _NEAR))
    old = np.array([_alike(before, grains[i]) for i in near])
    new = np.array([_alike(after, grains[i]) for i in near])
    cut = _parted(old - new)
    fit, right, down, turn = _swept(before, after)
    if fit < _FOUND:
        lost = float(old[:cut].mean()) - float(old[cut:].mean())
        return ViewMove(near[cut - 1], near[cut], "covered", 0, 0, 0) if lost > _APART else None
    apart = old - new
    if apart[:cut].mean() < _APART or apart[cut:].mean() > -_APART:
        return None
    kind = "turned" if abs(turn) >= LEAST_TURN_DEG else "shifted"
    return ViewMove(near[cut - 1], near[cut], kind, right, down, turn)


def _parted(apart: NDArray[np.float64]) -> int:
    """Give the cut (1 to n - 1) with what is above 0 before it and what is below behind."""
    before = np.cumsum(apart)[:-1]
    return int(np.argmax(before - (apart.sum() - before))) + 1


def _alike(view: NDArray[np.float32], grain: Grain) -> float:
    a, b = view - view.mean(), grain.astype(np.float32) - float(grain.mean())
    return float((a * b).sum() / max(float(np.sqrt((a * a).sum() * (b * b).sum())), 1e-6))


def _swept(
    before: NDArray[np.float32], after: NDArray[np.float32]
) -> tuple[float, float, float, float]:
    """Turn the later view back by every degree, then by quarters; give the fit and the move."""
    whole = np.arange(-WIDEST_TURN_DEG, WIDEST_TURN_DEG + 1)
    best = max(_turned(before, after, float(deg)) for deg in whole)
    fine = best[3] + np.arange(-0.75, 1.0, 0.25)
    return max(_turned(before, after, float(deg)) for deg in fine)


def _turned(
    before: NDArray[np.float32], after: NDArray[np.float32], deg: float
) -> tuple[float, float, float, float]:
    cv2 = opencv()
    rows, columns = after.shape
    back = cv2.getRotationMatrix2D((columns / 2, rows / 2), deg, 1.0)
    turned = cv2.warpAffine(after, back, (columns, rows), borderMode=cv2.BORDER_REPLICATE)
    (dx, dy), fit = laid_over(before, turned)
    return fit, dx / columns, dy / rows, deg
