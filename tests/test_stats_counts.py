"""Chances of counts against scipy.stats."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import hypergeom, nbinom

from camsign.stats.counts import Shared, days_until


@given(st.integers(2, 400), st.floats(0, 1), st.floats(0, 1), st.integers(-2, 402))
def test_nights_shared(nights: int, one: float, other: float, count: int) -> None:
    first, second = round(one * nights), round(other * nights)
    ours, law = Shared(nights, first, second), hypergeom(nights, first, second)
    assert ours.mean == pytest.approx(float(law.mean()))
    assert ours.at_most(count) == pytest.approx(float(law.cdf(count)), abs=1e-9)
    assert ours.at_least(count) == pytest.approx(float(law.sf(count - 1)), abs=1e-9)
    for chance in (0.025, 0.5, 0.975):
        reached = ours.reached(chance)
        assert law.cdf(reached) >= chance - 1e-9 and law.cdf(reached - 1) < chance + 1e-9


def test_no_nights_at_all() -> None:
    none = Shared(0, 0, 0)
    assert (none.mean, none.at_most(0), none.at_least(0), none.reached(0.975)) == (0, 1, 1, 0)


@given(st.integers(1, 12), st.floats(0.05, 1), st.floats(0.05, 1), st.floats(0.05, 0.95))
def test_days_until_so_many_where_days_are_apart(
    times: int, chance: float, share: float, sure: float
) -> None:
    law = nbinom(times, chance * share)
    days = days_until(times, chance, share, 0.0, sure, 20_000)
    assert law.cdf(days - times) >= sure - 1e-9
    assert days == times or law.cdf(days - times - 1) < sure + 1e-9


def test_days_until_so_many_where_days_hang_together() -> None:
    """Played 40,000 times: there on three days of ten, mostly in a row, seen on half of them."""
    rng, played = np.random.default_rng(3), 40_000
    share, keep, chance, times = 0.3, 0.9, 0.5, 3
    days = days_until(times, chance, share, keep, 0.8, 1000)
    there, seen, before = rng.random(played) < share, np.zeros(played, dtype=int), 0.0
    for _ in range(days):
        before = float((seen >= times).mean())
        seen += there & (rng.random(played) < chance)
        there = np.where(rng.random(played) < keep, there, rng.random(played) < share)
    assert before - 0.01 < 0.8 < float((seen >= times).mean()) + 0.01
    # Runs of days tell less: more are needed than of days apart.
    assert days > 1.5 * days_until(times, chance, share, 0.0, 0.8, 1000)


def test_days_until_are_not_counted_for_ever() -> None:
    assert days_until(3, 0.01, 0.05, 0.0, 0.8, 50) == 50
