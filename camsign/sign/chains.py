"""Rubs that follow one another, chained.

Two rubs follow one another if they lie within a step of each other, and the direction between them
agrees with both travels or with their opposites, since a line is rubbed going and coming. Of all
that may follow a rub on one side, the likeliest is the nearest and straightest; only rubs that
choose each other are linked, so that a chain never forks.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from camsign.sign.sources import Rubs

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Ints = npt.NDArray[np.int64]

# Common practice, no source: a line's rubs are a short walk apart and keep the direction.
STEP_M = 80.0
TURN_DEG = 40.0
LEAST_RUBS = 3

_AHEAD, _BEHIND = 0, 1


@dataclass(frozen=True, slots=True)
class Chain:
    """Rubs in the order of the travel of most of them; `agrees`: whether each is one of these."""

    rubs: tuple[int, ...]
    agrees: tuple[bool, ...]


def chains(
    rubs: Rubs, step_m: float = STEP_M, turn_deg: float = TURN_DEG, least: int = LEAST_RUBS
) -> list[Chain]:
    """Chain rubs, the longest first; each belongs to one chain at most.

    Args:
        rubs: places [m] and travels [rad].
        step_m: how far apart rubs that follow one another may lie [m].
        turn_deg: how far the direction between them may be off each travel or its opposite [deg].
        least: how many rubs make a chain.
    """
    links = _links(rubs, step_m, turn_deg)
    seen: set[int] = set()
    found = []
    # Ends first: what is left then are rings, which may be cut anywhere.
    ends = [i for i, sides in links.items() if len(sides) == 1]
    for start in [*ends, *links]:
        if start not in seen:
            path = _walk(links, start)
            seen.update(i for i, _ in path)
            if len(path) >= least:
                found.append(_oriented(path))
    return sorted(found, key=lambda c: (-len(c.rubs), c.rubs))


def _links(rubs: Rubs, step_m: float, turn_deg: float) -> dict[int, dict[int, tuple[int, int]]]:
    """Give, for each linked rub and side of it, the rub there and that one's side."""
    import numpy as np
    from scipy.spatial import cKDTree

    tree = cKDTree(np.stack([rubs.east, rubs.north], axis=1))
    i, j = tree.query_pairs(step_m, output_type="ndarray").T
    x, y = rubs.east[j] - rubs.east[i], rubs.north[j] - rubs.north[i]
    between = np.arctan2(x, y)
    side_i, off_i = _side(between - rubs.travel[i], turn_deg)
    side_j, off_j = _side(between + np.pi - rubs.travel[j], turn_deg)
    fits = (off_i >= 0) & (off_j >= 0)
    i, j, side_i, side_j = i[fits], j[fits], side_i[fits], side_j[fits]
    cost = np.hypot(x, y)[fits] * (1 + np.sin(off_i[fits]) + np.sin(off_j[fits]))
    best_i, best_j = _best(2 * i + side_i, 2 * j + side_j, cost, 2 * len(rubs))
    links: dict[int, dict[int, tuple[int, int]]] = {}
    for a, b in zip(best_i.tolist(), best_j.tolist(), strict=True):
        links.setdefault(a // 2, {})[a % 2] = (b // 2, b % 2)
        links.setdefault(b // 2, {})[b % 2] = (a // 2, a % 2)
    return links


def _side(angle: Floats, turn_deg: float) -> tuple[Ints, Floats]:
    """Which side of a rub a direction lies on, and how far off straight [rad]; -1 if neither."""
    import numpy as np

    off = np.abs((angle + np.pi) % (2 * np.pi) - np.pi)
    side = np.where(off < np.pi / 2, _AHEAD, _BEHIND)
    off = np.where(side == _AHEAD, off, np.pi - off)
    return side, np.where(off <= np.radians(turn_deg), off, -1.0)


def _best(one: Ints, other: Ints, cost: Floats, n: int) -> tuple[Ints, Ints]:
    """Give the pairs of sides that are each other's cheapest."""
    import numpy as np

    least = np.full(n, np.inf)
    np.minimum.at(least, one, cost)
    np.minimum.at(least, other, cost)
    mutual = (cost == least[one]) & (cost == least[other])
    one, other = one[mutual], other[mutual]
    # Of pairs that cost the same, each side takes part in the first only.
    _, first_one = np.unique(one, return_index=True)
    _, first_other = np.unique(other, return_index=True)
    kept = np.intersect1d(first_one, first_other)
    return one[kept], other[kept]


def _walk(links: dict[int, dict[int, tuple[int, int]]], start: int) -> list[tuple[int, bool]]:
    """Follow links from an end: each rub, and whether it is left in the direction of its travel."""
    leave = next(iter(links[start]))
    path = [(start, leave == _AHEAD)]
    at = links[start].get(leave)
    while at is not None and at[0] != start:
        rub, entered = at
        leave = _BEHIND if entered == _AHEAD else _AHEAD
        path.append((rub, leave == _AHEAD))
        at = links[rub].get(leave)
    return path


def _oriented(path: list[tuple[int, bool]]) -> Chain:
    forward = sum(ahead for _, ahead in path)
    if 2 * forward < len(path):
        path = [(rub, not ahead) for rub, ahead in reversed(path)]
    return Chain(tuple(rub for rub, _ in path), tuple(ahead for _, ahead in path))
