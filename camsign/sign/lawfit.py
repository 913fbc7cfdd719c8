"""The constants of the law of radiants, by likelihood from the rubs around those found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import log

import numpy as np

from camsign.sign.origin_likelihood import Law, Rubs, density_at, odds_at, seen_from

# Values tried of each constant, and how far from the default few rubs may carry it: the standard
# deviation of its logarithm.
_TRIED: dict[str, tuple[tuple[float, ...], float]] = {
    "kappa": ((1.5, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0), 0.5),
    "length_m": ((20.0, 28.0, 36.0, 45.0, 57.0, 72.0, 90.0), 0.4),
    "odds": ((0.7, 1.2, 2.0, 3.0, 5.0, 8.0, 13.0), 0.7),
    "inward": ((0.03, 0.06, 0.12, 0.2, 0.3, 0.4), 0.6),
}
_SWEEPS = 2


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
        from scipy.spatial import cKDTree

        tree = cKDTree(np.stack([rubs.east, rubs.north], axis=1))
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
