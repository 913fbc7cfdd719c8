"""How many of the bucks known in a season use a place, those unseen there included.

Each buck uses it with the same unknown chance (uniform prior): a zero-inflated share. A buck who
was seen there does; one who was not may have slipped by, the more likely the less was watched. The
project's own model, over the evidence of `bedded`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from camsign.stats.estimate import Estimate, tail

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

_STEPS = 200


def how_many_use(uses: Sequence[float]) -> npt.NDArray[np.float64]:
    """Give the posterior probability that 0, 1, … of the bucks use the place.

    Args:
        uses: for each buck the probability of what was seen of him there if he uses it, divided
            by that if he does not; infinite if he was seen.
    """
    import numpy as np

    chance = (np.arange(_STEPS) + 0.5) / _STEPS
    counts = np.zeros((len(uses) + 1, _STEPS))
    counts[0] = 1.0
    for use in uses:
        sure = np.isinf(use)
        yes, no = (chance, 0.0) if sure else (chance * use, 1 - chance)
        counts[1:] = counts[1:] * no + counts[:-1] * yes
        counts[0] *= no
    total = counts.sum(axis=1)
    shares: npt.NDArray[np.float64] = total / total.sum()
    return shares


def count_interval(probability: npt.NDArray[np.float64], level: float = 0.95) -> Estimate:
    """Median and central interval of a count whose probabilities for 0, 1, … are given."""
    import numpy as np

    outside = tail(level)
    at = np.searchsorted(np.cumsum(probability), [0.5, outside, 1 - outside])
    return Estimate(*(float(min(x, len(probability) - 1)) for x in at))
