"""What comes out of a detecting network, in its common forms, as boxes with a score each.

- detections: rows of seven, (picture, class, score, left, top, right, bottom), as a layer that
  ends in detections gives them;
- candidates: one row a candidate, its box, perhaps an objectness, and a score for each class; rows
  may stand upright or lie, and several outputs (one a scale) are taken together;
- boxes and scores: the same as two outputs.

Boxes of one thing that overlap are not sorted out: only the best score of each meaning is kept, and
sorting out never removes the best.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from camsign.errors import InputRefused
from camsign.pixels.recipe import MEANINGS, Recipe

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Hit:
    """The best box of a meaning (animal, person, vehicle): left, top, right, bottom as shares."""

    meaning: str
    score: float
    box: tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class _Found:
    """Boxes (n, 4) as corners in shares of the input, scores (n,), class numbers (n,)."""

    boxes: Floats
    scores: Floats
    classes: NDArray[np.intp]


def hits(outputs: Sequence[NDArray[Any]], recipe: Recipe) -> list[Hit]:
    """Give the best hit of each meaning that reaches the recipe's least score.

    Args:
        outputs: all that the network gives for one picture.
        recipe: what it says of them.

    Raises:
        InputRefused: the outputs are not of the form that the recipe says.
    """
    found = _READERS[recipe.layout](outputs, recipe)
    known = (found.classes >= 0) & (found.classes < len(recipe.meanings))
    sound = known & np.isfinite(found.scores) & np.isfinite(found.boxes).all(axis=1)
    meanings = np.array([*recipe.meanings, ""])[np.where(known, found.classes, -1)]
    out = []
    for meaning in MEANINGS:
        mine = np.flatnonzero(sound & (meanings == meaning) & (found.scores >= recipe.least_score))
        if mine.size:
            best = int(mine[np.argmax(found.scores[mine])])
            left, top, right, bottom = (float(v) for v in np.clip(found.boxes[best], 0, 1))
            score = min(float(found.scores[best]), 1.0)
            out.append(Hit(meaning, score, (left, top, right, bottom)))
    return out


def _detections(outputs: Sequence[NDArray[Any]], recipe: Recipe) -> _Found:
    fitting = [r for o in outputs if (r := _upright(o, 7)) is not None]
    if not fitting:
        raise _mismatch(outputs, "rows of 7 numbers")
    rows = np.concatenate(fitting).astype(np.float64)
    rows = rows[rows[:, 0] >= 0]  # a row of picture -1 ends some lists
    corners = _in_shares(rows[:, 3:7], recipe)
    classes = np.clip(np.nan_to_num(rows[:, 1], nan=-1), -1, 1e6).astype(np.intp)
    return _Found(corners, rows[:, 2], classes)


def _candidates(outputs: Sequence[NDArray[Any]], recipe: Recipe) -> _Found:
    wide = 4 + recipe.objectness + len(recipe.meanings)
    rows = [r for o in outputs if (r := _upright(o, wide)) is not None]
    if not rows:
        raise _mismatch(outputs, f"rows of {wide} numbers ({_parts(recipe)})")
    table = np.concatenate(rows).astype(np.float64)
    return _scored(table[:, :4], table[:, 4:], recipe)


def _boxes_and_scores(outputs: Sequence[NDArray[Any]], recipe: Recipe) -> _Found:
    wide = recipe.objectness + len(recipe.meanings)
    shaped = [o.reshape(-1, o.shape[-1]) for o in outputs if o.ndim]
    boxes = next((o for o in shaped if o.shape[1] == 4), None)
    scores = next((o for o in shaped if o.shape[1] == wide and o is not boxes), None)
    if boxes is None or scores is None or len(boxes) != len(scores):
        raise _mismatch(outputs, f"as many rows of 4 as of {wide} numbers ({_parts(recipe)})")
    return _scored(boxes.astype(np.float64), scores.astype(np.float64), recipe)


_READERS = {
    "detections": _detections,
    "candidates": _candidates,
    "boxes and scores": _boxes_and_scores,
}


def _upright(output: NDArray[Any], wide: int) -> NDArray[Any] | None:
    """Give an output as rows of `wide` numbers, or None if it has no such side."""
    if output.ndim < 2:
        return None
    if output.shape[-1] == wide:
        return output.reshape(-1, wide)
    lying = output.reshape(-1, output.shape[-1]) if output.ndim == 2 else output[0]
    return lying.reshape(wide, -1).T if lying.shape[0] == wide else None


def _scored(boxes: Floats, scores: Floats, recipe: Recipe) -> _Found:
    if recipe.logits:
        scores = 1 / (1 + np.exp(-np.clip(scores, -60, 60)))
    if recipe.objectness:
        scores = scores[:, :1] * scores[:, 1:]
    # Classes that mean nothing here must not hide one that does.
    counts = np.where(np.array(recipe.meanings) != "", np.nan_to_num(scores), -1.0)
    classes = counts.argmax(axis=1) if len(counts) else np.empty(0, np.intp)
    if not recipe.corners:
        half = boxes[:, 2:4] / 2
        boxes = np.hstack([boxes[:, :2] - half, boxes[:, :2] + half])
    rows = np.arange(len(counts))
    return _Found(_in_shares(boxes, recipe), counts[rows, classes], classes)


def _in_shares(corners: Floats, recipe: Recipe) -> Floats:
    if not recipe.in_pixels:
        return corners
    sides = np.array([recipe.width, recipe.height] * 2, np.float64)
    return np.asarray(corners / sides, np.float64)


def _parts(recipe: Recipe) -> str:
    more = "1 objectness, " if recipe.objectness else ""
    return f"{more}{len(recipe.meanings)} classes"


def _mismatch(outputs: Sequence[NDArray[Any]], expected: str) -> InputRefused:
    shapes = ", ".join("x".join(str(n) for n in o.shape) or "one number" for o in outputs)
    return InputRefused(
        f"the detector gives {shapes or 'nothing'}, where its .toml lets expect {expected}",
        "put [classes] names and [output] right (docs/pixels.md)",
    )
