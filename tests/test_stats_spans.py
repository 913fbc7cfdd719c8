"""The median and its order-statistic interval."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from camsign.stats.estimate import Estimate, median_interval


@pytest.mark.parametrize(
    ("n", "level", "r"),
    # Ranks r of the usual tables of the binomial with p = 1/2 (as in W. J. Conover, Practical
    # nonparametric statistics, table A3): from memory, and recomputed below by scipy.
    [
        (6, 0.95, 1),
        (8, 0.95, 1),
        (9, 0.95, 2),
        (10, 0.95, 2),
        (15, 0.95, 4),
        (20, 0.95, 6),
        (20, 0.99, 4),
    ],
)
def test_ranks(n: int, level: float, r: int) -> None:
    got = median_interval(np.arange(1, n + 1)[::-1], level)
    assert (got.low, got.high) == (r, n + 1 - r)
    assert got.value == (n + 1) / 2


@given(st.integers(1, 400), st.sampled_from([0.5, 0.8, 0.9, 0.95, 0.99]))
def test_covers_at_least_the_level_and_no_shorter_one_does(n: int, level: float) -> None:
    got = median_interval(np.arange(1.0, n + 1), level)
    half = (1 - level) / 2
    if got.low is None:
        assert stats.binom.cdf(0, n, 0.5) > half
    else:
        assert stats.binom.cdf(got.low - 1, n, 0.5) <= half < stats.binom.cdf(got.low, n, 0.5)


def test_real_coverage_of_days_between_visits() -> None:
    # Skewed spans (exponential, median ln 2): at least 95% of 4,000 intervals hold the median.
    rng = np.random.default_rng(20260901)
    held = 0
    for _ in range(4000):
        got = median_interval(rng.exponential(size=12))
        held += bool(
            got.low is not None and got.high is not None and got.low <= np.log(2) <= got.high
        )
    assert stats.binomtest(held, 4000, 1 - 2 * stats.binom.cdf(2, 12, 0.5)).pvalue > 1e-4
    assert held / 4000 > 0.95


def test_too_few_values_bound_nothing() -> None:
    assert median_interval([3, 1, 2]) == Estimate(2.0, None, None)
    assert median_interval([]) == Estimate(None, None, None)


@given(st.lists(st.floats(-1e6, 1e6), min_size=6, max_size=60))
def test_order_of_values_does_not_matter(values: list[float]) -> None:
    got = median_interval(values)
    assert got == median_interval(sorted(values, reverse=True))
    assert got.low in values
    assert got.high in values
