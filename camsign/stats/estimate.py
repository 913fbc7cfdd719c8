"""The shape of every answer that is a number, a value and its interval, and how these come about.

Of shares (so many of so many), of rates (counts over watch), and of the middle of measured spans.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, inf, sqrt
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy.typing as npt

    from camsign.arrays import Floats


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value and its interval, all in one unit.

    `value` is None where it is undefined, `low` or `high` None where nothing bounds that side.
    """

    value: float | None
    low: float | None
    high: float | None

    def scaled(self, factor: float) -> Estimate:
        """The same estimate in another unit: each number times `factor` (> 0)."""
        return Estimate(
            *(None if x is None else x * factor for x in (self.value, self.low, self.high))
        )


def tail(level: float) -> float:
    """The probability left outside each end of a two-sided interval of this confidence level."""
    if not 0 < level < 1:
        raise ValueError(f"level {level} is not between 0 and 1")
    return (1 - level) / 2


def holding(value: float, low: float, high: float) -> Estimate:
    """The interval of a whole number, widened to the whole numbers around `value`.

    A mean of few large numbers among many zeros lies beyond both ends of a central interval.
    """
    return Estimate(float(value), float(min(low, floor(value))), float(max(high, ceil(value))))


def spread_of(
    draws: npt.ArrayLike, level: float = 0.95, most: float = inf, value: float | None = None
) -> Estimate:
    """Mean and central interval of equally likely whole numbers; it holds the mean.

    It is one wide at least: draws that agree prove no number. `most`: what none can exceed (> 0);
    `value`: their mean, where it is better known than by these draws.
    """
    import numpy as np

    found, outside = np.asarray(draws), tail(level)
    low, high = np.quantile(found, [outside, 1 - outside], method="inverted_cdf")
    spread = holding(found.mean() if value is None else value, low, high)
    if spread.low != spread.high:
        return spread
    up = high < most
    return Estimate(spread.value, float(low if up else low - 1), float(high + 1 if up else high))


def central(draws: Floats, level: float = 0.95) -> tuple[Floats, Floats, Floats]:
    """Mean and central interval over the first axis of draws, widened where it misses the mean."""
    import numpy as np

    mean, outside = draws.mean(axis=0), tail(level)
    low, high = np.quantile(draws, [outside, 1 - outside], axis=0)
    return mean, np.minimum(low, mean), np.maximum(high, mean)


def wilson(k: int, n: int, level: float = 0.95) -> Estimate:
    """Share k / n with Wilson's score interval, which stays inside 0 to 1 and suits small n.

    With n = 0: no value, 0 to 1. Source: E. B. Wilson, Probable inference, the law of succession,
    and statistical inference, J. Am. Stat. Assoc. 22 (1927) 209-212.
    """
    from scipy.special import ndtri

    if not 0 <= k <= n:
        raise ValueError(f"{k} of {n}")
    z = float(-ndtri(tail(level)))
    if n == 0:
        return Estimate(None, 0.0, 1.0)
    share, spread = k / n, z * z / n
    middle = (share + spread / 2) / (1 + spread)
    half = sqrt(share * (1 - share) * spread + spread**2 / 4) / (1 + spread)
    return Estimate(share, 0.0 if k == 0 else middle - half, 1.0 if k == n else middle + half)


def clopper_pearson(k: int, n: int, level: float = 0.95) -> Estimate:
    """Share k / n with the exact interval, never too short and often a little too long.

    With n = 0: no value, 0 to 1. Source: C. J. Clopper and E. S. Pearson, The use of confidence or
    fiducial limits illustrated in the case of the binomial, Biometrika 26 (1934) 404-413.
    """
    from scipy.special import betaincinv

    if not 0 <= k <= n:
        raise ValueError(f"{k} of {n}")
    outside = tail(level)
    low = 0.0 if k == 0 else float(betaincinv(k, n - k + 1, outside))
    high = 1.0 if k == n else float(betaincinv(k + 1, n - k, 1 - outside))
    return Estimate(k / n if n else None, low, high)


def poisson_rate(n: int, exposure: float, per: float = 1.0, level: float = 0.95) -> Estimate:
    """Events per `per` units of exposure: `n` events in `exposure` units, exact interval.

    The limits are the means for which n or more (or n or fewer) events have half of 1 - level:
    chi-square quantiles with 2n and 2n + 2 degrees of freedom, halved (here as the inverse of the
    incomplete gamma function, which is the same). Without exposure: no value, low 0, no high.
    Source: F. Garwood, Fiducial limits for the Poisson distribution, Biometrika 28 (1936) 437-442.
    """
    from scipy.special import gammainccinv, gammaincinv

    outside = tail(level)
    if n < 0 or exposure < 0:
        raise ValueError(f"{n} events in {exposure} units")
    if exposure == 0:
        return Estimate(None, 0.0, None)
    low = float(gammaincinv(n, outside)) if n else 0.0
    high = float(gammainccinv(n + 1, outside))
    return Estimate(float(n), low, high).scaled(per / exposure)


def rate_ratio(n1: int, e1: float, n2: int, e2: float, level: float = 0.95) -> Estimate:
    """How many times the second rate the first one is: (n1 / e1) / (n2 / e2), exact interval.

    Given n1 + n2, n1 is binomial with odds ratio · e1 / e2; Clopper-Pearson limits of its share
    become limits of the ratio. The value is None if it would divide by 0 events; an interval end
    is None where nothing bounds it, low 0 and no high where either exposure is 0.
    Source: J. Przyborowski and H. Wilenski, Homogeneity of results in testing samples from Poisson
    series, Biometrika 31 (1940) 313-323.
    """
    if min(n1, n2, e1, e2) < 0:
        raise ValueError(f"{n1} events in {e1} units, {n2} in {e2}")
    if e1 == 0 or e2 == 0:
        return Estimate(None, 0.0, None)
    share = clopper_pearson(n1, n1 + n2, level)
    ends = (share.value, share.low, share.high)
    odds = (None if p is None or p == 1 else p / (1 - p) for p in ends)
    return Estimate(*odds).scaled(e2 / e1)


def median_interval(values: npt.ArrayLike, level: float = 0.95) -> Estimate:
    """The median of finite values, in their unit, with an interval that assumes no distribution.

    Its ends are the r-th smallest and r-th largest value, with r the largest for which the
    binomial chance of fewer than r of n values below the median is at most half of 1 - level; so
    its confidence is at least `level`. Too few values for that (fewer than 6 at 95%): low and
    high are None. No values: the median is None too.
    Source: H. A. David and H. N. Nagaraja, Order statistics, 3rd ed. (2003), section 7.1.
    """
    import numpy as np
    from scipy.special import bdtr

    ordered = np.sort(np.asarray(values, dtype=float).ravel())
    n = len(ordered)
    if n == 0:
        return Estimate(None, None, None)
    # bdtr(j, n, 1/2): the chance that at most j values lie below the median; j = r - 1.
    below = bdtr(np.arange(n), n, 0.5)
    r = int(np.count_nonzero(below <= tail(level)))
    middle = float(np.median(ordered))
    if r == 0:
        return Estimate(middle, None, None)
    return Estimate(middle, float(ordered[r - 1]), float(ordered[n - r]))
