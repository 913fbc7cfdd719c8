"""Which of several is behind an event at a place: weighed by how often each was nearby.

Counts at known distances with known effort say how often each one is at the place; a count far off
says less. Days that each spent in bed nearby say more, where a model knows them. Who is at the
place most is the likeliest, with evidence of other kinds multiplied in, and a share is kept for one
that was never told apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from camsign.arrays import Floats
from camsign.stats.estimate import tail

# Chosen by log score and calibration over simulated properties (docs/answers/makers.md).
# Width of the Gaussian [m], widened by a share of the nearest distance where nothing is closer.
WIDTH_M, WIDENED = 400.0, 0.3
# What each counts before anything is known, in visits; spread of the logarithm per km of distance.
PRIOR, SPREAD_PER_KM = 0.6, 0.8
# Visits hang together in days: so many tell as much as one that stands alone.
CLUMP = 2.0
# Of visits that nobody named, so many are taken to be by one never told apart; and for so many of
# those counted about once another is taken not to be counted at all.
STRANGERS, ONCE = 0.3, 0.25
# A day in bed at the place counts as so many visits at its camera; less with the distance from the
# bed, as a Gaussian of this width [m].
DAY_IN_BED, FROM_BED_M = 4.0, 60.0
# Who passes by may have made it, whoever is seen there: all alike get so much of the odds anyway,
# so much of the rest where nobody beds near it, half of that where all together spend so large a
# share of their days in bed there. Chosen by log score on seasons of tests/wild_seasons.py.
PASSERS, AWAY, NEAR = 0.1, 0.7, 0.2


@dataclass(frozen=True, slots=True)
class Shares:
    """Probabilities, one an individual and the last for one never told apart; each an interval."""

    value: list[float]
    low: list[float]
    high: list[float]


def weights_by_distance(distances: Floats) -> Floats:
    """Weigh places by their distance [m] from the event: 1 for the nearest, less for others."""
    if not len(distances):
        return distances
    width = np.hypot(WIDTH_M, WIDENED * distances.min())
    weights: Floats = np.exp((distances.min() ** 2 - distances**2) / (2 * width**2))
    return weights


def nearness_to_bed(distances: Floats) -> Floats:
    """Weigh places to bed by their distance [m] from the event: 1 within, less outside."""
    near: Floats = np.exp(-(distances**2) / (2 * FROM_BED_M**2))
    return near


def alike_share(bedded: Floats | None) -> float:
    """Say how much of the odds goes to all alike: the more, the less they bed near the place.

    Args:
        bedded: as for `origin_shares`; None or without courses: visits alone speak, and none goes.
    """
    if bedded is None or not len(bedded):
        return 0.0
    days = float(bedded.mean(axis=0).sum())
    return PASSERS + (1 - PASSERS) * AWAY / (1 + (days / NEAR) ** 2)


def origin_shares(
    counts: Floats,
    unnamed: Floats,
    effort: Floats,
    distances: Floats,
    likelihoods: Floats,
    bedded: Floats | None = None,
    draws: int = 2000,
    seed: int = 1,
    level: float = 0.95,
) -> Shares:
    """Give each one's probability.

    Args:
        counts: visits by individual (rows) and place (columns).
        unnamed: visits at each place that nobody named.
        effort: nights watched at each place, above 0.
        distances: of each place from the event [m].
        likelihoods: of other evidence given each individual, the last for one never told apart.
        bedded: share of days that each spent in bed at the place (columns), each bed weighed by
            `nearness_to_bed`, in equally likely courses (rows); without: not known.
        draws: how many draws of the rates make the interval.
        seed: of the draws.
        level: of the central interval.

    A weighted sum of counts that hang together is close to a Gamma law with its mean and variance,
    from which rates are drawn; a factor for what distance hides is log-normal. Days in bed are
    added as the visits they are worth over as many nights. The share of one never told
    apart has a Beta law: a quarter of those counted about once stand for others not counted at all
    (in the spirit of sample coverage, Good 1953: see `chao.coverage`), and a quarter of the visits
    without a name. Of rubs away from beds, visits and beds say little: then all are nearly alike.
    """
    rng = np.random.default_rng(seed)
    weight = weights_by_distance(distances)
    even = weight * (effort.mean() / effort if len(effort) else 1.0)
    named = counts @ even
    total, spread = named + PRIOR, CLUMP * (counts @ even**2 + PRIOR)
    away = float((weight * distances).sum() / weight.sum()) if len(weight) else WIDTH_M
    noise = rng.normal(0.0, SPREAD_PER_KM * away / 1000, (draws, len(total)))
    rates = rng.gamma(total**2 / spread, spread / total, (draws, len(total))) * np.exp(noise)
    if bedded is not None and len(bedded):
        course = rng.integers(0, len(bedded), draws)
        rates += DAY_IN_BED * float(effort.mean()) * bedded[course]
    strangers = float(unnamed @ even)
    once = int(((named > 0) & (named <= 1)).sum())
    a = 0.5 + ONCE * once + STRANGERS * strangers / CLUMP
    b = 2.5 + (float(named.sum()) + (1 - STRANGERS) * strangers) / CLUMP
    never = rng.beta(a, b, draws)[:, None]
    if not len(total):
        return Shares([1.0], [1.0], [1.0])
    shares = rates / rates.sum(axis=1, keepdims=True)
    alike = alike_share(bedded)
    mixed = np.hstack([shares * (1 - never), never])
    mixed = ((1 - alike) * mixed + alike / mixed.shape[1]) * likelihoods
    mixed /= mixed.sum(axis=1, keepdims=True)
    outside = tail(level)
    low, high = np.quantile(mixed, [outside, 1 - outside], axis=0)
    return Shares(mixed.mean(axis=0).tolist(), low.tolist(), high.tolist())
