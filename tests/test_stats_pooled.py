"""Chances that are alike, drawn around a mean."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import beta

from camsign.stats.pooled import even_pool


def test_the_law_around_a_mean_is_a_beta_law() -> None:
    """Against scipy.stats.beta."""
    pool, edges = even_pool(4.0, 1.0, 1.0), np.arange(16) / 15
    for row, mean in zip(np.exp(pool.around), pool.grid, strict=True):
        assert row == pytest.approx(np.diff(beta(4 * mean, 4 * (1 - mean)).cdf(edges)), abs=1e-9)


def test_a_mean_is_drawn_where_its_individuals_say() -> None:
    pool, rng = even_pool(8.0, 1.0, 1.0), np.random.default_rng(3)
    hits, misses = np.full((500, 6), 18.0), np.full((500, 6), 42.0)
    assert pool.mean(hits, misses, rng).mean() == pytest.approx(0.3, abs=0.04)
