"""Chances of several parts: against the same hierarchy by plain summation, and against truth."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from camsign.stats.shrunk import effect_within, shrunk_chances, shrunk_means


@pytest.mark.thorough
def test_against_plain_summation() -> None:
    events, days = [3, 0, 6], [20, 8, 10]
    roots, sizes = (np.arange(40) + 0.5) / 40, np.geomspace(0.6, 60, 10)
    x = np.linspace(0.0005, 0.9995, 1000)
    expected = [np.zeros_like(x) for _ in events]
    for root in roots:
        mean = root**2
        for size in sizes:
            a, b = mean * size, (1 - mean) * size
            weight = stats.beta(0.5, 4).pdf(mean) * root
            for k, n in zip(events, days, strict=True):
                weight *= stats.betabinom(n, a, b).pmf(k)
            for i, (k, n) in enumerate(zip(events, days, strict=True)):
                expected[i] += weight * stats.beta(a + k, b + n - k).pdf(x)
    for found, density in zip(shrunk_chances(events, days, 1.0), expected, strict=True):
        by_hand = float((x * density).sum() / density.sum())
        assert found.mean() == pytest.approx(by_hand, abs=0.01)


def test_forecasts_against_plain_summation_around_the_share() -> None:
    """SciPy's beta-binomial law, its mean at the share of all days, over the same sizes."""
    events, days = np.array([3, 0, 6, 0]), np.array([20, 8, 10, 0])
    share, total, expected = 9 / 38, 0.0, np.zeros(4)
    for size in np.geomspace(0.6, 600, 16):
        a, b = share * size, (1 - share) * size
        weight = float(np.prod(stats.betabinom(days, a, b).pmf(events)))
        expected += weight * stats.beta(a + events, b + days - events).mean()
        total += weight
    found = shrunk_means(events.tolist(), days.tolist(), 1.0)
    assert found == pytest.approx((expected / total).tolist(), abs=1e-9)
    assert found[3] == pytest.approx(share)
    assert found[1] < share < found[2]


@pytest.mark.parametrize(("events", "share"), [([0, 0], 0.0), ([9, 5], 1.0)])
def test_forecasts_where_no_day_or_every_day_had_one(events: list[int], share: float) -> None:
    assert shrunk_means(events, [9, 5], 2.0) == [share, share]


def test_a_part_without_days_leans_on_the_others() -> None:
    low, bare, high = shrunk_chances([1, 0, 18], [60, 0, 60], 1.0)
    assert low.mean() < bare.mean() < high.mean()
    lone = shrunk_chances([18], [60], 1.0)[0].estimate()
    assert lone.value == pytest.approx(0.3, abs=0.03)


def test_days_that_hang_together_widen_it() -> None:
    narrow, wide = (shrunk_chances([6], [40], d)[0].estimate() for d in (1.0, 4.0))
    assert wide.high - wide.low > 1.5 * (narrow.high - narrow.low)  # type: ignore[operator]


def test_days_hang_together_within_parts_only() -> None:
    spread = (np.random.default_rng(1).random(100) < 0.2).astype(int)
    spells = [1 if i % 50 < 10 else 0 for i in range(100)]
    whole = [0] * 100
    assert 1 <= effect_within(spread, whole) < 1.5
    assert effect_within(spells, whole) > 2.5
    # The same spell as a part of its own is no spell: within it every day is alike.
    assert effect_within(spells, [int(i % 50 < 10) for i in range(100)]) < 1.5


def test_a_real_rut_is_not_smoothed_away() -> None:
    """Seasons in which he comes on 2% of days but 40% of the rut's: one effect over the whole
    season said .11, .11 and .21."""
    rng, truth = np.random.default_rng(12), (0.02, 0.02, 0.02, 0.4)
    part = np.repeat(range(4), 30)
    said, held = [], []
    for _ in range(25):
        days = (rng.random(120) < np.array(truth)[part]).astype(int)
        seen = [int(days[part == i].sum()) for i in range(4)]
        found = [x.estimate() for x in shrunk_chances(seen, [30] * 4, effect_within(days, part))]
        said.append([x.value for x in found])
        held += [x.low <= t <= x.high for x, t in zip(found, truth, strict=True)]
    low, high = np.mean(said, axis=0)[[0, 3]]
    assert low < 0.05 and high > 0.32
    assert np.mean(held) > 0.9
