"""Chances of several parts: against the same hierarchy by plain summation, and against truth."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from camsign.stats.shrunk import shrunk_chances
from camsign.stats.spells import design_effect


def test_against_plain_summation() -> None:
    events, days = [3, 0, 6], [20, 8, 10]
    means, sizes = (np.arange(30) + 0.5) / 30, np.geomspace(1, 300, 10)
    x = np.linspace(0.0005, 0.9995, 1000)
    expected = [np.zeros_like(x) for _ in events]
    for mean in means:
        for size in sizes:
            a, b = mean * size, (1 - mean) * size
            weight = stats.beta(0.5, 1.5).pdf(mean)
            for k, n in zip(events, days, strict=True):
                weight *= stats.betabinom(n, a, b).pmf(k)
            for i, (k, n) in enumerate(zip(events, days, strict=True)):
                expected[i] += weight * stats.beta(a + k, b + n - k).pdf(x)
    for found, density in zip(shrunk_chances(events, days, 1.0), expected, strict=True):
        by_hand = float((x * density).sum() / density.sum())
        assert found.mean() == pytest.approx(by_hand, abs=0.01)


def test_a_part_without_days_leans_on_the_others() -> None:
    low, bare, high = shrunk_chances([1, 0, 18], [60, 0, 60], 1.0)
    assert low.mean() < bare.mean() < high.mean()
    lone = shrunk_chances([18], [60], 1.0)[0].estimate()
    assert lone.value == pytest.approx(0.3, abs=0.03)


def test_days_that_hang_together_widen_it() -> None:
    narrow, wide = (shrunk_chances([6], [40], d)[0].estimate() for d in (1.0, 4.0))
    assert wide.high - wide.low > 1.5 * (narrow.high - narrow.low)  # type: ignore[operator]


def test_design_effect() -> None:
    spread = [1 if i % 5 == 0 else 0 for i in range(100)]
    spells = [1 if i % 50 < 10 else 0 for i in range(100)]
    assert 1 <= design_effect(spread) < 2
    assert design_effect(spells) > 3
