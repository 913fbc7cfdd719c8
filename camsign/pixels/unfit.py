"""Which frames cannot be judged, and why: fog, haze, darkness, noise, glare.

Such a picture can hide an animal, or be so unlike its camera's others that comparing means
nothing. It gets a word for the reason and is never set aside. Measured on the glance:

- dark, glare: by its gray values alone;
- fog: its gray values lie close together and none is dark;
- fog or haze: fine detail is missing in a good part of the picture, compared with what its camera
  usually sees there; unless what is dark stays so, and it is missing in all pictures for a day or
  more: that is snow on the ground;
- noise: fine detail is far above what is usual nearly everywhere (also rain and falling snow), or
  frames of one burst differ everywhere, also where nothing is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.opencv import opencv
from camsign.pixels.planes import Plane
from camsign.pixels.ranks import counted_below

CELLS = (8, 6)
"""Columns and rows of the parts in which detail is measured."""

DARK_BELOW = 64
"""A picture whose brightest fiftieth is below this is too dark [gray levels]."""

FOG_ABOVE, FOG_SPAN = 48, 96
"""Fog: the darkest fiftieth is above, and the brightest at most so much brighter [gray levels]."""

LEAST_DETAIL, MOST_DETAIL = 0.62, 1.6
"""Detail below and above this share of the usual is missing, or too much."""

HAZE = "fog or haze"
"""The reason where the air, or the lens, is not clear."""

_LIFTED = 36  # gray levels: fog lifts what is dark by more
_LIES, _LIES_S = 4, 86400.0  # snow that lies shows in so many bursts in a row, for so long [s]
_PART = 0.2  # detail is missing in so many parts of the picture
_NEARLY_ALL = 0.75  # or it is too much in so many
_NOISE = 5.0  # gray levels: how much frames of a burst differ where they differ least
_BURNED = 0.3  # share of the pixels that are white

Cells = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Fitness:
    """What one frame's glance measures: gray levels, the share that is white, detail by part."""

    low: int
    high: int
    white: float
    detail: Cells


def fitness(gray: NDArray[Any], grain: Plane) -> Fitness:
    """Measure a glance (rows, columns), 0..255, and its grain plane."""
    below = counted_below(gray)
    low, high = (int(np.searchsorted(below, share * below[-1])) for share in (0.02, 0.98))
    white = 1 - float(below[249]) / float(below[-1])
    return Fitness(low, high, white, _by_part(opencv().absdiff(grain, 128)))


def _by_part(plane: Plane) -> Cells:
    size = (min(CELLS[0], plane.shape[1]), min(CELLS[1], plane.shape[0]))
    small = opencv().resize(plane.astype(np.float32), size, interpolation=opencv().INTER_AREA)
    return np.asarray(small, np.float32)


def usual_detail(frames: Sequence[Fitness]) -> Cells:
    """Give how much detail each part usually shows, where the camera sees clearly."""
    clear = [f.detail for f in frames if _alone(f) is None] or [f.detail for f in frames]
    return np.asarray(np.quantile(np.stack(clear), 0.6, axis=0), np.float32)


def unfit(frame: Fitness, usual: Cells) -> str | None:
    """Say why a frame cannot be judged; None if it can."""
    alone = _alone(frame)
    if alone is not None:
        return alone
    share = (frame.detail + 0.5) / (usual + 0.5)
    if float((share < LEAST_DETAIL).mean()) >= _PART:
        return HAZE
    if float((share > MOST_DETAIL).mean()) >= _NEARLY_ALL:
        return "noise"
    return None


def _alone(frame: Fitness) -> str | None:
    """Say what a frame's gray values tell without any other."""
    if frame.high < DARK_BELOW:
        return "too dark"
    if frame.low > FOG_ABOVE and frame.high - frame.low < FOG_SPAN:
        return HAZE
    return "glare" if frame.white > _BURNED else None


def lying(seen: Sequence[tuple[float, str | None, Fitness]], low: float) -> set[int]:
    """Find the frames that seem hazy, but show snow that lies.

    Args:
        seen: the middle frames of bursts in order of time: seconds, why it is unfit, its measures.
        low: how dark the darkest fiftieth usually is [gray levels].

    Returns:
        Their positions.
    """
    out: set[int] = set()
    run: list[int] = []
    for k, (_, why, f) in enumerate([*seen, (0.0, None, seen[-1][2])] if seen else []):
        if why == HAZE:
            run += [k] if f.low <= low + _LIFTED else []
            continue
        if len(run) >= _LIES and seen[run[-1]][0] - seen[run[0]][0] >= _LIES_S:
            out |= set(run)
        run = []
    return out


def noisy(burst: Sequence[NDArray[Any]]) -> bool:
    """Say whether frames of one burst (rows, columns) differ everywhere."""
    if len(burst) < 2:
        return False
    first, last = burst[0], burst[-1]
    gain = (float(first.mean()) + 1) / (float(last.mean()) + 1)  # exposure wanders
    apart = _by_part(opencv().absdiff(first, opencv().convertScaleAbs(last, alpha=gain)))
    return bool(np.quantile(apart, 0.1) > _NOISE)
