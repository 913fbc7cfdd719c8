"""How many of the bucks known in a season use a place, those unseen there included.

Each buck uses it with the same unknown chance (uniform prior): a zero-inflated share. A buck who
was seen there does; one who was not may have slipped by, the more likely the less was watched. The
project's own model, over the evidence of `bedded`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from math import isinf
from typing import TYPE_CHECKING

from camsign.stats.estimate import Estimate, tail

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

_STEPS = 200


def how_many_use(uses: Sequence[float]) -> npt.NDArray[np.float64]:
    """Give the posterior probability that 0, 1, … of the bucks use the place.

    Args:
        uses: for each buck the probability of what was seen of him there if he uses it, divided
            by that if he does not; infinite if he was seen.
    """
    import numpy as np
    from scipy.special import gammaln

    chance = (np.arange(_STEPS) + 0.5) / _STEPS
    log = np.zeros((1, _STEPS))
    # Bucks of whom the same was seen, most often nothing, go together: a binomial law.
    for use, many in Counter(uses).items():
        ways = np.arange(many + 1)[:, None]
        choose = gammaln(many + 1) - gammaln(ways + 1) - gammaln(many - ways + 1)
        if isinf(use):
            theirs = np.where(ways == many, many * np.log(chance), -np.inf)
        else:
            theirs = choose + ways * np.log(chance * use) + (many - ways) * np.log1p(-chance)
        log = _added(log, theirs)
    total = np.exp(log - log.max()).sum(axis=1)
    shares: npt.NDArray[np.float64] = total / total.sum()
    return shares


def _added(log: Floats, more: Floats) -> Floats:
    """Add two independent counts: logarithms of their weights, by count and point of the grid."""
    import numpy as np

    few, many = (log, more) if len(log) <= len(more) else (more, log)
    found = np.full((len(few) + len(many) - 1, log.shape[1]), -np.inf)
    for k, row in enumerate(few):
        part = found[k : k + len(many)]
        np.logaddexp(part, many + row, out=part)
    return found


def count_interval(probability: npt.NDArray[np.float64], level: float = 0.95) -> Estimate:
    """Median and central interval of a count whose probabilities for 0, 1, … are given."""
    import numpy as np

    outside = tail(level)
    at = np.searchsorted(np.cumsum(probability), [0.5, outside, 1 - outside])
    return Estimate(*(float(min(x, len(probability) - 1)) for x in at))
