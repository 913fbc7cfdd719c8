"""Every number that an answer gives lies within its interval, which is no point."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from contextlib import suppress
from datetime import date
from typing import Any

import numpy as np
import pytest
from answers_small import by_hand, small
from hypothesis import given
from hypothesis import strategies as st
from simulator import Plan, season
from test_answers_same import _world, upward

from camsign.answers.bedding import bedding
from camsign.answers.compare import compare
from camsign.answers.makers import makers
from camsign.answers.result import Figure
from camsign.answers.rivals import USERS, rivals
from camsign.answers.scope import Scope, scope_of
from camsign.answers.visits import visits
from camsign.answers.when import when
from camsign.answers.where import where
from camsign.errors import UsageError
from camsign.logbook.session import Session
from camsign.sits.hang_next import hang_next
from camsign.sits.review import sum_of
from camsign.sits.tonight import tonight
from camsign.sits.weather import typed_sky
from camsign.stats.estimate import Estimate, central, spread_of
from camsign.stats.order import together

PLAN = Plan(bucks=3, areas=3, nights=40, corridors=1, persistence=0.8)
DRAWS = st.lists(st.integers(0, 90), min_size=1, max_size=400)


def held(e: Figure | Estimate, at: str = "") -> bool:
    """Chance alone may leave one number of nights together, and of the bucks known all may surely
    bed there; nothing else is without a width."""
    low, high = -np.inf if e.low is None else e.low, np.inf if e.high is None else e.high
    all_known = isinstance(e, Figure) and e.method == USERS and low == e.n
    wide = low < high or at.endswith(".by_chance") or all_known
    return wide and (e.value is None or low - 1e-9 <= e.value <= high + 1e-9)


def numbers(value: Any, at: str = "") -> Iterator[tuple[str, Figure | Estimate]]:
    """Give each number with an interval in an answer, but no bearing: those go round."""
    if isinstance(value, Figure | Estimate):
        yield at, value
    elif dataclasses.is_dataclass(value):
        for f in dataclasses.fields(value):
            if not f.name.endswith("_deg"):
                yield from numbers(getattr(value, f.name), f"{at}.{f.name}")
    elif isinstance(value, Mapping | list | tuple):
        pairs = value.items() if isinstance(value, Mapping) else enumerate(value)
        for key, one in pairs:
            yield from numbers(one, f"{at}[{key}]")


def answers(session: Session, scope: Scope) -> Iterator[tuple[str, Any]]:
    """Give what is said of these days to every question that counts, whole and of its parts."""
    spots = [a for (a,) in session.con.execute("SELECT DISTINCT area FROM areas").fetchall()]
    bucks = [b for (b,) in session.con.execute("SELECT DISTINCT buck FROM bucks").fetchall()]
    yield "compare", compare(session, scope)
    yield "visits", visits(session, scope, split="month")
    for area in sorted(spots):
        here = dataclasses.replace(scope, area_ids=(area,))
        yield f"bedding {area}", bedding(session, here, days=True)
        yield f"rivals {area}", rivals(session, here)
        for buck in sorted(bucks)[:2]:
            with suppress(UsageError):  # no camera was up there
                yield f"when {area}", when(session, dataclasses.replace(here, buck_ids=(buck,)))
    for buck in bucks:
        for day in (date(2025, 10, 22), date(2025, 11, 14)):
            yield f"where {buck}", where(session, dataclasses.replace(scope, buck_ids=(buck,)), day)


def faults(session: Session, *scopes: Scope) -> list[str]:
    return [
        f"{name}{at}: {one}"
        for scope in scopes
        for name, answer in answers(session, scope)
        for at, one in numbers(answer)
        if not held(one, at)
    ]


def _all_and_a_week(session: Session) -> list[Scope]:
    every = scope_of(session)
    week = dataclasses.replace(every, first=date(2025, 10, 20), last=date(2025, 10, 27))
    return [every, dataclasses.replace(week, season=None)]


def test_each_number_of_the_small_logbook_lies_within_its_interval() -> None:
    with by_hand():
        session = small()
        assert faults(session, *_all_and_a_week(session)) == []
        said = list(numbers(compare(session, scope_of(session))))
        assert len(said) > 10


@pytest.mark.thorough
@pytest.mark.parametrize("seed", [3, 4])
def test_each_number_of_a_season_lies_within_its_interval(seed: int) -> None:
    """Some areas are walked through by all, some bucks hardly come to others."""
    session = season(PLAN, seed, 10).session
    assert faults(session, *_all_and_a_week(session)) == []


@pytest.mark.thorough
def test_each_number_of_a_sit_lies_within_its_interval() -> None:
    session = _world(upward).session()
    day = date(2025, 11, 7)
    said = tonight(session, day, typed_sky("W", 4.0, 0.5)), hang_next(session, day), makers(
        session, scope_of(session), upward("s", 3)
    )  # fmt: skip
    given = [(at, one) for answer in said for at, one in numbers(answer)]
    assert len(given) > 3
    assert [x for x in given if not held(x[1])] == []


@given(DRAWS)
def test_the_mean_of_draws_lies_within_their_interval(draws: list[int]) -> None:
    assert held(spread_of(draws, most=90))


@pytest.mark.parametrize(
    ("draws", "most", "said"),
    [
        ([0] * 98 + [12, 12], 86, (0.24, 0, 1)),
        ([0] * 100, 86, (0, 0, 1)),
        ([2] * 100, 2, (2, 1, 2)),
        ([2] * 100, 3, (2, 2, 3)),
        ([3, 4, 5] * 40, 86, (4, 3, 5)),
    ],
)
def test_draws_that_agree_prove_no_number(
    draws: list[int], most: int, said: tuple[float, float, float]
) -> None:
    found = spread_of(draws, most=most)
    assert (found.value, found.low, found.high) == pytest.approx(said)


def test_the_mean_of_a_skewed_law_lies_within_its_interval() -> None:
    mean, low, high = central(np.array([[0.0, 1.0]] * 99 + [[1.0, 0.0]]))
    assert low.tolist() == [0.0, 0.99]
    assert high.tolist() == [*mean.tolist()[:1], 1.0]
    assert held(sum_of([0.01]))
    assert held(together(1, 1, 0, 90)[0])
