"""What a rub says of its maker, and habits. All rules here are common practice, no source."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TypeVar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.derive.opening import open_logbook
from camsign.errors import UsageError
from camsign.logbook.folder import Folder, create
from camsign.logbook.session import Session
from camsign.logbook.settings import Settings
from camsign.sign import habits as h
from camsign.sign.record import SaidSighting, add_sign
from camsign.sign.size import (
    MOST,
    WAIST_M,
    Builds,
    size_evidence,
    size_likelihood,
    spread_range,
)
from camsign.tags.bucks import add_buck

HERE = (44.2, -71.4)
T = TypeVar("T")


def do(folder: Folder, verb: Callable[[Session], T]) -> T:
    with open_logbook(folder) as session:
        return verb(session)


def test_what_is_not_measured_says_nothing() -> None:
    assert size_evidence({}) == []
    assert size_likelihood({}, Builds(True)) == (1.0, None)


def test_evidence_is_said_with_its_chances() -> None:
    seen = {"top_m": 1.1, "tine_m": 1.45, "diameter_m": 0.05, "damage": ["broken"]}
    found = {e.words: e for e in size_evidence(seen)}
    assert set(found) == {"tall rub", "thin trunk", "trunk broken", "marks of long tines"}
    for words, favors_mature in (
        ("tall rub", True),
        ("thin trunk", False),
        ("trunk broken", True),
    ):
        one = found[words]
        assert one.if_mature is not None and one.if_young is not None
        assert (one.if_mature > one.if_young) == favors_mature
    # Height says more than diameter.
    tall, thin = found["tall rub"], found["thin trunk"]
    assert (tall.if_mature or 0) / (tall.if_young or 1) > (thin.if_young or 0) / (
        thin.if_mature or 1
    )


def test_waist_height_is_a_setting() -> None:
    low = Settings(id="x", tz="UTC", waist_m=0.8128)
    assert Settings(id="x", tz="UTC").waist_m == WAIST_M
    mature = Builds(True)
    assert size_likelihood({"top_m": 0.9}, mature, low)[0] > 1
    assert size_likelihood({"top_m": 0.9}, mature)[0] < 1


def test_spread_is_a_range_that_holds_the_rule_and_says_what_it_assumes() -> None:
    low, high = spread_range(0.30)
    assert low < 0.43 and high > 0.46
    (evidence,) = size_evidence({"far_marks_m": 0.30})
    assert evidence.spread_m == (low, high) and "brow tines" in str(evidence.assumes)
    assert evidence.if_mature is None


def test_a_fitting_spread_speaks_for_a_buck_and_another_against() -> None:
    fits = size_likelihood({"far_marks_m": 0.30}, Builds(None, (0.44, 0.41, 0.47)))
    off = size_likelihood({"far_marks_m": 0.30}, Builds(None, (0.20, 0.18, 0.22)))
    assert fits[0] > 1 > off[0]
    assert "fit his spread" in str(fits[1]) and "hardly fit" in str(off[1])


@given(
    st.fixed_dictionaries(
        {},
        optional={
            "top_m": st.floats(0.1, 3),
            "diameter_m": st.floats(0.01, 1),
            "tine_m": st.floats(0.1, 4),
            "far_marks_m": st.floats(0.01, 2),
            "damage": st.sampled_from([["broken"], ["shaved"], []]),
        },
    ),
    st.none() | st.booleans(),
    st.none() | st.floats(0.1, 0.8),
)
def test_no_rub_decides(
    measures: dict[str, object], mature: bool | None, spread: float | None
) -> None:
    build = Builds(mature, (spread, spread - 0.03, spread + 0.03) if spread else None)
    factor, words = size_likelihood(measures, build)
    assert mature is not None or "likely" not in (words or "")
    assert 1 / MOST <= factor <= MOST


def test_words_say_which_way_a_mark_counts() -> None:
    measures = {"top_m": 1.3, "diameter_m": 0.02}
    _, words = size_likelihood(measures, Builds(False))
    assert words == (
        "tall rub: less likely from a young buck like him; "
        "thin trunk: more likely from a young buck like him"
    )


def rubs(n: int, marks: frozenset[str], start: int = 0) -> dict[str, frozenset[str]]:
    return {f"s-{start + i:08x}": marks for i in range(n)}


def test_marks_that_recur_are_proposed() -> None:
    hand = frozenset({"nicks", "punctures", "tall"})
    log = rubs(6, hand) | rubs(30, frozenset({"nicks"}), 100) | rubs(30, frozenset({"gouges"}), 200)
    log |= rubs(20, frozenset(), 300)
    (found,) = h.proposals_from(log)
    assert found.marks == ("nicks", "punctures", "tall") and len(found.signs) == 6
    assert found.expected < 0.5 and found.p < 1e-4


def test_marks_that_only_are_frequent_are_not() -> None:
    both, one = frozenset({"nicks", "tall"}), frozenset({"nicks"})
    assert (
        h.proposals_from(rubs(36, both) | rubs(24, one, 100) | rubs(24, frozenset({"tall"}), 200))
        == []
    )
    assert h.proposals_from(rubs(2, frozenset({"nicks", "gouges"}))) == []


@pytest.mark.thorough
def test_a_habit_is_linked_owned_and_taken_from_him(tmp_path: Path) -> None:
    folder = create(tmp_path / "hollow", "America/New_York", HERE, "metric")
    seen = SaidSighting(date(2025, 11, 1), measures={"top_m": 1.2, "marks": ["nicks", "gouges"]})
    one, two = (do(folder, lambda s: add_sign(s, "rub", HERE, seen)).sign for _ in range(2))
    bed = do(folder, lambda s: add_sign(s, "bed", HERE, SaidSighting(date(2025, 11, 1)))).sign
    buck = do(folder, lambda s: add_buck(s, "Split Brow"))
    said = do(folder, lambda s: h.link_rubs(s, [one], "High nicks"))
    again = do(folder, lambda s: h.link_rubs(s, [two], "high NICKS"))
    assert again.habit == said.habit and set(again.signs) == {one, two}
    given_to = do(folder, lambda s: h.give_habit(s, "High nicks", "split brow"))
    assert (given_to.buck, given_to.buck_id) == ("Split Brow", buck.buck_id)
    (standing,) = do(folder, h.habits)
    assert standing.buck == "Split Brow" and set(standing.signs) == {one, two}
    assert do(folder, lambda s: h.give_habit(s, said.habit, None)).buck is None
    assert do(folder, h.habits)[0].buck_id is None
    for verb, words in (
        (lambda s: h.link_rubs(s, [bed], "x"), "only rubs"),
        (lambda s: h.link_rubs(s, [], "x"), "no rub"),
        (lambda s: h.give_habit(s, "Low gouges", None), "no habit"),
        (lambda s: h.give_habit(s, "High nicks", "Zeb"), "no buck"),
    ):
        with pytest.raises(UsageError, match=words):
            do(folder, verb)
    assert do(folder, h.propose_habits) == []
