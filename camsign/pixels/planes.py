"""A glance as the two planes that frames of one camera are compared in.

- shade: square root of the gray values (so that noise is about equally strong everywhere), brought
  to one median, so that a lamp that dims or an exposure that wanders is no news. The median is such
  that what is bright in these pictures stays below white: on a night's snow a pale deer would
  otherwise be white on white.
- grain: the fine part (below about 2 pixels) of the logarithm of the gray values. Sun on the
  ground multiplies the gray values over patches with soft rims, which leaves this plane as it was;
  an animal replaces what was there.

Both stand in one array, shade above grain, so that each step is one call for both.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.opencv import opencv
from camsign.pixels.ranks import counted_below

TINY = (16, 12)
"""Columns and rows of the summary by which frames in like light are found."""

MIDDLE = 110.0
"""The shade that every frame's median is brought to, if what is bright allows it."""

_BRIGHT, _BRIGHT_AT = 0.97, 235.0  # so bright a share of the pixels is brought to this at most
_DARKEST, _GLOOM = 16.0, 40.0  # offsets [gray levels]: below them differences are noise

Plane = NDArray[np.uint8]
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Planes:
    """Shade above grain (2 x rows, columns), 0..255, and a tiny summary of the shade.

    hue: of a picture in color (`camsign.pixels.hue`).
    """

    both: Plane
    tiny: NDArray[np.float32]
    hue: Plane | None = None

    @property
    def shade(self) -> Plane:
        """Give the upper half."""
        return self.both[: self.both.shape[0] // 2]

    @property
    def grain(self) -> Plane:
        """Give the lower half."""
        return self.both[self.both.shape[0] // 2 :]


@dataclass(frozen=True, slots=True)
class Range:
    """What a picture shows within one pixel: darkest and brightest."""

    low: Plane
    high: Plane

    def off(self, both: Plane, out: Plane | None = None, spare: Plane | None = None) -> Plane:
        """Give how far outside the range each pixel is; fresh arrays cost more than the sums."""
        cv2 = opencv()
        out = cv2.subtract(self.low, both, dst=out)
        result: Plane = cv2.max(out, cv2.subtract(both, self.high, dst=spare), dst=out)
        return result


def range_of(*planes: Plane) -> Range:
    """Give the range of planes that stand one above the other, each by itself."""
    cv2, around = opencv(), np.ones((3, 3), np.uint8)
    low = [cv2.erode(plane, around) for plane in planes]
    high = [cv2.dilate(plane, around) for plane in planes]
    return Range(np.vstack(low), np.vstack(high))


def common_middle(grays: Iterable[NDArray[Any]]) -> float:
    """Give the shade that the medians of pictures that are to be compared are brought to."""
    root, _ = _tables()
    levels = [_levels(gray, 0.5, _BRIGHT) for gray in grays]
    if not levels:
        return MIDDLE
    middle, bright = np.median(root[np.array(levels)], axis=0)
    return float(min(MIDDLE, max(middle, 4.0) * _BRIGHT_AT / max(bright, 1.0)))


def _levels(gray: NDArray[Any], *shares: float) -> list[int]:
    """Give the gray values that these shares of the pixels do not exceed."""
    below = counted_below(gray)
    return [int(np.searchsorted(below, share * below[-1])) for share in shares]


def planes_of(gray: NDArray[Any], middle: float = MIDDLE, hue: Plane | None = None) -> Planes:
    """Compute the planes of a glance (rows, columns) without its info strips.

    Args:
        gray: the glance, 0..255.
        middle: by `common_middle` of all that are compared.
        hue: of the same part of the picture.
    """
    cv2 = opencv()
    root, log = _tables()
    median = float(root[_levels(gray, 0.5)[0]])
    gain = float(np.clip(middle / max(median, 4.0), 0.25, 4.0))
    shade = cv2.LUT(gray, np.clip(root * gain, 0, 255).astype(np.uint8))
    fine = cv2.LUT(gray, log)
    fine = fine - cv2.GaussianBlur(fine, (5, 5), 1.2)
    grain = cv2.blur(cv2.convertScaleAbs(fine + 64.0, alpha=2.0), (2, 2))
    tiny = cv2.resize(shade, TINY, interpolation=cv2.INTER_AREA).astype(np.float32)
    return Planes(np.vstack([shade, grain]), tiny.ravel(), hue)


def halved(plane: Plane) -> Plane:
    """Give a plane at half the size, one pixel at least."""
    rows, columns = plane.shape
    size = max(1, columns // 2), max(1, rows // 2)
    half: Plane = opencv().resize(plane, size, interpolation=opencv().INTER_AREA)
    return half


def nth_smallest(planes: NDArray[np.uint8], rank: int) -> Plane:
    """Give at each pixel the value that `rank` others, from 0, do not exceed: by halving.

    Eight comparisons of whole planes; a partition along the planes takes every pixel by itself.

    Args:
        planes: (n, rows, columns), n below 256.
        rank: 0 for the smallest.
    """
    found, lower = np.zeros(planes.shape[1:], np.uint8), np.empty(planes.shape, np.bool_)
    for bit in (128, 64, 32, 16, 8, 4, 2, 1):
        higher = found | np.uint8(bit)
        np.less(planes, higher, out=lower)
        below = np.add.reduce(lower.view(np.uint8), axis=0, dtype=np.uint8)
        np.copyto(found, higher, where=below <= rank)
    return found


@cache
def _tables() -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    gray = np.arange(256, dtype=np.float32)
    root = (np.sqrt(gray + _DARKEST) - np.sqrt(_DARKEST)) * 20.6
    log = np.log((gray + _GLOOM) / _GLOOM) * 127.6
    return root.astype(np.float32), log.astype(np.float32)


@dataclass(frozen=True, slots=True)
class FramePlanes:
    """A frame as it is compared: seconds since any instant, its burst's number, its planes."""

    at: float
    burst: int
    planes: Planes


def bursts_of(frames: Sequence[FramePlanes]) -> list[list[int]]:
    """Give the indices of each burst's frames."""
    out: list[list[int]] = []
    for i, frame in enumerate(frames):
        if out and frames[out[-1][-1]].burst == frame.burst:
            out[-1].append(i)
        else:
            out.append([i])
    return out


class Made(Generic[T]):
    """What is made of each frame's planes, by the frame's number: when first wanted."""

    def __init__(self, frames: Sequence[FramePlanes], make: Callable[[Planes], T]) -> None:
        self._frames, self._make = frames, make
        self._made: dict[int, T] = {}

    def __getitem__(self, i: int) -> T:
        if i not in self._made:
            self._made[i] = self._make(self._frames[i].planes)
        return self._made[i]

    def forget(self, burst: Sequence[int], keep: Sequence[int]) -> None:
        """Let a burst's go, but those that are to be kept."""
        for i in set(burst) - set(keep):
            self._made.pop(i, None)


def ranges_of(frames: Sequence[FramePlanes]) -> Made[Range]:
    """Give what each frame shows within one pixel."""
    return Made(frames, lambda planes: range_of(planes.both))
