"""Shares: Wilson's and the exact interval against a published table and statsmodels."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from camsign.stats.estimate import Estimate, clopper_pearson, wilson

KS_OF_N = st.integers(1, 500).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


# R. G. Newcombe, Two-sided confidence intervals for the single proportion, Stat. Med. 17 (1998)
# 857-872, table I: methods 3 (score) and 5 (exact). Values from memory of that table.
NEWCOMBE = [
    (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
    (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
    (0, 20, (0.0000, 0.1611), (0.0000, 0.1684)),
    (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
]


@pytest.mark.parametrize(("k", "n", "score", "exact"), NEWCOMBE)
def test_newcombe(k: int, n: int, score: tuple[float, float], exact: tuple[float, float]) -> None:
    for got, published in ((wilson(k, n), score), (clopper_pearson(k, n), exact)):
        assert got.value == k / n
        assert (got.low, got.high) == pytest.approx(published, abs=6e-5)


@given(KS_OF_N, st.sampled_from([0.5, 0.8, 0.9, 0.95, 0.99]))
def test_like_statsmodels_and_scipy(kn: tuple[int, int], level: float) -> None:
    k, n = kn
    got, exact = wilson(k, n, level), clopper_pearson(k, n, level)
    assert (got.low, got.high) == pytest.approx(
        proportion_confint(k, n, 1 - level, "wilson"), abs=1e-12
    )
    assert (exact.low, exact.high) == pytest.approx(
        proportion_confint(k, n, 1 - level, "beta"), abs=1e-10
    )
    theirs = stats.binomtest(k, n).proportion_ci(level, "wilson")
    assert (got.low, got.high) == pytest.approx((theirs.low, theirs.high), abs=1e-12)


@given(KS_OF_N)
def test_inside_zero_to_one_and_around_the_value(kn: tuple[int, int]) -> None:
    for got in (wilson(*kn), clopper_pearson(*kn)):
        assert got.low is not None
        assert got.high is not None
        assert got.value is not None
        assert 0 <= got.low <= got.value <= got.high <= 1


def test_of_nothing_anything_may_be_true() -> None:
    assert wilson(0, 0) == clopper_pearson(0, 0) == Estimate(None, 0.0, 1.0)


@pytest.mark.parametrize(("k", "n"), [(3, 2), (-1, 2), (0, -1)])
def test_nonsense_is_refused(k: int, n: int) -> None:
    with pytest.raises(ValueError, match=f"{k} of {n}"):
        wilson(k, n)
    with pytest.raises(ValueError, match=f"{k} of {n}"):
        clopper_pearson(k, n)
