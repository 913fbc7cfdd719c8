"""Rubs that follow one another, chained.

Two rubs follow one another if they lie within a step of each other, and the direction between them
agrees with both travels or with their opposites, since a line is rubbed going and coming. Of all
that may follow a rub on one side, the likeliest is the nearest and straightest; only rubs that
choose each other are linked, so that a chain never forks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from camsign.arrays import Floats, Ints
from camsign.sign.origin_likelihood import Rubs

# Common practice, no source: a line's rubs are a short walk apart and keep the direction.
STEP_M = 170.0
TURN_DEG = 30.0
LEAST_RUBS = 3
_NEIGHBORS = 12  # what follows a rub is among its nearest, or it among the other's

DEALS = 19
"""How often travels are drawn anew to see what chance chains."""

_AHEAD, _BEHIND = 0, 1


@dataclass(frozen=True, slots=True)
class Chain:
    """Rubs in the order of the travel of most of them; `agrees`: whether each is one of these."""

    rubs: tuple[int, ...]
    agrees: tuple[bool, ...]


def chains(
    rubs: Rubs, step_m: float = STEP_M, turn_deg: float = TURN_DEG, least: int = LEAST_RUBS
) -> list[Chain]:
    """Chain rubs, `least` of them or more, the longest first; each belongs to one chain at most.

    Rubs that follow one another lie `step_m` apart [m] at most, and the direction between them is
    off each travel or its opposite by `turn_deg` [deg] at most.
    """
    return _chained(_near(rubs, step_m), rubs.travel, turn_deg, least)


def longest_by_chance(
    rubs: Rubs, step_m: float = STEP_M, turn_deg: float = TURN_DEG, deals: int = DEALS
) -> list[int]:
    """Give how many rubs the longest chain has in each of so many `deals`, with a fixed seed, of
    travels at random to the same places; the rest as for `chains`."""
    near, law = _near(rubs, step_m), np.random.default_rng(len(rubs))
    drawn = (law.uniform(0, 2 * np.pi, len(rubs)) for _ in range(deals))
    found = (_chained(near, travel, turn_deg, least=2) for travel in drawn)
    return [len(chains[0].rubs) if chains else 0 for chains in found]


@dataclass(frozen=True, slots=True)
class _Near:
    """Pairs of rubs a step apart at most: `between` is the direction from i to j, `far` in m."""

    i: Ints
    j: Ints
    between: Floats
    far: Floats


def _near(rubs: Rubs, step_m: float) -> _Near:
    tree = rubs.tree()
    found = tree.query(tree.data, k=_NEIGHBORS + 1, distance_upper_bound=step_m)
    far, other = (np.asarray(column) for column in found)
    one = np.broadcast_to(np.arange(len(rubs))[:, None], other.shape)
    some = np.isfinite(far) & (one != other)
    pairs = np.sort(np.stack([one[some], other[some]], axis=1), axis=1)
    i, j = np.unique(pairs, axis=0).T
    x, y = rubs.east[j] - rubs.east[i], rubs.north[j] - rubs.north[i]
    return _Near(i, j, np.arctan2(x, y), np.hypot(x, y))


def _chained(near: _Near, travel: Floats, turn_deg: float, least: int) -> list[Chain]:
    links = _links(near, travel, turn_deg)
    seen: set[int] = set()
    found = []
    # Ends first: what is left then are rings, which may be cut anywhere.
    ends = [i for i, sides in links.items() if len(sides) == 1]
    for start in [*ends, *links]:
        if start not in seen:
            path = _walk(links, start)
            seen.update(i for i, _ in path)
            if len(path) < least:
                continue
            if 2 * sum(ahead for _, ahead in path) < len(path):
                path = [(rub, not ahead) for rub, ahead in reversed(path)]
            found.append(Chain(*map(tuple, zip(*path, strict=True))))
    return sorted(found, key=lambda c: (-len(c.rubs), c.rubs))


def _links(near: _Near, travel: Floats, turn_deg: float) -> dict[int, dict[int, tuple[int, int]]]:
    """Give, for each linked rub and side of it, the rub there and that one's side."""
    side_i, off_i = _side(near.between - travel[near.i], turn_deg)
    side_j, off_j = _side(near.between + np.pi - travel[near.j], turn_deg)
    fits = (off_i >= 0) & (off_j >= 0)
    one, other = 2 * near.i[fits] + side_i[fits], 2 * near.j[fits] + side_j[fits]
    cost = near.far[fits] * (1 + np.sin(off_i[fits]) + np.sin(off_j[fits]))
    best_i, best_j = _best(one, other, cost, 2 * len(travel))
    links: dict[int, dict[int, tuple[int, int]]] = {}
    for a, b in zip(best_i.tolist(), best_j.tolist(), strict=True):
        links.setdefault(a // 2, {})[a % 2] = (b // 2, b % 2)
        links.setdefault(b // 2, {})[b % 2] = (a // 2, a % 2)
    return links


def _side(angle: Floats, turn_deg: float) -> tuple[Ints, Floats]:
    """Which side of a rub a direction lies on, and how far off straight [rad]; -1 if neither."""
    off = np.abs((angle + np.pi) % (2 * np.pi) - np.pi)
    side = np.where(off < np.pi / 2, _AHEAD, _BEHIND)
    off = np.where(side == _AHEAD, off, np.pi - off)
    return side, np.where(off <= np.radians(turn_deg), off, -1.0)


def _best(one: Ints, other: Ints, cost: Floats, n: int) -> tuple[Ints, Ints]:
    """Give the pairs of sides that are each other's cheapest."""
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
