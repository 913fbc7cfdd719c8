"""Unseen individuals and coverage against published worked examples."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.stats.counts import chao2, coverage

# Spider counts of Sackett et al. 2011, as in the tests of a statistics library.
SPIDERS = [46, 22, 17, 15, 15, 9, 8, 6, 6, 4, 2, 2, 2, 2, *[1] * 12]
# Cottontails of Burnham and Overton, Ecology 60 (1979) 927-936: 76 seen on 18 occasions,
# f = 43, 16, 8, 6, 0, 2, 1.
COTTONTAILS = [n for n, f in enumerate([43, 16, 8, 6, 0, 2, 1], 1) for _ in range(f)]


def test_good_turing_coverage_of_the_spiders() -> None:
    assert coverage(SPIDERS) == pytest.approx(0.92857, abs=5e-6)
    assert coverage([]) is None
    assert coverage([1]) == 0


def test_chao_of_the_spiders_without_the_factor() -> None:
    # 39.2, bias-corrected, by Chao 1984 as computed from the same counts; (t-1)/t goes to 1.
    assert chao2(SPIDERS, 10**9).value == pytest.approx(39.2, abs=1e-6)


def test_chao2_of_the_cottontails() -> None:
    assert len(COTTONTAILS) == 76
    # Bias-corrected, computed from Burnham and Overton's frequencies.
    assert chao2(COTTONTAILS, 18).value == pytest.approx(126.17, abs=5e-3)


# Computed once with scikit-bio 0.7.4: chao1(bias_corrected=True), chao1_ci, goods_coverage.
@pytest.mark.parametrize(
    ("times", "value", "low", "high", "covered"),
    [
        (SPIDERS, 39.2, 29.443297223768255, 76.60266037949415, 0.9285714285714286),
        (COTTONTAILS, 129.11764705882354, 100.46070940759894, 191.34761245269627, 0.69718309859155),
    ],
)
def test_like_scikit_bio(
    times: list[int], value: float, low: float, high: float, covered: float
) -> None:
    found = chao2(times, 10**9)
    assert found.value == pytest.approx(value, rel=1e-6)
    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-3)
    assert coverage(times) == pytest.approx(covered, rel=1e-12)


@given(st.lists(st.integers(0, 9), max_size=20), st.integers(1, 100))
def test_never_below_those_seen(times: list[int], occasions: int) -> None:
    seen = sum(t > 0 for t in times)
    found = chao2(times, occasions)
    assert found.value is not None and found.low is not None
    assert seen <= found.low <= found.value
    assert found.high is None or found.value <= found.high


def test_one_seen_once_bounds_nothing() -> None:
    assert chao2([1, 3, 4], 10).high is None
    assert chao2([2, 3, 4], 10).high == 3
