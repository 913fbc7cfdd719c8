"""Chances of counts, summed over whole numbers: exact, and no library of laws is loaded for them.

Source: N. L. Johnson, A. W. Kemp and S. Kotz, Univariate discrete distributions, 3rd ed. (2005),
chapters 5 (negative binomial) and 6 (hypergeometric).
"""

from __future__ import annotations

from itertools import accumulate
from math import comb


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


def misses_before(hits: int, chance: float, sure: float) -> int:
    """The smallest number of misses so that with `sure` no more come before so many hits.

    `chance` of a hit each time, above 0; the law is the negative binomial.
    """
    term = total = chance**hits
    misses = 0
    while total < sure:
        misses += 1
        term *= (misses + hits - 1) / misses * (1 - chance)
        total += term
    return misses
