"""Which way something went across a burst, as a suggestion: left or right, and with what bearing.

The moving region is found again from frame to frame by its box, and its column is fitted against
time. A camera that faces a bearing sees what goes to the picture's right travel at facing + 90°;
how steeply it went toward or away from the camera cannot be seen, so the bearing has a spread.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from camsign.pixels.news_box import NewsBox

LEAST = 0.008
"""Shifts below this share of the picture's width are no travel."""

SPREAD_DEG = 60.0
"""Half width of what the bearing may be [deg]: travel within 30° of the line of sight seldom shows
as a shift at all (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Travel:
    """`way`: "left" or "right" in the picture. `shift`: share of the picture's width from first to
    last frame. `steady`: 0..1, how well one straight walk explains the columns."""

    way: str
    shift: float
    steady: float


@dataclass(frozen=True, slots=True)
class TravelGuess:
    """A travel bearing [deg true] with its half width [deg]; always an estimate."""

    travel_deg: float
    spread_deg: float
    estimated: bool = True


def travel_of(regions: Sequence[NewsBox | None], weakest: float) -> Travel | None:
    """Suggest the way across one burst.

    Args:
        regions: of the burst's frames in order; None where nothing was new.
        weakest: regions with less news than this are left out.

    Returns:
        The way, or None: too few frames show something, it did not move, or not one way.
    """
    at = [(i, r) for i, r in enumerate(regions) if r is not None and r.news >= weakest]
    at = _alike(at)
    if len(at) < 2:
        return None
    t = np.array([i for i, _ in at], float)
    columns = np.array([r.column for _, r in at])
    slope, start = np.polyfit(t, columns, 1)
    shift = float(slope * (t[-1] - t[0]))
    off = float(np.abs(columns - (slope * t + start)).max())
    steady = float(np.clip(1 - 2 * off / max(abs(shift), 1e-9), 0, 1)) if len(at) > 2 else 0.5
    if abs(shift) < max(LEAST, 0.12 * float(np.median([r.width for _, r in at]))) or steady < 0.2:
        return None
    return Travel("right" if shift > 0 else "left", shift, round(steady, 2))


def _alike(at: list[tuple[int, NewsBox]]) -> list[tuple[int, NewsBox]]:
    """Leave out regions whose size shows that they are something else."""
    if not at:
        return at
    usual = float(np.median([r.width * r.height for _, r in at]))
    return [(i, r) for i, r in at if usual / 6 <= r.width * r.height <= usual * 6]


def heading_of(way: str, facing_deg: float) -> TravelGuess:
    """Turn a way in the picture into a travel bearing.

    Args:
        way: "left" or "right".
        facing_deg: where the camera looks [deg true].
    """
    turn = 90.0 if way == "right" else -90.0
    return TravelGuess((facing_deg + turn) % 360.0, SPREAD_DEG)
