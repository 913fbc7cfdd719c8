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
    by_chance, p = together(first, second, both, nights)
    assert by_chance.value == pytest.approx(first * second / nights)
    table = [[both, first - both], [second - both, nights - first - second + both]]
    one_sided = min(fisher_exact(table, side).pvalue for side in ("less", "greater"))
    assert p == pytest.approx(min(2 * one_sided, 1))


def test_two_who_mind_each_other_not_are_seldom_said_to() -> None:
    """One at 5 PM, one at 8 PM, each on days of his own: hours alone are no giving way."""
    rng = np.random.default_rng(3)
    p = []
    for _ in range(60):
        one, other = (np.flatnonzero(rng.random(90) < 0.3) * 24.0 for _ in range(2))
        hours = one + 17 + rng.normal(0, 0.5, len(one)), other + 20 + rng.normal(0, 0.5, len(other))
        p.append(giving_way(*hours).p)
    assert np.mean([x <= 0.05 for x in p if x is not None]) <= 0.12


def _avoiding(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """The second is never there on the first's days nor on the two after."""
    rng = np.random.default_rng(seed)
    first = np.flatnonzero(rng.random(120) < 0.3)
    barred = np.concatenate([first, first + 1, first + 2])
    second = np.setdiff1d(np.arange(120), barred)
    return first * 24.0 + 18, second * 24.0 + 18.5


def test_one_who_keeps_away_after_the_other_is_seen() -> None:
    found = giving_way(*_avoiding(7))
    assert found.after_first is not None and found.after_first > 48
    assert found.p is not None and found.p < 0.05
    assert found.second_gives_way


def test_few_passes_give_no_answer() -> None:
    assert giving_way([1, 2, 3], [4, 5, 6, 7, 8]).p is None


def test_the_same_visits_give_the_same_answer() -> None:
    one, other = _avoiding(8)
    assert giving_way(one, other) == giving_way(one[::-1], other)
