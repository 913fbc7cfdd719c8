"""Chances of several parts of a season, each drawn toward what they have in common.

Each part's chance comes from one Beta law, whose mean (Beta(1/2, 4): small chances are the rule)
and size (flat on a log scale) are learned from all parts: parts with few days lean on the others.
A beta-binomial hierarchy on a grid:
A. Gelman et al., Bayesian data analysis, 3rd ed. (2013), section 5.3.

A forecast draws each part toward the share of all days so far instead (`shrunk_means`): a mean that
is learned, beside so few parts, comes out a fifth to a half too high where he seldom comes.

Days hang together, so counts are divided by a design effect (J. N. K. Rao and A. J. Scott, A simple
method for the analysis of clustered binary data, Biometrics 48 (1992) 577-585). It is measured
within the parts: over the whole season a real difference between them would pass for spells.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from camsign.arrays import Floats
from camsign.stats.spells import Posterior

_MEANS, _SIZES, _CHANCES = 40, (0.6, 60.0, 10), 240
# Of a forecast's law, up to one that leaves no difference between parts.
_WIDER_SIZES = np.geomspace(0.6, 600.0, 16)
# Prior of the mean.
_MEAN_LAW = (0.5, 4.0)
# How far apart days are compared; what nothing is known of hangs together as this many days would
# say: (correlation of neighbors, pairs of days it counts for). Common practice, no source.
_LAGS, _USUAL = 5, (0.15, 15.0)
_MOST = 6.0


def effect_within(days: npt.ArrayLike, of_day: npt.ArrayLike) -> float:
    """How many days in a row tell as much as one separate day, within the parts of a season.

    1 + 2 (r1 + … + r5), with the correlations of days 1 to 5 apart in the same part about that
    part's own share; each is drawn toward a usual one that falls off; not less than 1.

    Args:
        days: 0, 1 (or more) or UNWATCHED for each day in a row.
        of_day: the part that each day lies in, -1 for none.
    """
    given, part = np.minimum(np.asarray(days), 1), np.asarray(of_day)
    watched = given >= 0
    off = np.zeros(len(given))
    loose, spread = 0.0, 0.0
    for one in np.unique(part[watched]):
        at = watched & (part == one)
        n, share = int(at.sum()), float(given[at].mean())
        off[at] = given[at] - share
        loose, spread = loose + max(n - 1, 0), spread + n * share * (1 - share)
    if not spread:
        return 1 + 2 * sum(_USUAL[0] ** k for k in range(1, _LAGS + 1))
    variance, effect = spread / max(loose, 1), 1.0
    for lag in range(1, _LAGS + 1):
        pair = watched[:-lag] & watched[lag:] & (part[:-lag] == part[lag:])
        products = off[:-lag][pair] * off[lag:][pair] / variance
        # Deviations from a part's own share add up to nothing, which pulls each product down.
        known = float(products.sum()) + int(pair.sum()) / max(loose / len(np.unique(part)), 1)
        usual, weight = _USUAL[0] ** lag, _USUAL[1]
        effect += 2 * (known + usual * weight) / (int(pair.sum()) + weight)
    return min(max(effect, 1.0), _MOST)


def shrunk_chances(events: Sequence[int], days: Sequence[int], effect: float) -> list[Posterior]:
    """Give the posterior chance of an event on a day, for each part.

    Args:
        events: days with an event in each part.
        days: days watched in each part; a part without any gets what the others say.
        effect: how many days in a row tell as much as one (`effect_within`); counts are divided
            by it.
    """
    from scipy.special import betaln

    # Means even in their square root: more of them where chances are small.
    mean, size = np.meshgrid(
        ((np.arange(_MEANS) + 0.5) / _MEANS) ** 2,
        np.geomspace(*_SIZES[:2], _SIZES[2]),
        indexing="ij",
    )
    a, b = (mean * size).ravel(), ((1 - mean) * size).ravel()
    counts = [(k / effect, (n - k) / effect) for k, n in zip(events, days, strict=True)]
    each = np.array([betaln(a + k, b + miss) - betaln(a, b) for k, miss in counts])
    flat = mean.ravel()
    prior = _MEAN_LAW[0] * np.log(flat) + (_MEAN_LAW[1] - 1) * np.log1p(-flat) - np.log(flat) / 2
    log = each.sum(axis=0) + prior
    weights = np.exp(log - log.max())
    chances = ((np.arange(_CHANCES) + 0.5) / _CHANCES) ** 2
    return [_mixture(chances, a + k, b + miss, weights, k > 0) for k, miss in counts]


def shrunk_means(events: Sequence[int], days: Sequence[int], effect: float) -> list[float]:
    """Give the expected chance of an event on a day for each part, drawn to the share of all days.

    Arguments as for `shrunk_chances`. A part without a day gets the share itself, and so do all
    where no day, or every one, had an event.
    """
    from scipy.special import betaln

    seen, given = np.asarray(events) / effect, np.asarray(days) / effect
    share = float(seen.sum() / given.sum())
    if not 0 < share < 1:
        return [share] * len(seen)
    a, b = share * _WIDER_SIZES[:, None], (1 - share) * _WIDER_SIZES[:, None]
    log = (betaln(a + seen, b + given - seen) - betaln(a, b)).sum(axis=1)
    weights = np.exp(log - log.max())
    each = (a + seen) / (_WIDER_SIZES[:, None] + given)
    return [float(x) for x in weights @ each / weights.sum()]


def _mixture(chances: Floats, a: Floats, b: Floats, weights: Floats, seen: bool) -> Posterior:
    """Add up Beta laws at points even in the square root of the chance."""
    from scipy.special import betaln

    keep = weights > weights.max() * 1e-6
    a, b, weights = a[keep, None], b[keep, None], weights[keep]
    density = np.exp((a - 1) * np.log(chances) + (b - 1) * np.log1p(-chances) - betaln(a, b))
    found = (weights @ density) * np.sqrt(chances)
    return Posterior(chances, found / found.sum(), seen)
