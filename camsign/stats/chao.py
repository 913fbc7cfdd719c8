"""How many there are that nobody has seen, from those seen once and twice; and sample coverage.

With few bucks these are weak: they count the never seen from the seldom seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log, sqrt

from camsign.stats.estimate import Estimate, tail


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
    variance = _variance(s + unseen, f1, f2, factor)
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


def _variance(total: float, f1: int, f2: int, a: float) -> float:
    if f2:
        return (
            a * f1 * (f1 - 1) / (2 * (f2 + 1))
            + a**2 * f1 * (2 * f1 - 1) ** 2 / (4 * (f2 + 1) ** 2)
            + a**2 * f1**2 * f2 * (f1 - 1) ** 2 / (4 * (f2 + 1) ** 4)
        )
    return a * f1 * (f1 - 1) / 2 + a**2 * f1 * (2 * f1 - 1) ** 2 / 4 - a**2 * f1**4 / (4 * total)
