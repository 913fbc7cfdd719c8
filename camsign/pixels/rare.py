"""What most of the camera's pictures do not show: an animal that comes back to one spot.

`news` asks whether a few other pictures explain a pixel. An animal that beds before the camera, or
feeds at one place every night, explains itself that way. So here most of the pictures in like
light must agree: what a whole burst shows, in all its frames at one place, and four in five of the
others do not, is rare, if it is so clearly against what else is rare in that burst (sun, leaves
that fell), and if it is a thing and not the ground that a thing hides in the others
(`camsign.pixels.outline`). Where things move within most bursts (a branch in the wind) nothing is
rare. The pictures in like light are found by most of their parts, so that a large animal does not
look out its own kind. Worked out at half the size, once a burst.

An animal that four in five pictures show is what the camera usually sees, and cannot be told from
a stump here: `camsign.pixels.come_and_go` looks for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.opencv import opencv
from camsign.pixels.outline import stands_out
from camsign.pixels.planes import Plane, Planes, Range, halved, nth_smallest, range_of
from camsign.pixels.ranks import at_share

SHARE = 0.8
"""So many of the pictures in like light must show what a burst shows."""

MOST = 48
"""So many of them are asked."""

SPECK = 8
"""Smaller parts are passed over [pixels, half size]."""

CLEAR = 3.6
"""So rare, against what is rare elsewhere in the burst, is a thing."""

_FAINT = 1.5  # below is nothing
_TRIES = 6  # specks and ground that are taken out, before the rest counts as it is
_SAME, _OTHER = 0.25, 0.6  # shares of how far the others are: the same below, another look above
_THING = 0.9  # a thing's outline stands out at least so much more than the ground in its place
_LEAST, _SURE = 1.7, 2.0  # less rare (leaves wave about it), if its outline stands out so much
_SELDOM = 0.4  # and at most so many pictures show it
_REST = 0.98  # what is rare elsewhere is this quantile of it
_NEAR = 25  # pixels around a spot that are not elsewhere
_MOST_PARTS = 0.7  # pictures are in like light if so many of their parts are
_SOFT = 12.0  # usual motion of so many levels halves what is rare
_STILL = 1.5  # where usual motion divides by more, nothing is rare

_OFTEN = 0.75  # the share of bursts in which a place moves at most as much as is usual
_NEAREST = 8  # of so many pictures the light is surely like
_FARTHER = 1.5, 6.0  # others may be farther by this factor and so many levels

PATCH = 3
"""Pixels at half the size that a patch is wide and tall."""

Map = NDArray[np.float32]
Sums = NDArray[np.uint16]


class Small:
    """A picture's planes at half the size.

    range: what they show within a pixel, two of the glance. patches: the sum of the shade of the
    patch around each pixel.
    """

    __slots__ = ("both", "patches", "range")

    def __init__(self, planes: Planes) -> None:
        cv2, shade, grain = opencv(), halved(planes.shade), halved(planes.grain)
        self.both: Plane = np.vstack([shade, grain])
        self.range: Range = range_of(shade, grain)
        self.patches: Sums = cv2.boxFilter(shade, cv2.CV_16U, (PATCH, PATCH), normalize=False)


def in_like_light(here: NDArray[np.float32], others: NDArray[np.float32]) -> NDArray[np.intp]:
    """Choose the pictures (n, parts) most of whose parts are near this one's, nearest first.

    Of too many they are spread over all that are near enough: the nearest of them show the same
    animal, which would hide it.
    """
    apart = np.abs(others - here)
    rank = int(_MOST_PARTS * (apart.shape[1] - 1))
    far = np.partition(apart, rank, axis=1)[:, rank]
    order = np.argsort(far, kind="stable")
    factor, more = _FARTHER
    limit = factor * float(far[order[min(_NEAREST, len(order)) - 1]]) + more
    near = order[far[order] <= limit]
    n = min(len(near), MOST)
    return near[np.arange(n) * len(near) // n]


@dataclass(frozen=True, slots=True)
class Rare:
    """How far each pixel of a burst is from what most pictures show there, at half the size.

    map: against what is rare elsewhere in the burst. thing: the burst shows a thing that comes back
    to one spot, or is there for once.
    """

    map: Map
    thing: bool


def rare(burst: Sequence[Small], like: Sequence[Small], usual: Map) -> Rare:
    """Compare a whole burst with what most pictures show.

    Args:
        burst: its frames.
        like: pictures of other times in like light.
        usual: by `usual_motion`.

    Returns:
        A map (rows, columns), 0 where enough pictures agree, without specks (a leaf that seldom
        hangs there), and without spots where the burst shows the ground and others a thing.
    """
    cv2 = opencv()
    offs = _farthest_out(burst, like)
    rank = min(len(like) - 1, int(np.ceil(SHARE * len(like))) - 1)
    off = nth_smallest(offs, rank).astype(np.float32)
    rows = off.shape[0] // 2
    weighed = np.where(usual > _STILL, 0, cv2.blur(off, (3, 3)) / usual)
    shade, grain = weighed[:rows], weighed[rows:]
    found = np.asarray(np.sqrt(grain * np.sqrt(shade * grain)), np.float32)
    return _things(found, offs, burst[len(burst) // 2], like)


def _farthest_out(burst: Sequence[Small], like: Sequence[Small]) -> Plane:
    """Give for each of the others (n, rows, columns) how far the whole burst is from it."""
    cv2, (first, *more) = opencv(), burst
    offs = np.empty((len(like), *first.both.shape), np.uint8)
    off, spare = np.empty_like(first.both), np.empty_like(first.both)
    for at, other in zip(offs, like, strict=True):
        other.range.off(first.both, at, spare)
        for frame in more:
            cv2.min(at, other.range.off(frame.both, off, spare), dst=at)
    return offs


def _things(found: Map, offs: Plane, here: Small, like: Sequence[Small]) -> Rare:
    """Take out specks and ground, the strongest first; weigh what is left against the rest."""
    calm = 1.0
    for _ in range(_TRIES):
        at = np.unravel_index(int(found.argmax()), found.shape)
        peak = float(found[at])
        if peak < _FAINT:
            break
        _, labels = opencv().connectedComponents((found > peak / 2).astype(np.uint8))
        core = labels == labels[at]
        size, near = int(core.sum()), _around(core)
        calm = 1 + (at_share(found[~near], _REST) if not near.all() else 0.0)
        if size >= SPECK:
            if peak < _LEAST * calm:
                break
            apart = _apart(core, offs)
            share = float((apart < _SAME).mean())
            clear = peak >= CLEAR * calm
            outline = _outline(core, apart, here, like) if clear or share <= _SELDOM else 0.0
            if outline >= (_THING if clear else _SURE):
                return Rare(found / np.float32(calm), True)
        found = np.where(near if size >= SPECK else core, np.float32(0), found)
    return Rare(found / np.float32(calm), bool(found.max() >= CLEAR * calm))


def _around(core: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return np.asarray(opencv().dilate(core.astype(np.uint8), np.ones((_NEAR, _NEAR), np.uint8)) > 0)


def _apart(core: NDArray[np.bool_], offs: Plane) -> NDArray[np.float64]:
    """Give how far each of the others is from the burst there, as a share of the far ones."""
    rows = core.shape[0]
    apart = (offs[:, :rows][:, core].mean(axis=1) + offs[:, rows:][:, core].mean(axis=1)) / 2
    return np.asarray(apart / max(at_share(apart, SHARE), 1e-6))


def _outline(
    core: NDArray[np.bool_], apart: NDArray[np.float64], here: Small, like: Sequence[Small]
) -> float:
    """Give how much more the outline at a spot stands out than in pictures that differ there."""
    rows = core.shape[0]
    others = [like[k].both[:rows] for k in np.flatnonzero(apart >= _OTHER).tolist()]
    return stands_out(here.both[:rows], others, core)


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
    moved = nth_smallest(np.stack([a.range.off(b.both) for a, b in pairs]), rank)
    rows = shape[0] // 2
    wide = [cv2.dilate(p, np.ones((5, 5), np.uint8)) for p in (moved[:rows], moved[rows:])]
    return np.asarray(1 + np.vstack(wide) / _SOFT, np.float32)
