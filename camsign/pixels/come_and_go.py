"""What comes and goes at one spot: a deer that hardly ever leaves, or often comes back.

What most pictures show is what the camera usually sees, and one picture cannot be told to show a
deer there rather than a stump. But a deer leaves now and then, and then the ground shows at its
place: at one spot, in bursts half an hour apart, while the rest of the picture is as ever (with
snow or sun much of it changes). There the pictures with the deer have an outline that the ground
lacks (`camsign.pixels.outline`). Each such time counts by how clearly it differs and how much
weaker its outline is; the strongest does not, so that no single time decides.

The same the other way round: a thing that many bursts show at one spot, again and again, while
most show the ground or the deer in another pose.

Before leaves in the wind an outline tells little: leaves have edges all over. But a patch of them
hardly changes its mean, and not to one side in all frames of a burst; a deer there makes it
lighter, or darker, whenever it is back. So such patches count unless their outline is the ground's.
How much the leaves vary is asked of the bursts that are nearest to what is usual: a deer in half of
the pictures would else pass for the leaves' own variety. A deer in so many leaves a place two looks
(`camsign.pixels.two_looks`).

Shade alone is compared, at half the size: a smooth flank on smooth ground has no detail to tell
them apart by. What counts is in all frames of a burst, as a leaf that sways is not. Tuned on 40
cameras with a deer in 55 to 95 of 100 pictures and 80 views of ordinary ones; patches on 212 trials
before leaves and 62 ordinary deployments (docs/accuracy.md).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.news import APART_S
from camsign.pixels.opencv import opencv
from camsign.pixels.outline import stands_out
from camsign.pixels.planes import FramePlanes, Plane, bursts_of, halved, nth_smallest
from camsign.pixels.ranks import at_share
from camsign.pixels.rare import PATCH, SPECK
from camsign.pixels.two_looks import two_looks

FEWEST = 6
"""With fewer bursts nothing can be said."""

ENOUGH, OFTEN_ENOUGH = 3.0, 20.0
"""So much evidence says that most show a thing that some lack, and that a thing comes back."""

VISITS, VISITED = 5, 0.15
"""It came back so many times, half an hour apart, and so large a share of all bursts show it."""

PATCHES = 3, 0.06, 5.0
"""The same of patches: fewer visits, and so much evidence beyond what a patch needs to count."""

MANY = 0.4
"""If so many bursts show what comes back, the others may show it in another pose, or these may show
what is behind it."""

_MOST = 64  # so many bursts, spread over the time, say what is usual
_TRIED, _WITHIN = (0.3, 0.5, 0.7), 0.15  # of these quantiles the one nearest to those about it,
_CLOSER = 2.0  # but the middle one if none is so many levels nearer
_OFTEN = 0.3  # and so many of them are nearer to that than a place's unrest
_STEADY = 4.0  # a place is taken to vary by so many levels at least
_SPREAD, _WIDER = 0.3, 2.2  # a patch varies by so many times this quantile of what it is off: where
_CALM = 2.0  # half of the bursts show a deer it is the leaves'; and by so many levels at least
_FAINT, _LEAST = 5, 8  # levels: less is nothing, and less at its clearest is no other look
_CLEAR = 2.0  # times its unrest, and what is off elsewhere, a spot is off
_REST = 0.9  # what is off elsewhere is this quantile of it
_ALIKE, _ALIKE_OFF = 0.7, 0.1  # so much of the picture is off by at most this share of the spot
_SAME = 0.4  # of how far a burst is off: others nearer to the usual show the thing
_OTHERS = 0.4  # so many others do
_ASKED = 3  # so many of them are asked for their outline
_GROUND, _THING = 0.9, 1.15  # the outline is so strong, as a multiple of the others'
_AS_FAR = 0.5  # what is off at least by this share of what shows a thing there, shows it too
_TRIES = 3
_AROUND, _NEAR = np.ones((3, 3), np.uint8), np.ones((7, 7), np.uint8)

Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Spot:
    """Where a burst, by its number, differs from most. evidence: that it shows the ground where
    others show a thing; below 0, that it shows the thing."""

    burst: int
    core: Mask
    evidence: float


def come_and_go(frames: Sequence[FramePlanes]) -> set[int]:
    """Give the bursts (`FramePlanes.burst`) of one view that may show what comes and goes.

    Args:
        frames: of one view and light, in order of time; those of a burst are neighbors.

    Returns:
        All of them if most show a thing that some lack; else those that show what comes back.
    """
    in_bursts = bursts_of(frames)
    middles = [frames[b[len(b) // 2]] for b in in_bursts]
    if len(middles) < FEWEST:
        return set()
    at = np.array([f.at for f in middles])
    shades = [[halved(frames[i].planes.shade) for i in b] for b in in_bursts]
    spots = list(_spots(_middles(shades), *_unusual(shades), _told))
    bursts = np.array([f.burst for f in middles])
    visits = (_visits(b, at) for b in _together([s for s in spots if s.evidence > 0], len(at)))
    if any(v.sum() - v.max() >= ENOUGH for v in visits):
        return set(bursts.tolist())
    things = [s for s in spots if s.evidence < 0]
    back = _back(things, at, (VISITS, VISITED, OFTEN_ENOUGH))
    back |= back.mean() >= MANY
    soft = [[opencv().blur(s, (PATCH, PATCH)) for s in b] for b in shades]
    back |= two_looks(soft, at)
    lighter, darker, weight = _patches(soft)
    patches = list(_spots(_middles(shades), lighter + darker, weight, _no_ground))
    for off in (lighter, darker):
        some = [s for s in patches if off[s.burst][s.core].any()]
        back |= _back(some, at, PATCHES, off)
    return set(bursts[back].tolist())


def _back(
    things: Sequence[_Spot],
    at: NDArray[np.float64],
    asked: tuple[int, float, float],
    off: NDArray[np.uint8] | None = None,
) -> NDArray[np.bool_]:
    """Say of each burst if it shows a thing that came back: asked are visits, share, evidence.

    off: of patches, how far each burst is off. Where a thing is known to come back, a burst that is
    about as far off shows it too.
    """
    back, (visits, share, enough) = np.zeros(len(at), np.bool_), asked
    for spot, by_burst in zip(things, _together(things, len(at)), strict=False):
        shows, visit = by_burst > 0, _visits(by_burst, at)
        often = len(visit) >= visits and shows.mean() >= share
        if often and visit.sum() - visit.max() >= enough:
            back |= shows if off is None else _as_far(shows, off, spot.core)
    return back


def _as_far(shows: NDArray[np.bool_], off: NDArray[np.uint8], core: Mask) -> NDArray[np.bool_]:
    there = off.reshape(len(off), -1)[:, np.flatnonzero(core)].mean(axis=1)
    return np.asarray(shows | (there >= _AS_FAR * np.median(there[shows])))


def _middles(shades: Sequence[Sequence[Plane]]) -> list[Plane]:
    return [b[len(b) // 2] for b in shades]


def _told(clear: float, outline: float) -> float:
    """Give what an outline says: above 0 that it is the ground, below 0 a thing, 0 for nothing."""
    if outline <= _GROUND:
        return clear * (1 - outline)
    return clear * (1 / outline - 1) if outline >= _THING else 0.0


def _no_ground(clear: float, outline: float) -> float:
    return _CLEAR - clear if outline > _GROUND else 0.0


def _unusual(
    shades: Sequence[Sequence[Plane]],
) -> tuple[NDArray[np.uint8], NDArray[np.float32]]:
    """Give how far each whole burst is off what is usual, and what weighs it at each place."""
    cv2 = opencv()
    some = slice(None, None, -(-len(shades) // _MOST))
    asked = np.stack(_middles(shades[some]))
    usual = _commonest(asked)
    low, high = cv2.erode(usual, _AROUND), cv2.dilate(usual, _AROUND)
    one = [[cv2.max(cv2.subtract(low, s), cv2.subtract(s, high)) for s in b] for b in shades]
    off = np.stack([cv2.blur(reduce(cv2.min, b), (3, 3)) for b in one])
    unrest = nth_smallest(off[some], int(_OFTEN * (len(asked) - 1)))
    wide = cv2.dilate(unrest, np.ones((5, 5), np.uint8)).astype(np.float32)
    return off, 1 / (wide + np.float32(_STEADY))


def _patches(
    soft: Sequence[Sequence[Plane]],
) -> tuple[NDArray[np.uint8], NDArray[np.uint8], NDArray[np.float32]]:
    """Give how much lighter, and darker, all frames of each burst have a patch than is usual, and
    what weighs it."""
    cv2 = opencv()
    asked = np.stack(_middles(soft[:: -(-len(soft) // _MOST)]))
    usual = _commonest(asked)
    apart = np.stack([cv2.absdiff(a, usual) for a in asked])
    spread = nth_smallest(apart, int(_SPREAD * (len(asked) - 1))).astype(np.float32)
    spread = cv2.blur(spread, (5, 5)) * np.float32(_WIDER)
    lighter = np.stack([cv2.subtract(reduce(cv2.min, b), usual) for b in soft])
    darker = np.stack([cv2.subtract(usual, reduce(cv2.max, b)) for b in soft])
    return lighter, darker, np.reciprocal(spread + np.float32(_CALM))


def _commonest(asked: NDArray[np.uint8]) -> Plane:
    """Give at each place the level, of these (n, rows, columns), about which many lie closest.

    Where half of the pictures show a deer, the middle one lies between it and the ground.
    """
    cv2, in_order, last = opencv(), np.sort(asked, axis=0), len(asked) - 1
    low, at, high = (
        in_order[[round((share + more) * last) for share in _TRIED]]
        for more in (-_WITHIN, 0, _WITHIN)
    )
    apart = np.stack([cv2.blur(a, (5, 5)) for a in (high - low).astype(np.float32)])
    apart[1] -= _CLOSER
    return np.asarray(np.take_along_axis(at, apart.argmin(axis=0)[None], axis=0)[0])


def _spots(
    shades: Sequence[Plane],
    off: NDArray[np.uint8],
    weight: NDArray[np.float32],
    told: Callable[[float, float], float],
) -> Iterator[_Spot]:
    flat = off.reshape(len(off), -1)
    for burst, mine in enumerate(off):
        for core, clear in _clear(mine, weight):
            there = flat[:, np.flatnonzero(core)].mean(axis=1)
            most_show = np.flatnonzero(there < _SAME * there[burst])
            if len(most_show) < _OTHERS * len(off):
                continue
            asked = most_show[:: -(-len(most_show) // _ASKED)].tolist()
            outline = stands_out(shades[burst], [shades[k] for k in asked], core)
            if evidence := told(clear, outline):
                yield _Spot(burst, core, evidence)


def _clear(off: Plane, weight: NDArray[np.float32]) -> Iterator[tuple[Mask, float]]:
    """Give where a picture is off what is usual, the clearest first, and how clearly."""
    cv2 = opencv()
    weighed = np.where(off < _FAINT, np.float32(0), off * weight)
    if weighed.max() < _CLEAR:
        return
    calm, alike = 1 + at_share(weighed, _REST), at_share(off, _ALIKE)
    for _ in range(_TRIES):
        _, peak, _, (column, row) = cv2.minMaxLoc(weighed)
        if peak < _CLEAR * calm:
            break
        _, labels = cv2.connectedComponents((weighed > peak / 2).astype(np.uint8))
        core = labels == labels[row, column]
        large = np.count_nonzero(core) >= SPECK
        if large and off[row, column] >= _LEAST and alike <= _ALIKE_OFF * off[core].mean():
            yield core, peak / calm
        weighed[cv2.dilate(core.view(np.uint8), _NEAR).view(np.bool_) if large else core] = 0


def _together(spots: Sequence[_Spot], n: int) -> Iterator[NDArray[np.float64]]:
    """Give by burst, of n, how much evidence there is at each of the spots."""
    if len(spots) < 2:
        return
    cores = np.stack([s.core.ravel() for s in spots]).astype(np.float32)
    size = cores.sum(axis=1)
    at_one_spot = cores @ cores.T >= np.minimum.outer(size, size) / 2
    bursts = np.array([s.burst for s in spots])
    evidence = np.abs([s.evidence for s in spots])
    for there in at_one_spot:
        by_burst = np.zeros(n)
        np.maximum.at(by_burst, bursts[there], evidence[there])
        yield by_burst


def _visits(by_burst: NDArray[np.float64], at: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the most evidence of each of the times, half an hour apart, that bursts show it."""
    shows = np.flatnonzero(by_burst)
    begins = np.flatnonzero(np.diff(at[shows], prepend=-np.inf) > APART_S)
    return np.asarray(np.maximum.reduceat(by_burst[shows], begins))
