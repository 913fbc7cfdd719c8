"""Rates over watch: exact intervals against published tables and independent libraries."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.rates import confint_poisson

from camsign.stats.estimate import Estimate, poisson_rate, rate_ratio


@pytest.mark.parametrize(
    ("n", "level", "low", "high", "places"),
    [
        # F. Garwood, Biometrika 28 (1936) 437-442, as read for n = 0, 10 and 25.
        (0, 0.95, 0.0, 3.689, 3),
        (10, 0.95, 4.80, 18.39, 2),
        (25, 0.90, 17.38, 34.92, 2),
        (25, 0.95, 16.18, 36.90, 2),
        (25, 0.99, 14.00, 41.00, 2),
        # Computed by an independent library from the chi-square formula.
        (1, 0.95, 0.0253, 5.572, 3),
        (7, 0.95, 2.814, 14.423, 3),
    ],
)
def test_garwood(n: int, level: float, low: float, high: float, places: int) -> None:
    got = poisson_rate(n, 1.0, level=level)
    assert got.value == n
    assert (got.low, got.high) == pytest.approx((low, high), abs=0.6 * 10**-places)


@pytest.mark.parametrize(
    ("n", "low", "high"),
    # N. Gehrels, Astrophys. J. 303 (1986) 336-346, one-sigma limits, as in astropy's tests.
    [(0, 0, 1.841), (1, 0.173, 3.300), (3, 1.367, 5.918), (5, 2.840, 8.382), (8, 5.232, 11.95)],
)
def test_gehrels_one_sigma(n: int, low: float, high: float) -> None:
    got = poisson_rate(n, 1.0, level=stats.norm.cdf(1) - stats.norm.cdf(-1))
    assert (got.low, got.high) == pytest.approx((low, high), abs=6e-3)


def test_seven_visits_in_forty_two_nights() -> None:
    # 7 in 42 nights = 16.67 per 100 (6.70 to 34.34): Garwood's formula, independently computed.
    got = poisson_rate(7, 42, per=100)
    assert (got.value, got.low, got.high) == pytest.approx((16.67, 6.70, 34.34), abs=5e-3)


def test_fifteen_in_four_hundred(samples: Path) -> None:
    # DescTools and exactci (R), in statsmodels' own tests.
    known = json.loads((samples / "reference" / "stats.json").read_text(encoding="utf-8"))
    exact = known["exact Poisson CI"]["DescTools/exactci, in statsmodels tests: 15 events / 400"]
    got = poisson_rate(15, 400)
    assert (got.low, got.high) == pytest.approx(exact["exact(Garwood)"], rel=1e-12)


@given(st.integers(0, 2000), st.floats(0.1, 1e4), st.sampled_from([0.5, 0.8, 0.9, 0.95, 0.99]))
def test_like_statsmodels(n: int, exposure: float, level: float) -> None:
    got = poisson_rate(n, exposure, level=level)
    low, high = confint_poisson(n, exposure, method="exact-c", alpha=1 - level)
    assert got.high == pytest.approx(high, rel=1e-9)
    assert got.low == pytest.approx(0.0 if n == 0 else low, rel=1e-9)


def test_no_watch_is_no_rate() -> None:
    assert poisson_rate(0, 0) == Estimate(None, 0.0, None)
    assert rate_ratio(3, 10, 0, 0) == Estimate(None, 0.0, None)


@pytest.mark.parametrize(("n", "exposure", "level"), [(-1, 1, 0.9), (1, -1, 0.9), (1, 1, 95)])
def test_nonsense_is_refused(n: int, exposure: float, level: float) -> None:
    with pytest.raises(ValueError, match=r"level|events"):
        poisson_rate(n, exposure, level=level)


def test_ratio_of_two_towns() -> None:
    # R's poisson.test(c(11, 6+8+7), c(800, 1083+1050+878)); inputs from its manual page, outputs
    # (ratio 1.971488, 0.8584264 to 4.2772659) from memory of what it prints.
    got = rate_ratio(11, 800, 6 + 8 + 7, 1083 + 1050 + 878)
    assert (got.value, got.low, got.high) == pytest.approx(
        (1.971488, 0.8584264, 4.2772659), rel=1e-6
    )


@given(st.integers(1, 60), st.floats(5, 500), st.integers(1, 60), st.floats(5, 500))
def test_ratio_limits_are_where_the_exact_test_turns(
    n1: int, e1: float, n2: int, e2: float
) -> None:
    # scipy.stats.binomtest is the independent authority: at a limit its one-sided p is 2.5%.
    got = rate_ratio(n1, e1, n2, e2)
    assert got.low is not None
    assert got.high is not None
    for ratio, side in ((got.low, "greater"), (got.high, "less")):
        share = ratio * e1 / (ratio * e1 + e2)
        assert stats.binomtest(n1, n1 + n2, share, side).pvalue == pytest.approx(0.025, rel=1e-6)


@given(st.integers(0, 60), st.floats(5, 500), st.integers(0, 60), st.floats(5, 500))
def test_ratio_turned_round_is_its_inverse(n1: int, e1: float, n2: int, e2: float) -> None:
    one, other = rate_ratio(n1, e1, n2, e2), rate_ratio(n2, e2, n1, e1)
    upside = 1 / other.high if other.high else 0.0
    assert one.low == pytest.approx(upside, rel=1e-9)
    if n1 and n2:
        assert one.value == pytest.approx(1 / (other.value or math.nan))


def test_ratio_to_nothing_has_a_floor_and_no_ceiling() -> None:
    got = rate_ratio(5, 100, 0, 100)
    assert (got.value, got.high) == (None, None)
    # All 5 events on one side: the share's lower limit is 0.025 ** (1/5), by definition.
    share = 0.025 ** (1 / 5)
    assert got.low == pytest.approx(share / (1 - share))
    assert rate_ratio(0, 10, 0, 10) == Estimate(None, 0.0, None)
