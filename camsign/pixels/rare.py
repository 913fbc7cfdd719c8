"""What most of the camera's pictures do not show: an animal that comes back to one spot.

`news` asks whether a few other pictures explain a pixel. An animal that beds before the camera, or
feeds at one place every night, explains itself that way. So here most of the pictures in like
light must agree: what a whole burst shows, in all its frames at one place, and four in five of the
others do not, is rare. Where things move within most bursts (a branch in the wind) nothing is
rare. The pictures in like light are found by most of their parts, so that a large animal does not
look out its own kind. Worked out at half the size, once a burst.

An animal that four in five pictures show is what the camera usually sees, and cannot be told from
a stump here. Such a card is held for a look instead (`camsign.pixels.scores`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce
from typing import Any

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.opencv import opencv
from camsign.pixels.planes import Plane, Planes, nth_smallest

SHARE = 0.8
"""So many of the pictures in like light must show what a burst shows."""

MOST = 48
"""So many of them are asked."""

SPECK, GOOD_SIZED = 8, 12
"""Smaller parts are passed over; such that come back are a good-sized thing [pixels, half size]."""

_FAINT, _CLEAR = 1.5, 3.4  # below is nothing; from here on something is surely rare
_TRIES = 6  # specks that are taken out, before the rest counts as it is
_MINORITY = 0.4  # what comes back is in at most so many of them
_SAME = 0.25  # pictures are the same if they differ by less than this share of the others
_MOST_PARTS = 0.7  # pictures are in like light if so many of their parts are
_SOFT = 12.0  # usual motion of so many levels halves what is rare
_STILL = 1.5  # where usual motion divides by more, nothing is rare

_OFTEN = 0.75  # the share of bursts in which a place moves at most as much as is usual
_NEAREST = 8  # of so many pictures the light is surely like
_FARTHER = 1.5, 6.0  # others may be farther by this factor and so many levels

Map = NDArray[np.float32]


class Small:
    """A picture's planes at half the size, with the darkest and brightest within a pixel or two."""

    __slots__ = ("both", "high", "low")

    def __init__(self, planes: Planes) -> None:
        cv2, around = opencv(), np.ones((3, 3), np.uint8)
        both = planes.both
        rows, columns = both.shape[0] // 2, both.shape[1]
        size = (max(1, columns // 2), max(1, rows // 2))
        halves = [
            cv2.resize(both[half], size, interpolation=cv2.INTER_AREA)
            for half in (slice(0, rows), slice(rows, None))
        ]
        self.both: Plane = np.vstack(halves)
        self.low: Plane = np.vstack([cv2.erode(h, around) for h in halves])
        self.high: Plane = np.vstack([cv2.dilate(h, around) for h in halves])

    def off(self, both: Plane) -> Plane:
        """Give how far outside this picture's range each pixel of another is."""
        return np.asarray(np.maximum(self.low, both) - np.minimum(self.high, both), np.uint8)


def in_like_light(here: NDArray[np.float32], others: NDArray[np.float32]) -> NDArray[np.intp]:
    """Choose the pictures (n, parts) most of whose parts are near this one's, nearest first."""
    apart = np.abs(others - here)
    rank = int(_MOST_PARTS * (apart.shape[1] - 1))
    far = np.partition(apart, rank, axis=1)[:, rank]
    order = np.argsort(far, kind="stable")[:MOST]
    factor, more = _FARTHER
    limit = factor * float(far[order[min(_NEAREST, len(order)) - 1]]) + more
    return order[far[order] <= limit]


@dataclass(frozen=True, slots=True)
class Rare:
    """How far each pixel of a burst is from what most pictures show there, at half the size.

    comes_back: what is rarest is a good-sized thing that some of the other pictures show as well,
    though far from most of them: something comes and goes at one spot.
    """

    map: Map
    comes_back: bool


def rare(burst: Sequence[Small], like: Sequence[Small], usual: Map) -> Rare:
    """Compare a whole burst with what most pictures show.

    Args:
        burst: its frames.
        like: pictures of other times in like light.
        usual: by `usual_motion`.

    Returns:
        A map (rows, columns), 0 where enough pictures agree, without specks: a leaf that seldom
        hangs there.
    """
    cv2 = opencv()
    offs = np.empty((len(like), *burst[0].both.shape), np.uint8)
    for k, other in enumerate(like):
        offs[k] = reduce(np.minimum, [other.off(frame.both) for frame in burst])
    rank = min(len(like) - 1, int(np.ceil(SHARE * len(like))) - 1)
    off = nth_smallest(offs, rank).astype(np.float32)
    rows = off.shape[0] // 2
    weighed = np.where(usual > _STILL, 0, cv2.blur(off, (3, 3)) / usual)
    shade, grain = weighed[:rows], weighed[rows:]
    found, core = _without_specks(np.sqrt(grain * np.sqrt(shade * grain)))
    return Rare(found, core is not None and _comes_back(found, core, offs))


def _without_specks(found: NDArray[Any]) -> tuple[Map, NDArray[np.bool_] | None]:
    """Take out what is small, the strongest first; give what is left, and its strongest part."""
    found = np.asarray(found, np.float32)
    for _ in range(_TRIES):
        at = np.unravel_index(int(found.argmax()), found.shape)
        peak = float(found[at])
        if peak < _FAINT:
            return found, None
        _, labels = opencv().connectedComponents((found > peak / 2).astype(np.uint8))
        core = labels == labels[at]
        if int(core.sum()) >= SPECK:
            return found, core
        found = np.where(core, 0, found)
    return found, None


def _comes_back(found: Map, core: NDArray[np.bool_], offs: Plane) -> bool:
    if int(core.sum()) < GOOD_SIZED or float(found.max()) < _CLEAR:
        return False
    rows = found.shape[0]
    apart = (offs[:, :rows][:, core].mean(axis=1) + offs[:, rows:][:, core].mean(axis=1)) / 2
    same = int((apart < _SAME * np.quantile(apart, SHARE)).sum())
    return 1 <= same <= _MINORITY * len(offs)


def usual_motion(pairs: Sequence[tuple[Small, Small]], shape: tuple[int, ...]) -> Map:
    """Give 1 where nothing moves within most bursts, more the more there does.

    Args:
        pairs: the first and last picture of some bursts.
        shape: of `Small.both`.
    """
    if len(pairs) < 4:
        return np.ones(shape, np.float32)
    cv2 = opencv()
    rank = int(_OFTEN * (len(pairs) - 1))
    moved = nth_smallest(np.stack([a.off(b.both) for a, b in pairs]), rank)
    rows = shape[0] // 2
    wide = [cv2.dilate(p, np.ones((5, 5), np.uint8)) for p in (moved[:rows], moved[rows:])]
    return np.asarray(1 + np.vstack(wide) / _SOFT, np.float32)
