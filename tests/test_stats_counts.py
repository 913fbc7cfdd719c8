"""Chances of counts against scipy.stats."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import hypergeom, nbinom

from camsign.stats.counts import Shared, misses_before


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


@given(st.integers(1, 12), st.floats(0.005, 0.999), st.floats(0.05, 0.95))
def test_misses_before_so_many_hits(hits: int, chance: float, sure: float) -> None:
    law, misses = nbinom(hits, chance), misses_before(hits, chance, sure)
    assert law.cdf(misses) >= sure - 1e-9
    assert misses == 0 or law.cdf(misses - 1) < sure + 1e-9
