"""Selection ratios against a published example, and how often a preference is claimed of none."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom, norm

from camsign.sits.windbeds import by_sector, factors_of, sector_of, which
from camsign.stats.selection import (
    selection_intervals,
)

# Moose tracks by habitat around the Little Sioux burn: interior, edge inside, edge outside, beyond
# (Neu, Byers and Peek 1974, J. Wildl. Manage. 38:541-545, table 1; counts, shares of the land and
# the ratios of Manly and others 2002 from memory, the paper was not at hand).
MOOSE, LAND = np.array([25, 22, 30, 40]), np.array([0.340, 0.101, 0.104, 0.455])


def test_the_moose_of_1974() -> None:
    ratios = [e.value for e in selection_intervals(MOOSE, LAND)]
    assert ratios == pytest.approx([0.628, 1.862, 2.466, 0.751], abs=0.002)
    # Both edges were used more than there was of them, the interior less; the land beyond lies so
    # near the limit that the exact interval and the paper's normal one may part.
    sides = [
        "more" if e.low and e.low > 1 else "less" if e.high and e.high < 1 else ""
        for e in selection_intervals(MOOSE, LAND)
    ]
    assert sides[:3] == ["less", "more", "more"]


def test_limits_are_the_binomial_ones() -> None:
    """scipy.stats: limits at which the binomial law's tail is 0.05 / 8."""
    for n, part, one in zip(MOOSE, LAND, selection_intervals(MOOSE, LAND), strict=True):
        assert one.low is not None and one.high is not None
        assert binom.sf(n - 1, 117, one.low * part) == pytest.approx(0.05 / 8, rel=1e-6)
        assert binom.cdf(n, 117, one.high * part) == pytest.approx(0.05 / 8, rel=1e-6)
        # The normal limits of the paper lie near the exact ones.
        z, p = norm.isf(0.05 / 8), n / 117
        half = z * np.sqrt(p * (1 - p) / 117)
        assert one.low * part == pytest.approx(p - half, abs=0.02)
        assert one.high * part == pytest.approx(p + half, abs=0.02)


def test_a_kind_that_is_not_there_has_no_ratio_and_one_never_used_an_upper_end() -> None:
    never, gone, all_ = selection_intervals(np.array([0, 0, 9]), np.array([0.5, 0.0, 0.5]))
    assert (never.value, never.low) == (0.0, 0.0) and never.high is not None and never.high < 2
    assert (gone.value, gone.low, gone.high) == (None, None, None)
    assert all_.value == 2.0


def _runs(chance: np.random.Generator, n: int, change: float, kinds: int) -> np.ndarray:
    """Days in runs: each day keeps the day before's kind unless it changes."""
    fresh = chance.random(n) < change
    fresh[0] = True
    drawn = chance.integers(0, kinds, n)
    return np.asarray(drawn[np.maximum.accumulate(np.where(fresh, np.arange(n), 0))])


def _claims(trials: int, prefers: float, seed: int) -> float:
    """Share of seasons of 90 days with a claim; beds are kept for days, and so are winds."""
    chance = np.random.default_rng(seed)
    told = 0
    for _ in range(trials):
        wind = _runs(chance, 90, 0.5, 8)
        home = _runs(chance, 90, 0.3, 3) == 0
        used = (wind <= 1) & (chance.random(90) < prefers) if prefers else home
        told += by_sector(wind, used).shown
    return told / trials


def test_no_preference_is_hardly_ever_claimed() -> None:
    assert _claims(120, 0.0, 11) < 0.025


@pytest.mark.long
def test_no_preference_is_claimed_in_under_one_season_in_forty() -> None:
    assert _claims(3000, 0.0, 12) < 0.025


def test_a_strong_preference_is_found() -> None:
    assert _claims(30, 0.9, 13) > 0.8


def test_what_is_shown_moves_the_chance_and_nothing_else_does() -> None:
    wind = _runs(np.random.default_rng(3), 120, 0.7, 8)
    strong = by_sector(wind, wind == 2)
    moved = factors_of(strong)
    assert moved is not None
    assert moved[2] == 2.0 and all(f <= 1 for n, f in enumerate(moved) if n != 2)
    few = by_sector(wind[:30], wind[:30] == 2)
    assert factors_of(few) is None
    assert factors_of(by_sector(wind, np.arange(120) % 3 == 0)) is None


def test_what_shifted_days_show_as_well_is_no_preference() -> None:
    """Winds that come round in eight days: every shift fits another wind as well, so it may be
    luck, though the interval of one sector leaves out 1."""
    wind = np.arange(120) % 8
    found = by_sector(wind, wind == 2)
    assert (found.ratios[2].low or 0) > 1 and found.luck == 1.0
    assert not found.shown


def test_sectors_are_eighths_about_north() -> None:
    assert [which(x) for x in (0, 22.4, 22.6, 180, 337.6, 359.9)] == [0, 0, 1, 4, 0, 0]


def test_the_mean_wind_counts_and_calm_has_none() -> None:
    from datetime import UTC, datetime

    from camsign.formats.wind import WindHour

    def hour(turn: float | None, speed: float) -> WindHour:
        return WindHour(datetime(2025, 11, 7, 12, tzinfo=UTC), turn, speed, None, None)

    assert sector_of([hour(350, 3), hour(10, 3)]) == 0
    assert sector_of([hour(0, 3), hour(180, 3)]) is None
    assert sector_of([hour(None, 0)]) is None and sector_of([]) is None
    assert sector_of([hour(225, 3), hour(None, 0)]) == 5
