"""Two bucks at one place: are they there on the same nights, and does one give way to the other?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from camsign.stats.estimate import Estimate, tail

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Together:
    """Nights on which both were there, and how many chance gives with its central interval.

    `p`: the probability of a number as far from chance, both ways.
    """

    nights: int
    by_chance: Estimate
    p: float


@dataclass(frozen=True, slots=True)
class GivingWay:
    """How long after one passed the other was next seen [h]: medians, and against shuffled order.

    `after_first`: until the second was seen after the first; `after_second` the other way round.
    `p`: share of shuffled orders whose difference is as large, both ways. None where either has
    too few passes.
    """

    after_first: float | None
    after_second: float | None
    p: float | None


def together(first: int, second: int, both: int, nights: int, level: float = 0.95) -> Together:
    """Compare nights shared with chance: first and second were there on so many of `nights`.

    If neither minds the other, the nights shared follow a hypergeometric law. Source: J. A. Veech,
    A probabilistic model for analysing species co-occurrence, Glob. Ecol. Biogeogr. 22 (2013)
    252-260. Spells and seasons that both follow look like company.
    """
    from scipy.stats import hypergeom

    law = hypergeom(nights, first, second)
    outside = tail(level)
    chance = Estimate(float(law.mean()), float(law.ppf(outside)), float(law.ppf(1 - outside)))
    p = 2 * min(float(law.cdf(both)), float(law.sf(both - 1)), 0.5)
    return Together(both, chance, min(p, 1.0))


def giving_way(
    first: npt.ArrayLike, second: npt.ArrayLike, within: float = 72.0, shuffles: int = 999,
    seed: int = 1, fewest: int = 5,
) -> GivingWay:  # fmt: skip
    """Compare the waits after each other's passes with those of shuffled order.

    Args:
        first: times of one's visits [h], in any order.
        second: times of the other's.
        within: longer waits count as this long: by then it has nothing to do with the other.
        shuffles: how often who was who is dealt anew over the same times.
        seed: of the shuffling.
        fewest: with fewer passes of either there is no answer.

    The times stay, the names are dealt anew, so the rhythm of the place is kept. A permutation
    test: p = (1 + as large) / (1 + shuffles); B. Phipson and G. K. Smyth, Stat. Appl. Genet. Mol.
    Biol. 9 (2010) 39.
    """
    import numpy as np

    a, b = (np.asarray(x, dtype=float).ravel() for x in (first, second))
    if min(len(a), len(b)) < fewest:
        return GivingWay(None, None, None)
    times = np.concatenate([a, b])
    order = np.argsort(times, kind="stable")
    times, second_one = times[order], (np.arange(len(times)) >= len(a))[order]
    rng = np.random.default_rng(seed)
    dealt = np.vstack([second_one, rng.permuted(np.tile(second_one, (shuffles, 1)), axis=1)])
    after_first = _waits(times, ~dealt, within, len(a))
    after_second = _waits(times, dealt, within, len(b))
    apart = np.abs(after_first - after_second)
    larger = int((apart[1:] >= apart[0]).sum())
    return GivingWay(float(after_first[0]), float(after_second[0]), (1 + larger) / (1 + shuffles))


def _waits(times: Floats, mine: npt.NDArray[np.bool_], within: float, count: int) -> Floats:
    """Median waits from one's visits to the other's next, a row a deal; none to come is `within`.

    `mine`: which of the times are his, `count` in each row.
    """
    import numpy as np

    others = np.where(mine, np.inf, times)
    following = np.minimum.accumulate(others[:, ::-1], axis=1)[:, ::-1]
    waits = np.minimum(following[mine].reshape(len(mine), count) - _times_of(times, mine), within)
    return np.asarray(np.median(waits, axis=1))


def _times_of(times: Floats, mine: npt.NDArray[np.bool_]) -> Floats:
    import numpy as np

    his: Floats = np.broadcast_to(times, mine.shape)[mine].reshape(len(mine), -1)
    return his
