"""Where he is today: odds that follow what was seen, fade with the days, and end with him."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from answers_world import HOME, World

from camsign.answers.result import Figure
from camsign.answers.scope import scope_of
from camsign.answers.where import (
    ALL_SEASON,
    ELSEWHERE,
    UNCOVERED,
    UNSORTED,
    Place,
    Where,
    _habit,
    _said,
    _why,
    odds_in_words,
    where,
)
from camsign.cli.where import _table
from camsign.errors import UsageError
from camsign.sits.evenings import Stand
from camsign.sits.habits import habits_of
from camsign.sits.plane import Plane
from camsign.sits.tonight import _going_by

FIRST, LAST = date(2025, 10, 1), date(2025, 11, 9)


def _ask(day: date | None = None, ended: str | None = None, bucks: str = "Split Brow") -> Where:
    session = _world(ended).session()
    return where(session, scope_of(session, bucks=[bucks]), day)


def _world(ended: str | None = None) -> World:
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
    return world


def test_he_is_where_he_was_last_seen() -> None:
    answer = _ask()
    assert (answer.day, answer.places[0].area) == (LAST, "Knob")
    assert (answer.places[0].chance.value or 0) > 0.9
    assert answer.said.startswith("On 2025-11-09 Split Brow most likely bedded at Knob: ")
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
    assert any("after the last one that cameras" in line for line in _ask(date(2025, 11, 28)).why)


def test_what_may_be_anything_is_no_answer_but_a_guess() -> None:
    """An interval of 92 points behind most likely told as known what nobody knows."""
    wide = Place("Knob", "a-knob", Figure(0.65, 0.03, 0.95))
    said = _said("Split Brow", date(2025, 12, 5), (wide,), None, past=True)
    assert said == (
        "Can't say where Split Brow bedded on 2025-12-05. Best guess: at Knob, about 2 in 3 (65%); "
        "could be anywhere from 3 to 95%."
    )
    others = (
        Place(ELSEWHERE, None, Figure(0.3, None, None)), Place("Bench", "b", Figure(0.04, 0, 1)),
    )  # fmt: skip
    near = replace(wide, chance=Figure(0.65, 0.4, 0.95))
    said = _said("Split Brow", date(2025, 12, 5), (near, *others), None, past=False)
    assert said == (
        "On 2025-12-05 Split Brow most likely beds at Knob: about 2 in 3 (65%). Else outside your "
        "areas, about 3 in 10 (30%)."
    )


def test_odds_alike_are_a_toss_up() -> None:
    """It said 47% was most likely, against 46%."""
    first = Place(ELSEWHERE, None, Figure(0.47, None, None))
    second = Place("Knob", "a-knob", Figure(0.46, None, None))
    third = Place("Bench", "a-bench", Figure(0.06, None, None))
    said = _said("Split Brow", date(2025, 12, 5), (first, second, third), None, past=True)
    assert said == (
        "Where Split Brow bedded on 2025-12-05 is a toss-up: outside your areas (47%) or at Knob "
        "(46%). Else at Bench, about 1 in 17 (6%)."
    )
    less = replace(second, chance=Figure(0.41, None, None))
    assert "most likely" in _said("Split Brow", date(2025, 12, 5), (first, less), None, past=True)


def test_where_nobody_looked_he_was_not_missed() -> None:
    """It said of an area without a camera that he was not seen there."""
    world = _world()
    world.area("Dark", (-1500, 0), 80)
    session = world.session()
    asked = scope_of(session, bucks=["Split Brow"])
    answer = where(session, asked, date(2025, 11, 28))
    told = {p.area: p.lately.method for p in answer.places if p.lately is not None}
    assert told == {"Knob": ALL_SEASON, "Bench": ALL_SEASON, "Dark": UNCOVERED}


def test_it_names_the_areas_that_cameras_covered_that_day_and_those_that_none_did() -> None:
    """Areas of little odds were passed over: that none covered them was not said."""
    world = _world()
    world.area("Dark", (-1500, 0), 80)
    session = world.session()
    answer = where(session, scope_of(session, bucks=["Split Brow"]), LAST)
    assert answer.why[:2] == (
        "cameras covered Knob and Bench that day: the odds there rest on what they caught and what "
        "they didn't",
        "no camera covered Dark that day: a guess from other days and places",
    )
    few = Place("Knob", "a-knob", Figure(0.2, None, None))
    told = {UNCOVERED: ["A", "B (2%)", "C"], UNSORTED: ["D (20%)"]}
    assert _why(LAST, LAST, (few,), told)[:2] == (
        "no camera covered A, B (2%) and C that day: a guess from other days and places",
        "pictures of that day at D (20%) aren't all sorted, so the day isn't counted",
    )


def test_unsorted_pictures_are_not_told_as_no_camera() -> None:
    world = _world()
    world.add("unsorted", deployment="d-Bench", night=LAST, day=LAST, bursts=3, likely_empty=0)
    session = world.session()
    answer = where(session, scope_of(session, bucks=["Split Brow"]), LAST)
    assert "pictures of that day at Bench aren't all sorted" in answer.why[1]


def test_the_last_picture_is_said_once() -> None:
    """It was in the first line and again below it."""
    ago = _ask(date(2025, 11, 28))
    assert ago.said.endswith(" Last picture 19 days before: Knob, 2025-11-09 16:40.")
    assert not any("Last picture" in str(block) for block in _table(ago))


def test_tonight_goes_by_the_same_odds() -> None:
    """Two answers to one question told 1 in 4 and 6 in 10 of one buck and evening."""
    session = _world().session()
    stands = [Stand(0.0, 0.0, 27.0), Stand(1500.0, 0.0, 27.0)]
    for day in (LAST, date(2025, 11, 13), date(2025, 11, 28)):
        answer = where(session, scope_of(session, bucks=["Split Brow"]), day)
        habits = habits_of(session, Plane(*HOME), day, False, None, stands)
        mine = {p.area_id: p for p in answer.places if p.area_id}
        assert {one.area_id for one in habits.odds} == {"a-bench", "a-knob"}
        for one in habits.odds:
            place = mine.get(one.area_id)
            assert one.chance.value == pytest.approx(place.chance.value if place else 0, abs=0.01)
            assert place is None or place.lately.value == pytest.approx(one.lately.value)
        assert (_going_by(habits) or "").startswith("where each buck beds is figured for this day")
    assert [one.whole for one in habits.odds if one.area_id == "a-knob"] == [True]
    assert any(
        "Tonight (camsign tonight) goes by the same odds" in w and "Knob about" in w
        for w in answer.why
    )
    past = where(session, scope_of(session, bucks=["Split Brow"]), date(2025, 10, 13))
    assert all(p.lately is None for p in past.places)  # Tonight knew less that day
    assert not any("Tonight" in w for w in past.why)


def test_it_says_whether_he_bedded_there_lately_or_over_the_season() -> None:
    """It called a share of his whole season one of late."""

    def place(area: str, share: float, method: str | None = None) -> Place:
        return Place(area, area, Figure(0.4, None, None), Figure(share, 0.1, 0.9, method=method))

    late, old = place("Knob", 0.25), place("Bench", 0.2, ALL_SEASON)
    assert _habit((late,)) == "lately (Knob about 1 day in 4)"
    assert _habit((old,)) == (
        "over his whole season, because he had no picture there in the last three weeks "
        "(Bench about 1 day in 5)"
    )
    assert _habit((late, old)) == (
        "lately (Knob about 1 day in 4; no picture there in the last three weeks, so over "
        "his whole season: "
        "Bench about 1 day in 5)"
    )
    assert _habit((place("Far", 0.01),)) == "lately"


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
