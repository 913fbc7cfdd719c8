"""On how many days a buck bedded in an area, from mornings seen coming in and evenings going out.

He is seen at one end, at both, or at neither; that he can slip by unseen at both ends is a term of
its own, and so is that some sightings are no ends of a day in bed but passes, which happen on any
day that does not show him at either end, bedded or not. The assumptions: on most days that he beds
there he passes a camera at all (share e, Beta(4, 1)); being seen in the morning (m) and in the
evening (v, both Beta(1.5, 1.5)) do not depend on each other then; any share of days bedded, few
likelier than many (Beta(1/2, 3/2)). If he slips by on more days, the days are more than it says.

The model is the project's own, tried on simulated seasons; counting individuals seen twice, once or
never goes back to G. A. F. Seber, The estimation of animal abundance (1982), chapter 3.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import lgamma, sqrt
from typing import TYPE_CHECKING

from camsign.stats.estimate import Estimate, tail

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Ints = npt.NDArray[np.int64]

Law = tuple[float, float]

PASSES, SEEN, BEDS = 4.0, 1.5, (0.5, 1.5)
# As good as certain that no pass is mistaken.
NO_PASSES = (1e-12, 1.0)
_TRIED = 9


@dataclass(frozen=True, slots=True, eq=False)
class DaysBedded:
    """What is known of the number of days bedded: its probability for 0, 1, … days watched.

    `use` is the probability of the sightings if he beds there on one day at least, divided by
    their probability if he never does.
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


def days_bedded(
    both: int,
    morning: int,
    evening: int,
    watched: int,
    morning_passes: Law = NO_PASSES,
    evening_passes: Law = NO_PASSES,
) -> DaysBedded:
    """Give the posterior of days bedded among `watched` days.

    Args:
        both: days seen coming in and going out.
        morning: days seen coming in only.
        evening: days seen going out only.
        watched: days watched at both ends, those excluded on which he is known to be elsewhere.
        morning_passes: Beta law (successes, failures) of the chance that the morning of a day that
            does not show him at an end of a day in bed shows a pass that looks like coming in.
        evening_passes: the same of an evening and going out.

    Of the days seen, i (both), j (morning), k (evening) were passes, which leaves R = W-n+i+j+k
    days without an end of a day in bed; the weight of N days is the sum over them of C(both, i)
    C(morning, j) C(evening, k) C(R, u) B(½+N, 1½+W-N) times the chances of i+j passes in R
    mornings and of i+k in R evenings, times the integral of (e m v)^both (e m (1-v))^morning
    (e (1-m) v)^evening (1-e+e(1-m)(1-v))^u over the laws of e, m and v, with the counts less i, j,
    k, and u = N - W + R days bedded and not seen. Passes do not depend on bedding: else seeing few
    of many expected would speak for days in bed. The last factor is expanded by the binomial
    theorem; the integrals then are Beta functions and, as e has a law Beta(a, 1), the sum is a
    running one: exact, without a grid (numbers of passes that are very unlikely are left out).
    """
    n = both + morning + evening
    if min(both, morning, evening) < 0 or n > watched:
        raise ValueError(f"{n} days seen of {watched} watched")
    return _days_bedded(both, morning, evening, watched, morning_passes, evening_passes)


@lru_cache(maxsize=4096)
def _days_bedded(
    both: int, morning: int, evening: int, watched: int, at_dawn: Law, at_dusk: Law
) -> DaysBedded:
    import numpy as np

    counts, stands = _passes(both, morning, evening, watched, at_dawn, at_dusk)
    i, j, k = (x[:, None] for x in counts)
    rest = watched - both - morning - evening + i + j + k
    column = np.arange(int(rest.max()) + 1)[None, :]
    # Columns beyond a row's days left repeat its last and then do not count.
    u = np.minimum(column, rest)
    log = _integral(both - i, morning - j, evening - k, u, watched)
    whole = _gammas(1.0, watched + 1)
    ways = sum(
        whole[x] - whole[y] - whole[x - y] for x, y in ((both, i), (morning, j), (evening, k))
    )
    log += stands[:, None] + ways + (whole[rest] - whole[u] - whole[rest - u])
    log += _mistaken(i + j, rest, at_dawn) + _mistaken(i + k, rest, at_dusk)
    days = watched - rest + u
    log += (_gammas(BEDS[0], watched + 1) + _gammas(BEDS[1], watched + 1)[::-1])[days]
    log[column > rest] = -np.inf
    peak = float(log.max())
    weight = np.bincount(days.ravel(), np.exp(log - peak).ravel(), minlength=watched + 1)
    probability: Floats = weight / weight.sum()
    probability.setflags(write=False)
    never = _never((both + morning, both + evening), watched, (at_dawn, at_dusk))
    return DaysBedded(probability, _use(weight.astype(float), peak, never))


