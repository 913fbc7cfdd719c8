"""Chances of counts, and how many there are that nobody has seen.

Chances are summed over whole numbers: exact, and no library of laws is loaded for them. Source:
N. L. Johnson, A. W. Kemp and S. Kotz, Univariate discrete distributions, 3rd ed. (2005), chapters 5
(negative binomial) and 6 (hypergeometric). Who is never seen is counted from those seen once and
twice: weak with few bucks.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate
from math import comb, exp, log, sqrt

from camsign.stats.estimate import Estimate, tail


class Shared:
    """How many of `nights` two share if one is there on `first`, the other on `second` of them."""

    def __init__(self, nights: int, first: int, second: int) -> None:
        self._least = max(0, first + second - nights)
        most = min(first, second)
        ways = [
            comb(first, k) * comb(nights - first, second - k) for k in range(self._least, most + 1)
        ]
        self._upto = list(accumulate(ways))
        self.mean = first * second / nights if nights else 0.0

    def at_most(self, count: int) -> float:
        """The chance of so many or fewer."""
        i = min(count - self._least, len(self._upto) - 1)
        return self._upto[i] / self._upto[-1] if i >= 0 else 0.0

    def at_least(self, count: int) -> float:
        """The chance of so many or more."""
        i = min(count - self._least, len(self._upto))
        return (self._upto[-1] - self._upto[i - 1]) / self._upto[-1] if i > 0 else 1.0

    def reached(self, chance: float) -> int:
        """The smallest count of which so many or fewer have at least this chance."""
        return next(
            (self._least + i for i, n in enumerate(self._upto) if n / self._upto[-1] >= chance),
            self._least + len(self._upto) - 1,
        )


def days_until(times: int, chance: float, share: float, keep: float, sure: float, most: int) -> int:
    """The fewest days on which, with `sure`, he was seen so many times at least; not over `most`.

    He is there on a share of days; a day keeps yesterday's state with `keep` or draws it anew by
    that share, so that days there hang together, and on each of them he is seen with `chance`. By
    the forward recursion over how often he was seen so far; without keeping it is the binomial law.
    """
    here, gone = [share] + [0.0] * (times - 1), [1 - share] + [0.0] * (times - 1)
    for day in range(1, most):
        hit = [chance * x for x in here]
        here = [x - h + before for x, h, before in zip(here, hit, [0.0, *hit], strict=False)]
        if sum(here) + sum(gone) <= 1 - sure:
            return day
        anew = [(1 - keep) * (x + y) for x, y in zip(here, gone, strict=True)]
        here = [keep * x + share * n for x, n in zip(here, anew, strict=True)]
        gone = [keep * y + (1 - share) * n for y, n in zip(gone, anew, strict=True)]
    return most


def chao2(times: Sequence[int], occasions: int, level: float = 0.95) -> Estimate:
    """How many individuals there are, of whom each in `times` was seen on so many occasions.

    Bias-corrected: S + (t-1)/t f1 (f1-1) / (2 (f2+1)), with t occasions, S seen, f1 of them once
    and f2 twice; a log-normal interval that does not go below S. Sources: A. Chao, Estimating the
    population size for capture-recapture data with unequal catchability, Biometrics 43 (1987)
    783-791; variance as in R. K. Colwell, EstimateS user's guide (2013), appendix B.
    """
    from scipy.special import ndtri

    seen = [n for n in times if n > 0]
    s, f1, f2 = len(seen), seen.count(1), seen.count(2)
    factor = (occasions - 1) / occasions if occasions > 0 else 0.0
    unseen = factor * f1 * (f1 - 1) / (2 * (f2 + 1))
    if unseen <= 0:
        return Estimate(float(s), float(s), None if f1 else float(s))
    a, total = factor, s + unseen
    if f2:
        variance = (
            a * f1 * (f1 - 1) / (2 * (f2 + 1))
            + a**2 * f1 * (2 * f1 - 1) ** 2 / (4 * (f2 + 1) ** 2)
            + a**2 * f1**2 * f2 * (f1 - 1) ** 2 / (4 * (f2 + 1) ** 4)
        )
    else:
        first = a * f1 * (f1 - 1) / 2 + a**2 * f1 * (2 * f1 - 1) ** 2 / 4
        variance = first - a**2 * f1**4 / (4 * total)
    spread = exp(float(-ndtri(tail(level))) * sqrt(log(1 + variance / unseen**2)))
    return Estimate(s + unseen, s + unseen / spread, s + unseen * spread)


def coverage(times: Sequence[int]) -> float | None:
    """The share of all sightings to come that fall on individuals seen already: 1 - f1/n.

    `times`: how often each individual was seen; None without a sighting. Source: I. J. Good, The
    population frequencies of species and the estimation of population parameters, Biometrika 40
    (1953) 237-264.
    """
    n = sum(times)
    return 1 - sum(t == 1 for t in times) / n if n else None
