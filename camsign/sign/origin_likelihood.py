"""What a rub's bearing says of where its maker came from: the likelihoods behind radiants.

A rub at r with travel t, d meters from a point x that bucks leave, is the work of one of them with
odds A exp(-d / l) against rubs of any other origin. Of such a rub the angle between t and the
direction from x to r follows a von Mises law about zero, or, for the share that comes in instead of
going out (or was written down the wrong way round), about 180 degrees; other rubs point anywhere.
The bearing part is the estimator of R. V. Lenth, On finding the source of a signal, Technometrics
23 (1981) 149-154; odds that fall with distance make it sturdy against what does not belong.

Angles here are radians clockwise from north, places meters east and north.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log
from typing import TYPE_CHECKING

import numpy as np

from camsign.arrays import Bools, Floats, Ints

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

# Of each constant that is fitted: values tried, and how far from the default few rubs may carry it
# (the standard deviation of its logarithm).
_TRIED: dict[str, tuple[tuple[float, ...], float]] = {
    "kappa": ((1.5, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0), 0.5),
    "length_m": ((20.0, 28.0, 36.0, 45.0, 57.0, 72.0, 90.0), 0.4),
    "odds": ((0.7, 1.2, 2.0, 3.0, 5.0, 8.0, 13.0), 0.7),
    "inward": ((0.03, 0.06, 0.12, 0.2, 0.3, 0.4), 0.6),
}
_SWEEPS = 2


@dataclass(frozen=True, slots=True)
class Law:
    """The constants of the likelihood.

    `kappa`: concentration of travel about straight away; `inward`: share that points in; `odds`
    [1] at the source and `length_m` [m], over which they fall by e; beyond `reach_m` [m] a rub says
    nothing. `fix_m` [m] is how far off a place as taken down may be, which blurs the direction to a
    rub nearby. An axis (rubs that agree or oppose) has its own `axis_length_m` [m].

    The defaults are blunter than what `fitted` finds on made-up properties, and held against other
    values by cross-validation (docs/accuracy.md).
    """

    kappa: float = 4.0
    inward: float = 0.12
    odds: float = 3.0
    length_m: float = 45.0
    reach_m: float = 200.0
    fix_m: float = 5.0
    axis_length_m: float = 60.0


@dataclass(frozen=True, slots=True)
class Rubs:
    """Rubs as arrays of one length: east, north [m], travel [rad]."""

    east: Floats
    north: Floats
    travel: Floats

    def __len__(self) -> int:
        return len(self.east)

    def some(self, which: Bools | Ints) -> Rubs:
        """The rubs of a mask or of indices."""
        return Rubs(self.east[which], self.north[which], self.travel[which])

    def tree(self) -> cKDTree:
        """Their places, to find those near one another or near a point [m]."""
        from scipy.spatial import cKDTree

        return cKDTree(np.stack([self.east, self.north], axis=1))


def odds_at(distance_m: Floats, law: Law, length_m: float | None = None) -> Floats:
    """Odds that a rub so far away [m] belongs to a source; 0 beyond the reach."""
    odds: Floats = law.odds * np.exp(-distance_m / (length_m or law.length_m))
    return np.where(distance_m <= law.reach_m, odds, 0.0)


def density(cosine: Floats, kappa: float | Floats, opposite: float | Floats) -> Floats:
    """Von Mises density about 0, with a share about 180°, over the uniform density [1].

    By the cosine of the angle, which costs less than the angle.
    """
    from scipy.special import i0e

    out = (1 - opposite) * np.exp(kappa * (cosine - 1)) + opposite * np.exp(-kappa * (cosine + 1))
    return np.asarray(out / i0e(kappa))


def density_at(distance_m: Floats, cosine: Floats, law: Law) -> Floats:
    """Density of a travel so far off straight away (its cosine) if the rub is the source's.

    The uncertain place adds (fix / distance)² to the variance 1 / kappa of the direction.
    """
    square = distance_m**2
    kappa = square / (square / law.kappa + law.fix_m**2)
    return density(cosine, kappa, law.inward)


def outward_over_both_ways(rubs: Rubs, east: float, north: float, law: Law) -> Floats:
    """Log likelihood ratio by rub that a place is left by them, against as many coming as going.

    Around a bed few rubs point in; at a food plot, a crossing of trails or any place that is walked
    to and from, half of them do. Rubs are weighed by their chance to belong to the place at all.
    """
    distance, cosine = seen_from(rubs, np.asarray(east), np.asarray(north))
    odds = odds_at(distance, law)
    out = density_at(distance, cosine, law)
    both = density_at(distance, cosine, replace(law, inward=0.5))
    return np.asarray(np.log((1 + odds * out) / (1 + odds * both)))


def seen_from(rubs: Rubs, east: Floats, north: Floats) -> tuple[Floats, Floats]:
    """Distance [m] of each rub from each point, and the cosine of its travel off straight away.

    Points of any shape; the rubs are a last axis behind it. Of a rub at the point itself, 0.
    """
    x = rubs.east - np.asarray(east)[..., None]
    y = rubs.north - np.asarray(north)[..., None]
    distance = np.sqrt(x * x + y * y)
    along = x * np.sin(rubs.travel) + y * np.cos(rubs.travel)
    return distance, along / np.maximum(distance, 1e-9)


def gain(odds: Floats, dense: Floats, other_odds: Floats, other: Floats) -> Floats:
    """Log likelihood that a source adds to each rub, beside what explains it already.

    `odds` of the rub to belong to the source, `dense` its density if it does, over the uniform one;
    `other_odds` of the sources known already, `other` their odds times densities, both summed.
    """
    with_it = (1 + other + odds * dense) / (1 + other_odds + odds)
    return np.log(with_it) - np.log((1 + other) / (1 + other_odds))


def fitted(rubs: Rubs, radiants: Sequence[tuple[float, float]], law: Law) -> Law:
    """Give the likeliest law for radiants at these places (east, north [m]).

    One constant after the other, twice. The defaults are held to by a log-normal prior on each, so
    that few rubs change little.
    """
    if not radiants:
        return law
    pairs = _Pairs(rubs, radiants, law.reach_m)
    for _ in range(_SWEEPS):
        for name, (values, _spread) in _TRIED.items():
            laws = [replace(law, **{name: value}) for value in values]
            law = max(laws, key=lambda tried: pairs.log_likelihood(tried) + _log_prior(tried))
    return law


def _log_prior(law: Law) -> float:
    usual = Law()
    total = 0.0
    for name, (_, spread) in _TRIED.items():
        total -= (log(getattr(law, name) / getattr(usual, name)) / spread) ** 2 / 2
    return total


class _Pairs:
    """Every rub within reach of every radiant, as flat arrays."""

    def __init__(self, rubs: Rubs, radiants: Sequence[tuple[float, float]], reach_m: float) -> None:
        tree = rubs.tree()
        near = [np.array(tree.query_ball_point(r, reach_m), dtype=int) for r in radiants]
        self.rub = np.concatenate(near)
        self.n = len(rubs)
        seen = [
            seen_from(rubs.some(i), *map(np.array, r)) for i, r in zip(near, radiants, strict=True)
        ]
        self.distance = np.concatenate([d for d, _ in seen])
        self.cosine = np.concatenate([cosine for _, cosine in seen])

    def log_likelihood(self, law: Law) -> float:
        """Log likelihood of all bearings, over the uniform law."""
        odds = odds_at(self.distance, law)
        dense = density_at(self.distance, self.cosine, law)
        all_odds = np.bincount(self.rub, odds, self.n)
        explained = np.bincount(self.rub, odds * dense, self.n)
        return float(np.log((1 + explained) / (1 + all_odds)).sum())
