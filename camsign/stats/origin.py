"""Which of several is behind an event at a place: weighed by how often each was nearby.

Counts at known distances with known effort say how often each one walks at the place; a count far
off says less. Days that each spent in bed nearby say how often he leaves and enters, where a model
knows them. Events of either kind, and those of whoever passes by, add up; the odds are each one's
part of the sum, with evidence of other kinds multiplied in, and a share for one that was never told
apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from camsign.arrays import Floats
from camsign.stats.estimate import central

# Chosen by log score and calibration over simulated properties (docs/answers/makers.md).
# Width of the Gaussian [m], widened by a share of the nearest distance where nothing is closer.
WIDTH_M, WIDENED = 400.0, 0.3
# What each counts before anything is known, in visits; spread of the logarithm per km of distance.
PRIOR, SPREAD_PER_KM = 0.2, 0.8
# Visits hang together in days: so many tell as much as one that stands alone.
CLUMP = 2.0
# Of visits that nobody named, so many are taken to be by one never told apart; and for so many of
# those counted about once another is taken not to be counted at all.
STRANGERS, ONCE = 0.3, 0.25
# A day in bed at the place counts as so many visits at a camera there; less with the distance from
# the bed, as a Gaussian of this width [m].
DAY_IN_BED, FROM_BED_M = 2.0, 60.0
# Whoever passes by unseen may have made it: each has so many visits a night beside his own.
UNSEEN = 0.02


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


def origin_shares(
    counts: Floats,
    unnamed: Floats,
    effort: Floats,
    distances: Floats,
    likelihoods: Floats,
    bedded: Floats | None = None,
    in_bed: Floats | None = None,
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
        in_bed: how many of the counts are of days in bed right there, which `bedded` counts.
        draws: how many draws of the rates make the interval.
        seed: of the draws.
        level: of the central interval.

    A weighted sum of counts that hang together is close to a Gamma law with its mean and variance,
    from which rates a night and place are drawn; a factor for what distance hides is log-normal.
    Days in bed are added as the visits they are worth, and to all alike what nobody sees, where a
    model of beds says what is left to it. The share of one never told apart has a Beta law: a
    quarter of those counted about once stand for others not counted at all (in the spirit of sample
    coverage, Good 1953: see `chao.coverage`), and three in ten of the visits without a name.
    """
    if not len(counts):
        return Shares([1.0], [1.0], [1.0])
    rng = np.random.default_rng(seed)
    weight = weights_by_distance(distances)
    even = weight * (effort.mean() / effort if len(effort) else 1.0)
    walked = counts if in_bed is None else counts - in_bed
    away = float((weight * distances).sum() / weight.sum()) if len(weight) else WIDTH_M
    rates = _rates(walked @ even, walked @ even**2, away, draws, rng)
    never = _never(counts @ even, float(unnamed @ even), draws, rng)
    unseen = 0.0
    if bedded is not None and len(bedded):
        nights = float(weight.sum() * effort.mean())
        rates += DAY_IN_BED * nights * bedded[rng.integers(0, len(bedded), draws)]
        unseen = UNSEEN * nights
    all_of_it = rates.sum(axis=1, keepdims=True)
    mixed = np.hstack([(rates + unseen) * (1 - never), all_of_it * never + unseen * (1 - never)])
    mixed *= likelihoods
    mixed /= mixed.sum(axis=1, keepdims=True)
    return Shares(*(one.tolist() for one in central(mixed, level)))


def _rates(
    walked: Floats, squares: Floats, away_m: float, draws: int, rng: np.random.Generator
) -> Floats:
    """Draw how often each walks there, from weighed counts and from those weighed twice."""
    total, spread = walked + PRIOR, CLUMP * (squares + PRIOR)
    noise = rng.normal(0.0, SPREAD_PER_KM * away_m / 1000, (draws, len(total)))
    found: Floats = rng.gamma(total**2 / spread, spread / total, noise.shape) * np.exp(noise)
    return found


def _never(named: Floats, unnamed: float, draws: int, rng: np.random.Generator) -> Floats:
    """Draw the share of one never told apart."""
    once = int(((named > 0) & (named <= 1)).sum())
    a = 0.5 + ONCE * once + STRANGERS * unnamed / CLUMP
    b = 2.5 + (float(named.sum()) + (1 - STRANGERS) * unnamed) / CLUMP
    return rng.beta(a, b, (draws, 1))
