"""Two bucks at one place: against Fisher's exact test, and orders known to be random or not."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import fisher_exact

from camsign.stats.order import giving_way, together


@pytest.mark.parametrize(
    ("first", "second", "both", "nights"), [(10, 12, 2, 60), (20, 20, 11, 50), (5, 40, 4, 41)]
)
def test_shared_nights_are_fishers_table(first: int, second: int, both: int, nights: int) -> None:
    found = together(first, second, both, nights)
    assert found.by_chance.value == pytest.approx(first * second / nights)
    table = [[both, first - both], [second - both, nights - first - second + both]]
    one_sided = min(fisher_exact(table, side).pvalue for side in ("less", "greater"))
    assert found.p == pytest.approx(min(2 * one_sided, 1))


def test_random_order_is_seldom_called_giving_way() -> None:
    rng = np.random.default_rng(3)
    p = []
    for i in range(60):
        times = np.sort(rng.uniform(0, 24 * 60, 40))
        who = rng.random(40) < 0.5
        found = giving_way(times[who], times[~who], shuffles=99, seed=i)
        p.append(found.p)
    assert np.mean([x <= 0.05 for x in p if x is not None]) <= 0.12


def test_one_who_keeps_away_after_the_other_is_seen() -> None:
    # The second is never seen for two days after the first, the first comes hours after the second.
    first = np.arange(30) * 72.0
    second = first + 60.0
    found = giving_way(first, second)
    assert found.after_first == pytest.approx(60)
    assert found.after_second == pytest.approx(12)
    assert found.p is not None and found.p < 0.01


def test_few_passes_give_no_answer() -> None:
    assert giving_way([1, 2, 3], [4, 5, 6, 7, 8]).p is None


def test_seeded() -> None:
    rng = np.random.default_rng(1)
    a, b = rng.uniform(0, 900, 20), rng.uniform(0, 900, 20)
    assert giving_way(a, b, seed=2) == giving_way(a, b, seed=2)
