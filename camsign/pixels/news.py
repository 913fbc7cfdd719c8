"""What is new in a frame: what none of the camera's other pictures in like light explains.

For each burst the most similar pictures of other bursts are looked out, at least half an hour
away, so that an animal that stays does not explain itself. A pixel is explained if three of them
show there, within one pixel, what the frame shows; how far it is from that is its news. Of three
pictures, so that two animals that stood there in the past do not explain the next. News counts if
it is still there in another frame of the burst (it stands) or if it moved within the burst. Where
the camera often sees motion (a branch) two pictures are enough to explain, and what news there is
counts less, but never less than a third: animals move too, and on a trail it is always there.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.hue import FEWEST, other_hue
from camsign.pixels.opencv import opencv
from camsign.pixels.patches import farthest
from camsign.pixels.planes import (
    FramePlanes,
    Made,
    Plane,
    Range,
    bursts_of,
    nth_smallest,
    ranges_of,
)
from camsign.pixels.rare import Rare, Small, in_like_light, rare, usual_motion
from camsign.pixels.taught import Known, Taught

LIKE = 24
"""So many pictures in like light explain a frame."""

APART_S = 1800.0
"""They are at least this far away in time [s]."""

CANDIDATES = 160
"""So many bursts, spread over the time, are looked at for likeness."""

_SOFT = 12.0  # motion of so many levels halves news
_RESTLESS = 1.5  # where usual motion divides news by more than this, two pictures explain
_MOST_USUAL = 3.0  # usual motion divides news by no more
_REACH = 8  # pixels: how far from where things usually move motion is still no news

Map = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class News:
    """How new each pixel of a frame is, 0 for not at all: `fresh` if hardly any other picture shows
    it (rows, columns); `rare` if most do not (half the rows, half the columns), for a whole burst.
    `apart`: how far its farthest patch lies from what they show (`camsign.pixels.patches`). `hue`:
    how new its hue is (`camsign.pixels.hue`), at a quarter of the size; None if it has none.
    """

    fresh: Map
    rare: Rare | None
    apart: float
    hue: Map | None = None


def news(frames: Sequence[FramePlanes], known: Sequence[FramePlanes] = ()) -> Iterator[News | None]:
    """Give for each frame of one view and light how new each of its pixels is, 0 for not at all.

    Args:
        frames: of one deployment and light class, in order of time; those of a burst are
            neighbors.
        known: frames of the same view that a person tagged as nothing, in order of time; they may
            be among the others.

    Returns:
        Maps for each frame, in order; None where there is too little to compare with.
    """
    bursts = bursts_of(frames)
    ranges, taught = ranges_of(frames), Taught(known)
    usual = _usual_motion(frames, bursts, ranges)
    middles = [b[len(b) // 2] for b in bursts]
    candidates = middles[:: max(1, -(-len(middles) // CANDIDATES))]
    smalls = _Smalls(frames, bursts)
    tiny = np.stack([f.planes.tiny for f in frames])
    for burst, middle in zip(bursts, middles, strict=True):
        others = _others(frames, middle, candidates)
        if len(others) < FEWEST:
            yield from (None for _ in burst)
        else:
            here, there = tiny[middle], tiny[others]
            order = np.argsort(np.abs(there - here).mean(axis=1), kind="stable")
            alike = [others[k] for k in order[:LIKE]]
            seldom = smalls.rare(burst, [others[k] for k in in_like_light(here, there)])
            small = [smalls[i] for i in burst]
            apart = farthest(small, [smalls[i] for i in alike])
            empty = taught.like(frames[middle])
            fresh = _burst_news(frames, burst, [ranges[i] for i in alike], ranges, usual, empty)
            seldom, apart = taught.explains(empty, small, seldom, apart)
            hues = other_hue(*([frames[i].planes.hue for i in some] for some in (burst, alike)))
            parts = zip(fresh, apart, hues, strict=True)
            yield from (News(f, seldom, a, h) for f, a, h in parts)
        ranges.forget(burst, keep=candidates)
        smalls.forget(burst, keep=candidates)


class _Smalls(Made[Small]):
    """Pictures at half the size, made when first wanted, and what is rare in a burst."""

    def __init__(self, frames: Sequence[FramePlanes], bursts: Sequence[Sequence[int]]) -> None:
        super().__init__(frames, Small)
        pairs = [(b[0], b[-1]) for b in bursts if len(b) > 1]
        pairs = pairs[:: max(1, -(-len(pairs) // 64))]
        shape = self[0].both.shape if frames else ()
        self._usual = usual_motion([(self[a], self[b]) for a, b in pairs], shape)

    def rare(self, burst: Sequence[int], like: Sequence[int]) -> Rare | None:
        if len(like) < FEWEST:
            return None
        return rare([self[i] for i in burst], [self[i] for i in like], self._usual)


def _others(frames: Sequence[FramePlanes], middle: int, candidates: Sequence[int]) -> list[int]:
    """Give the pictures of other bursts; nearer ones in time if too few are far enough."""
    here = frames[middle]
    others = [i for i in candidates if frames[i].burst != here.burst]
    apart = [i for i in others if abs(frames[i].at - here.at) > APART_S]
    return apart if len(apart) >= FEWEST else others


def _unexplained(both: Plane, like: Sequence[Range], restless: NDArray[np.bool_]) -> Plane:
    """Give the third smallest distance to the ranges, the second where things usually move."""
    cv2 = opencv()
    first, second, third = (np.full_like(both, 255) for _ in range(3))
    off, spare = np.empty_like(both), np.empty_like(both)
    for r in like:
        r.off(both, off, spare)
        cv2.max(second, off, dst=spare)
        cv2.min(third, spare, dst=third)
        cv2.max(first, off, dst=spare)
        cv2.min(second, spare, dst=second)
        cv2.min(first, off, dst=first)
    return np.where(restless, second, third)


def _burst_news(
    frames: Sequence[FramePlanes],
    burst: Sequence[int],
    like: Sequence[Range],
    ranges: Made[Range],
    usual: Map,
    empty: Known,
) -> list[Map]:
    """Give the news of each frame of a burst, both planes in one."""
    cv2 = opencv()
    restless = usual > _RESTLESS
    both = [frames[i].planes.both for i in burst]
    new = [empty.left(b, _unexplained(b, like, restless)) for b in both]
    if len(burst) > 1:
        wide = [cv2.dilate(n, np.ones((3, 3), np.uint8)) for n in new]
        for k, i in enumerate(burst):
            stands = reduce(cv2.max, [wide[j] for j in range(len(burst)) if j != k])
            moved = reduce(cv2.min, [ranges[j].off(both[k]) for j in burst if j != i])
            new[k] = cv2.min(new[k], cv2.max(stands, moved))
    return [_joined(n, usual) for n in new]


def _joined(both: Plane, usual: Map) -> Map:
    """Weigh shade and grain, s^1/4 g^3/4: news must be news in both."""
    cv2 = opencv()
    rows = both.shape[0] // 2
    shade, grain = (
        cv2.boxFilter(both[half], cv2.CV_32F, (3, 3)) / usual[half]
        for half in (slice(0, rows), slice(rows, None))
    )
    shade *= grain
    grain *= np.sqrt(shade, out=shade)
    return np.asarray(np.sqrt(grain, out=grain))


def _usual_motion(
    frames: Sequence[FramePlanes], bursts: Sequence[Sequence[int]], ranges: Made[Range]
) -> Map:
    """Give 1 where nothing moves within bursts, more the more there usually does (9 of 10)."""
    pairs = [(b[0], b[-1]) for b in bursts if len(b) > 1]
    pairs = pairs[:: max(1, -(-len(pairs) // 64))]
    if len(pairs) < FEWEST:
        return np.ones(frames[0].planes.both.shape, np.float32)
    shape = (2, frames[0].planes.both.shape[0] // 2, -1)
    halves = [ranges[j].off(frames[i].planes.both).reshape(shape)[:, ::2, ::2] for i, j in pairs]
    rank = int(0.9 * (len(halves) - 1))
    often = nth_smallest(np.stack(halves), rank)
    usual = 1 + _widely(often, frames[0].planes.both.shape) / _SOFT
    return np.asarray(np.minimum(usual, _MOST_USUAL), np.float32)


def _widely(often: Plane, shape: tuple[int, ...]) -> Map:
    """Spread motion over what lies near, within each plane, and give it at full size."""
    cv2, around = opencv(), np.ones((_REACH + 1,) * 2, np.uint8)
    size = (shape[1], shape[0] // 2)
    wide = [cv2.resize(cv2.dilate(p, around), size, interpolation=cv2.INTER_NEAREST) for p in often]
    return np.vstack(wide).astype(np.float32)