def _mistaken(passes: Ints, chances: Ints, law: Law) -> Floats:
    """Logarithm of the chance of given ones of so many ends to show a pass, but for a constant."""
    a, b = law
    most = int(chances.max()) + 1
    found: Floats = _gammas(a, most)[passes] + _gammas(b, most)[chances - passes]
    return found - _gammas(a + b, most)[chances]


def _integral(both: Ints, morning: Ints, evening: Ints, u: Ints, watched: int) -> Floats:
    """Logarithm of the integral over e, m and v, up to a constant: by days seen, and u unseen."""
    import numpy as np

    half, whole = _gammas(SEEN, watched + 1), _gammas(1.0, watched + 5)
    seen = both + morning + evening
    log = half[both + morning] + half[evening + u] + half[both + evening] + half[morning + u]
    log += whole[seen + u + 3] - whole[u] - 2 * whole[seen + u + 2]
    peak = log.max(axis=1, keepdims=True)
    running: Floats = np.log(np.cumsum(np.exp(log - peak), axis=1)) + peak
    found: Floats = running + whole[u] - whole[seen + u + 4]
    return found


def _passes(
    both: int, morning: int, evening: int, watched: int, at_dawn: Law, at_dusk: Law
) -> tuple[list[Ints], Floats]:
    """Give numbers of days of each sort that were passes, and the logarithm of their weight.

    Those very unlikely are left out, and of many only some are tried: the terms change slowly.
    """
    import numpy as np

    dawn, dusk = _highest(at_dawn), _highest(at_dusk)
    limits = (
        min(both, _most(watched, dawn * dusk)),
        min(morning, _most(watched, dawn)),
        min(evening, _most(watched, dusk)),
    )
    tried = [_tried(limit) for limit in limits]
    grid = np.meshgrid(*(numbers for numbers, _ in tried), indexing="ij")
    stands = np.einsum("i,j,k->ijk", *(weights for _, weights in tried))
    return [x.ravel() for x in grid], np.log(stands.ravel())


def _highest(law: Law) -> float:
    mean = law[0] / sum(law)
    return (
        min(mean + 4 * sqrt(mean * (1 - mean) / (sum(law) + 1)), 1.0) if law != NO_PASSES else 0.0
    )


def _most(watched: int, chance: float) -> int:
    return int(watched * chance + 4 * sqrt(watched * chance)) + 1 if chance else 0


def _tried(limit: int) -> tuple[Ints, Floats]:
    """Give numbers from 0 to a limit at even steps, and how many each stands for (trapezoids)."""
    import numpy as np

    step = -(-limit // _TRIED) or 1
    numbers = np.unique(np.append(np.arange(0, limit + 1, step), limit))
    gaps = np.diff(numbers)
    weights = np.ones(len(numbers))
    weights[:-1] += (gaps - 1) / 2
    weights[1:] += (gaps - 1) / 2
    return numbers, weights


def _gammas(start: float, count: int) -> Floats:
    """Logarithms of the Gamma function at start, start + 1, …, looked up instead of computed."""
    import numpy as np
    from scipy.special import gammaln

    found: Floats = gammaln(start + np.arange(count))
    return found


def _never(mistaken: tuple[int, int], watched: int, laws: tuple[Law, Law]) -> float:
    """Logarithm of the weight of these sightings if all were passes, in the units of the sum."""
    passes = 0.0
    for count, (a, b) in zip(mistaken, laws, strict=True):
        passes += lgamma(a + count) + lgamma(b + watched - count) - lgamma(a + b + watched)
    # What the sum's weights lack to be probabilities: the constants of the laws of e, m, v, share.
    share = lgamma(BEDS[0]) + lgamma(BEDS[1]) + lgamma(sum(BEDS) + watched) - lgamma(sum(BEDS))
    ends = 2 * (2 * lgamma(SEEN) - lgamma(2 * SEEN))
    return passes + share + ends + lgamma(PASSES) - lgamma(PASSES + 1)


def _use(weight: Floats, peak: float, never: float) -> float:
    """Divide the chance of the sightings given one day or more by that given none."""
    import numpy as np
    from scipy.special import betaln

    watched = len(weight) - 1
    if not watched:
        return 1.0
    none = float(np.exp(betaln(BEDS[0], BEDS[1] + watched) - betaln(*BEDS)))
    with np.errstate(over="ignore"):
        chance = float(np.exp(np.log(weight[1:].sum()) + peak - never))
    return chance / (1 - none)
