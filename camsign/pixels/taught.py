"""What a person tagged as nothing: two visits so tagged explain what three others must elsewhere.

Any other picture may show an animal, so of those many must agree. Where a person said that nothing
was there, what it shows is ground, leaves, light. Two of them must agree, of different bursts, so
that one wrong tag hides nothing. All frames of a burst count: a branch is elsewhere in each.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.lessons import FEWEST
from camsign.pixels.opencv import opencv
from camsign.pixels.patches import farthest
from camsign.pixels.planes import FramePlanes, Made, Plane, Range, bursts_of, ranges_of
from camsign.pixels.ranks import at_share
from camsign.pixels.rare import SHARE, Rare, Small

MOST = 30
"""So many of them, in the likest light, are asked."""

SAME, NEAR = 0.25, 0.5
"""A rare spot is shown by one that is at most this far off: as a share of how far most are, or in
gray levels."""


@dataclass(frozen=True, slots=True)
class Known:
    """Bursts that show nothing: each as what its frames show within one pixel, and at half size."""

    ranges: Sequence[Sequence[Range]] = ()
    smalls: Sequence[Sequence[Small]] = ()

    def left(self, both: Plane, new: Plane) -> Plane:
        """Give what is left of a frame's news where two of these bursts show the same."""
        if not self.ranges:
            return new
        cv2 = opencv()
        first, second = np.full_like(both, 255), np.full_like(both, 255)
        for burst in self.ranges:
            off = reduce(cv2.min, [one.off(both) for one in burst])
            cv2.min(second, cv2.max(first, off), dst=second)
            cv2.min(first, off, dst=first)
        left: Plane = cv2.min(new, second)
        return left


def learned_from(known: Sequence[FramePlanes]) -> int:
    """Say from how many bursts tagged as nothing something is learned: 0 if they are too few."""
    n = len(bursts_of(known))
    return n if n >= FEWEST else 0


class Taught:
    """All that was tagged as nothing in one view."""

    def __init__(self, known: Sequence[FramePlanes]) -> None:
        self._known, self._ranges, self._smalls = known, ranges_of(known), Made(known, Small)
        self._bursts = bursts_of(known) if learned_from(known) else []
        self._tiny = np.array([known[b[len(b) // 2]].planes.tiny for b in self._bursts])

    def like(self, here: FramePlanes) -> Known:
        """Give the bursts in the likest light, without the frame's own."""
        if not self._bursts:
            return Known()
        far = np.abs(self._tiny - here.planes.tiny).mean(axis=1)
        order = [self._bursts[k] for k in np.argsort(far, kind="stable").tolist()]
        asked = [b for b in order if self._known[b[0]].burst != here.burst][:MOST]
        return Known(
            [[self._ranges[i] for i in burst] for burst in asked],
            [[self._smalls[i] for i in burst] for burst in asked],
        )

    def explains(
        self, empty: Known, burst: Sequence[Small], seldom: Rare | None, apart: Sequence[float]
    ) -> tuple[Rare | None, list[float]]:
        """Give what is rare and how far patches lie apart where empty bursts do not show it."""
        if not empty.smalls:
            return seldom, list(apart)
        if seldom is not None and seldom.thing and _shown(empty, burst, seldom.map):
            seldom = replace(seldom, thing=False)
        # One picture a burst: the nearest does not count, so that a wrong tag explains nothing.
        far = farthest(burst, [known[len(known) // 2] for known in empty.smalls])
        return seldom, [min(a, f) for a, f in zip(apart, far, strict=True)]


def _shown(empty: Known, burst: Sequence[Small], rare: NDArray[np.float32]) -> bool:
    """Say whether two empty bursts show, each by itself, what a burst shows at its rarest spot."""
    core, rows = rare > rare.max() / 2, rare.shape[0]
    apart = []
    for known in empty.smalls:
        off = reduce(np.minimum, [one.range.off(frame.both) for one in known for frame in burst])
        apart.append(float(off[:rows][core].mean() + off[rows:][core].mean()) / 2)
    return sorted(apart)[1] <= max(NEAR, SAME * at_share(np.array(apart), SHARE))
