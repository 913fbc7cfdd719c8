"""Two bucks at one place: are they there on the same nights, and does one give way to the other?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from camsign.arrays import Floats
from camsign.stats.counts import Shared
from camsign.stats.estimate import Estimate, holding, tail


@dataclass(frozen=True, slots=True)
class GivingWay:
    """How long after one passed the other was next seen [h]: medians, and against shifted days.

    `after_first`: until the second was seen after the first; `after_second` the other way round.
    `p`: share of shifted days whose difference is as large, both ways. None where either has
    too few passes. `second_gives_way`: he keeps away after the first for longer than by chance,
    against the other way round; else the first does.
    """

    after_first: float | None
    after_second: float | None
    p: float | None
    second_gives_way: bool | None


def together(
    first: int, second: int, both: int, nights: int, level: float = 0.95
) -> tuple[Estimate, float]:
    """Compare nights shared with chance: first and second were there on so many of `nights`.

    Give how many chance gives with its central interval, and the probability of a number of shared
    nights as far from it, both ways.

    If neither minds the other, the nights shared follow a hypergeometric law. Source: J. A. Veech,
    A probabilistic model for analysing species co-occurrence, Glob. Ecol. Biogeogr. 22 (2013)
    252-260. Spells and seasons that both follow look like company.
    """
    law, outside = Shared(nights, first, second), tail(level)
    chance = holding(law.mean, law.reached(outside), law.reached(1 - outside))
    return chance, min(2 * min(law.at_most(both), law.at_least(both), 0.5), 1.0)


def giving_way(
    first: npt.ArrayLike, second: npt.ArrayLike, within: float = 72.0, shifts: int = 399,
    fewest: int = 5,
) -> GivingWay:  # fmt: skip
    """Compare the waits after each other's passes with those of one's days shifted.

    Args:
        first: times of one's visits [h], in any order.
        second: times of the other's.
        within: longer waits count as this long: by then it has nothing to do with the other.
        shifts: at most so many shifts are tried, spread evenly over the days.
        fewest: with fewer passes of either there is no answer.

    The second's visits are moved by whole days, around the end to the beginning, so that each keeps
    his own hours and his own spells: one who always comes at 5 PM does not give way to one who
    comes at 8. A toroidal shift: H. W. Lotwick and B. W. Silverman, Methods for analysing spatial
    processes of several types of points, J. R. Stat. Soc. B 44 (1982) 406-413.
    p = (1 + as large) / (1 + shifts); B. Phipson and G. K. Smyth, Stat. Appl. Genet. Mol. Biol. 9
    (2010) 39.
    """
    a, b = (np.sort(np.asarray(x, dtype=float).ravel()) for x in (first, second))
    if min(len(a), len(b)) < fewest:
        return GivingWay(None, None, None, None)
    start = np.floor(min(a[0], b[0]) / 24) * 24
    span = np.ceil((max(a[-1], b[-1]) - start) / 24 + 1e-9) * 24
    days = np.arange(1, int(span / 24))
    if len(days) > shifts:
        days = np.unique(np.linspace(1, len(days), shifts).round().astype(int))
    turns = [np.sort(start + (b - start + 24.0 * day) % span) for day in days]
    lag = _lag(a, b, within)
    by_chance = np.array([_lag(a, moved, within) for moved in turns])
    usual = by_chance.mean() if len(by_chance) else lag
    larger = int((np.abs(by_chance - usual) >= abs(lag - usual)).sum())
    after_first, after_second = (np.median(_waits(*x, within)) for x in ((a, b), (b, a)))
    p = (1 + larger) / (1 + len(days))
    return GivingWay(float(after_first), float(after_second), p, bool(lag > usual))


def _lag(first: Floats, second: Floats, within: float) -> float:
    """How much longer the second keeps away after the first than the other way round [h]."""
    return float(_waits(first, second, within).mean() - _waits(second, first, within).mean())


def _waits(mine: Floats, theirs: Floats, within: float) -> Floats:
    """Give the wait from each of one's visits to the other's next; none to come is `within`."""
    at = np.searchsorted(theirs, mine, side="right")
    following = np.append(theirs, np.inf)[at]
    found: Floats = np.minimum(following - mine, within)
    return found
