"""How often: counts over watch, with exact Poisson intervals."""

from __future__ import annotations

from camsign.stats.estimate import Estimate, tail
from camsign.stats.shares import clopper_pearson


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
    value, low, high = (_odds(p) for p in (share.value, share.low, share.high))
    return Estimate(value, low, high).scaled(e2 / e1)


def _odds(share: float | None) -> float | None:
    return None if share is None or share == 1 else share / (1 - share)
