"""On how many days a buck bedded in an area, from mornings seen coming in and evenings going out.

He is seen at one end, at both, or at neither; that he can slip by unseen at both ends is a term of
its own. Two assumptions carry it: on most days that he beds there he passes a camera at all (share
e, Beta(4, 1)), and being seen in the morning (m) and in the evening (v, both Beta(1.5, 1.5)) do not
depend on each other then. If he slips by on more days, the days are more than it says.

The model is the project's own, tried on simulated seasons; counting individuals seen twice, once or
never goes back to G. A. F. Seber, The estimation of animal abundance (1982), chapter 3.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import exp
from typing import TYPE_CHECKING

from camsign.stats.estimate import Estimate, tail

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

# Beta laws as (successes, failures): is seen at an end; beds on a day. He passes: Beta(4, 1).
PASSES, SEEN, BEDS = 4.0, (1.5, 1.5), (0.5, 1.5)


@dataclass(frozen=True, slots=True, eq=False)
class DaysBedded:
    """What is known of the number of days bedded: its probability for 0, 1, … days watched.

    `use` is the probability of the sightings if he uses the area on one day at least, divided by
    their probability if he never does (infinite as soon as he was seen).
    """

    probability: Floats
    use: float

    def estimate(self, level: float = 0.95) -> Estimate:
        """Median and central interval [days]."""
        import numpy as np

        outside = tail(level)
        total = np.cumsum(self.probability)
        at = np.searchsorted(total, [0.5, outside, 1 - outside])
        return Estimate(*(float(min(x, len(total) - 1)) for x in at))


def days_bedded(both: int, morning: int, evening: int, watched: int) -> DaysBedded:
    """Give the posterior of days bedded among `watched` days.

    Args:
        both: days seen coming in and going out.
        morning: days seen coming in only.
        evening: days seen going out only.
        watched: days watched at both ends, those excluded on which he is known to be elsewhere.

    The weight of N days is C(W-n, N-n) B(½+N, 1½+W-N) ∫∫∫ (e m v)^both (e m (1-v))^morning
    (e (1-m) v)^evening (1-e+e(1-m)(1-v))^(N-n) over the three Beta laws. The last factor is
    expanded by the binomial theorem; the integrals then are Beta functions, and as e has a law
    Beta(a, 1) the sum over days missed becomes a running one: exact, without a grid.
    """
    n = both + morning + evening
    if min(both, morning, evening) < 0 or n > watched:
        raise ValueError(f"{n} days seen of {watched} watched")
    return _days_bedded(both, morning, evening, watched)


@lru_cache(maxsize=4096)
def _days_bedded(both: int, morning: int, evening: int, watched: int) -> DaysBedded:
    import numpy as np
    from scipy.special import betaln, gammaln

    n = both + morning + evening
    spare = watched - n
    missed = np.arange(spare + 1)
    # Of the days missed he passed a camera, unseen at both ends, on 0, 1, … of them.
    ends = betaln(SEEN[0] + both + morning, SEEN[1] + evening + missed)
    ends = ends + betaln(SEEN[0] + both + evening, SEEN[1] + morning + missed)
    passes = gammaln(PASSES + n + missed) - gammaln(missed + 1)
    integral = np.logaddexp.accumulate(passes + ends)
    integral += gammaln(missed + 1) - gammaln(PASSES + 1 + n + missed)
    ways = gammaln(spare + 1) - gammaln(missed + 1) - gammaln(spare - missed + 1)
    beds = betaln(BEDS[0] + n + missed, BEDS[1] + spare - missed)
    log_weight = ways + beds + integral
    weight = np.exp(log_weight - log_weight.max())
    probability = np.zeros(watched + 1)
    probability[n:] = weight / weight.sum()
    probability.setflags(write=False)
    return DaysBedded(probability, _use(n, log_weight, watched))


def _use(n: int, log_weight: Floats, watched: int) -> float:
    """Divide the chance of seeing nothing on N ≥ 1 days by that on none, which is 1."""
    import numpy as np
    from scipy.special import betaln

    if n:
        return float("inf")
    if not watched:
        return 1.0
    laws = float(betaln(PASSES, 1) + 2 * betaln(*SEEN))
    never = exp(float(betaln(BEDS[0], BEDS[1] + watched) - betaln(*BEDS)))
    seen_none = float(np.exp(log_weight[1:] - laws - betaln(*BEDS)).sum())
    return seen_none / (1 - never)
