"""What share: so many of so many, with intervals for a binomial proportion."""

from __future__ import annotations

from math import sqrt

from camsign.stats.estimate import Estimate, tail


def wilson(k: int, n: int, level: float = 0.95) -> Estimate:
    """Share k / n with Wilson's score interval, which stays inside 0 to 1 and suits small n.

    With n = 0: no value, 0 to 1. Source: E. B. Wilson, Probable inference, the law of succession,
    and statistical inference, J. Am. Stat. Assoc. 22 (1927) 209-212.
    """
    from scipy.special import ndtri

    _check(k, n)
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

    _check(k, n)
    outside = tail(level)
    low = 0.0 if k == 0 else float(betaincinv(k, n - k + 1, outside))
    high = 1.0 if k == n else float(betaincinv(k + 1, n - k, 1 - outside))
    return Estimate(k / n if n else None, low, high)


def _check(k: int, n: int) -> None:
    if not 0 <= k <= n:
        raise ValueError(f"{k} of {n}")
