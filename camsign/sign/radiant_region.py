"""Where a radiant lies, with the region that holds it in 95 of 100 cases.

The likelihood of each place around it, beside the other sources, summed over concentrations about
the fitted one, makes a posterior on a grid (flat prior); its mean and covariance make an ellipse.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import atan2, degrees, log, sqrt

import numpy as np

from camsign.arrays import Floats
from camsign.sign.origin_likelihood import Law, Rubs, density_at, gain, odds_at, seen_from
from camsign.sign.radiants import Search, Source

_CELLS = 25
# Concentrations summed over, as multiples of the law's, with their weights.
_KAPPAS = ((0.6, 0.25), (1.0, 0.5), (1.6, 0.25))
# Enough to see how wide the grid has to be.
_ONE_KAPPA = ((1.0, 1.0),)


@dataclass(frozen=True, slots=True)
class RadiantRegion:
    """An ellipse: middle east, north [m], half axes [m], bearing of the longer [deg, 0 to 180)."""

    east: float
    north: float
    major_m: float
    minor_m: float
    bearing_deg: float


def region(search: Search, source: Source, law: Law, level: float = 0.95) -> RadiantRegion:
    """Give a radiant's region by a law fitted to all of them (see `fitted`)."""
    rubs = search.rubs.some(source.near)
    other_odds, other = search.without(source)
    middle, spread = (source.east, source.north), 35.0
    for kappas in (_ONE_KAPPA, _ONE_KAPPA, _KAPPAS):
        middle, covariance = _moments(rubs, other_odds, other, middle, 4 * spread, law, kappas)
        spread = min(max(sqrt(covariance[0, 0] + covariance[1, 1]), 2.0), 60.0)
    return _ellipse(middle, covariance, level)


def _moments(
    rubs: Rubs,
    other_odds: Floats,
    other: Floats,
    middle: tuple[float, float],
    half: float,
    law: Law,
    kappas: Sequence[tuple[float, float]],
) -> tuple[tuple[float, float], Floats]:
    """Mean and covariance [m, m²] of the posterior on a square grid of this half width [m]."""
    from scipy.special import logsumexp

    line = np.linspace(-half, half, _CELLS)
    east, north = (g.ravel() for g in np.meshgrid(middle[0] + line, middle[1] + line))
    distance, cosine = seen_from(rubs, east, north)
    odds = odds_at(distance, law)
    tried = []
    for times, weight in kappas:
        dense = density_at(distance, cosine, replace(law, kappa=times * law.kappa))
        tried.append(gain(odds, dense, other_odds, other).sum(axis=-1) + log(weight))
    total = logsumexp(np.stack(tried), axis=0)
    weights = np.exp(total - total.max())
    mean = float(np.average(east, weights=weights)), float(np.average(north, weights=weights))
    return mean, np.cov(np.stack([east, north]), aweights=weights, bias=True)


def _ellipse(middle: tuple[float, float], covariance: Floats, level: float) -> RadiantRegion:
    variances, axes = np.linalg.eigh(covariance)
    # A circle holds a share p of a round normal law if its squared radius, in standard deviations,
    # is -2 log(1 - p).
    minor, major = (sqrt(max(v, 0.25) * -2 * log(1 - level)) for v in variances)
    bearing = degrees(atan2(axes[0, 1], axes[1, 1])) % 180.0
    return RadiantRegion(middle[0], middle[1], major, minor, bearing)
