"""How many bucks use a place: against every combination of users, and against simulation."""

from __future__ import annotations

import itertools
from math import inf

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from camsign.stats.bedded import days_bedded
from camsign.stats.users import count_interval, how_many_use


@pytest.mark.parametrize("uses", [[0.3, 0.05], [inf, 0.4, 0.1], [inf, inf], [0.9], []])
def test_against_every_combination(uses: list[float]) -> None:
    expected = np.zeros(len(uses) + 1)
    for users in itertools.product((0, 1), repeat=len(uses)):
        k = sum(users)
        if any(u == inf and not used for u, used in zip(uses, users, strict=True)):
            continue
        weight = np.prod([u for u, used in zip(uses, users, strict=True) if used and u < inf])
        expected[k] += weight * quad(lambda c, k=k: c**k * (1 - c) ** (len(uses) - k), 0, 1)[0]
    assert how_many_use(uses) == pytest.approx(expected / expected.sum(), abs=1e-4)


@given(st.lists(st.one_of(st.just(inf), st.floats(0.01, 1)), max_size=12))
def test_at_least_those_seen_at_most_all(uses: list[float]) -> None:
    probability = how_many_use(uses)
    assert probability.sum() == pytest.approx(1)
    found = count_interval(probability)
    assert found.low is not None and found.high is not None
    assert sum(u == inf for u in uses) <= found.low <= found.high <= len(uses)


def test_long_watch_leaves_only_those_seen() -> None:
    unseen, seen = days_bedded(0, 0, 0, 400).use, days_bedded(3, 1, 1, 400).use
    assert how_many_use([seen, unseen, unseen])[1] > 0.95
    hardly = days_bedded(0, 0, 0, 1).use
    assert count_interval(how_many_use([seen, hardly, hardly])).high == 3
