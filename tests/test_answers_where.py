"""Where he is today: odds that follow what was seen, fade with the days, and end with him."""

from __future__ import annotations

from datetime import date

import pytest
from answers_world import World

from camsign.answers.scope import scope_of
from camsign.answers.where import ELSEWHERE, Where, odds_in_words, where
from camsign.errors import UsageError

FIRST, LAST = date(2025, 10, 1), date(2025, 11, 9)


def _ask(day: date | None = None, ended: str | None = None, bucks: str = "Split Brow") -> Where:
    """He beds on the bench until October 20, on the knob from then to the last day."""
    world = World()
    world.buck("Split Brow", 5.5, ended=ended)
    world.buck("Mud Hen", 4.5)
    for name, east, first, days in (("Bench", 0, 1, 19), ("Knob", 1500, 21, 20)):
        world.area(name, (east, 0), 80)
        hung = world.camera(name, (east + 180.0, 0), FIRST, LAST)
        for clock, travel in (("07:10", 265.0), ("16:40", 100.0)):
            seen = [
                str(date.fromordinal(date(2025, 10, first).toordinal() + i)) for i in range(days)
            ]
            kept = [f"{d} {clock}" for i, d in enumerate(seen) if i % 3 or i == days - 1]
            world.seen("b-split-brow", hung, *kept, travel_deg=travel)
    session = world.session()
    return where(session, scope_of(session, bucks=[bucks]), day)


def test_he_is_where_he_was_last_seen() -> None:
    answer = _ask()
    assert (answer.day, answer.places[0].area) == (LAST, "Knob")
    assert (answer.places[0].chance.value or 0) > 0.9
    assert answer.said.startswith("Split Brow is most likely in Knob on 2025-11-09")
    assert answer.last_camera == "Knob"
    assert answer.said.endswith(" That rests on his picture of that day: Knob, 2025-11-09 16:40.")
    assert "rests on" not in _ask(date(2025, 11, 28)).said
    assert sum(p.chance.value or 0 for p in answer.places) == pytest.approx(1, abs=0.05)


def test_a_past_day_is_told_with_what_was_seen_around_it() -> None:
    answer = _ask(date(2025, 10, 13))
    assert answer.places[0].area == "Bench"
    assert (answer.places[0].chance.value or 0) > 0.8


def test_days_ahead_fade_to_where_he_likes_to_be() -> None:
    soon, late = (_ask(date(2025, 11, day)).places[0].chance for day in (10, 28))
    assert (soon.value or 0) > (late.value or 0)
    assert soon.low is not None and soon.high is not None and soon.low < soon.high
    assert any("goes by his last three weeks" in line for line in _ask(date(2025, 11, 28)).why)
    assert any("after the last one covered" in line for line in _ask(date(2025, 11, 28)).why)


def test_who_has_ended_is_gone_and_who_was_not_seen_cannot_be_told() -> None:
    assert _ask(ended="shot 2025-11-05").said == "Split Brow is gone: he ended 2025-11-05."
    nobody = _ask(bucks="Mud Hen")
    assert (nobody.places, nobody.said[:10]) == ((), "Can't tell")


def test_one_buck_is_asked_for() -> None:
    session = World().session()
    with pytest.raises(UsageError, match="one buck"):
        where(session, scope_of(session))


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.667, "about 2 in 3 (67%)"),
        (0.5, "about 1 in 2 (50%)"),
        (0.22, "about 1 in 5 (22%)"),
        (0.28, "about 3 in 10 (28%)"),
        (0.59, "about 6 in 10 (59%)"),
        (0.03, "about 1 in 35 (3%)"),
        (0.09, "about 1 in 11 (9%)"),
        (0.99, "nearly sure"),
        (0.999, "over 99%"),
    ],
)
def test_odds_as_people_say_them(chance: float, words: str) -> None:
    assert odds_in_words(chance) == words
    assert ELSEWHERE.startswith("none")
