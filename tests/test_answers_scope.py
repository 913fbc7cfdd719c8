"""The shared bounds of a question: seasons, names, reach."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from answers_world import World
from hypothesis import given
from hypothesis import strategies as st

from camsign.answers.scope import scope_of, season_days
from camsign.errors import UsageError
from camsign.logbook.moments import season_of
from camsign.logbook.session import Session
from camsign.report.gathered import seasons_of
from camsign.tags.bucks import BuckSaid, bucks, checked_details


@pytest.fixture(scope="module")
def session() -> Session:
    world = World()
    world.buck("Split Brow", 5.5)
    world.buck("Old Crook", 6.5)
    world.buck("Crooked Beam", merged_into="b-old-crook")
    world.area("Hemlock Bench", (0, 0), 80)
    hung = world.camera("CAM01", (100, 0), date(2024, 9, 1), date(2025, 11, 11))
    world.seen("b-split-brow", hung, "2024-10-05 06:30", "2025-10-05 06:30")
    return world.session()


@given(
    st.dates(date(1950, 1, 1), date(2150, 1, 1)),
    st.tuples(st.integers(1, 12), st.integers(1, 31)),
)
def test_every_day_lies_in_its_own_season(day: date, start: tuple[int, int]) -> None:
    season = season_of(day, start)
    first, last = season_days(season, start)
    if start[1] <= 28:
        assert first <= day <= last
    assert season_days(season + 1, start)[0] == last + timedelta(days=1)


def test_default_is_the_latest_season_with_detections(session: Session) -> None:
    scope = scope_of(session)
    assert (scope.season, scope.first, scope.last) == (2025, date(2025, 7, 1), date(2026, 6, 30))
    assert (scope.reach_m, scope.gap_s, scope.mature_age) == (200, 1800, 3.5)


def test_a_clock_that_ran_ahead_makes_no_season_and_nobody_older() -> None:
    world = World()
    world.buck("Split Brow", 2.5)
    hung = world.camera("CAM01", (100, 0), date(2025, 9, 1), date(2025, 11, 11))
    world.seen("b-split-brow", hung, "2025-10-05 06:30")
    world.seen("b-split-brow", hung, "2027-03-01 00:05", doubt="the date was still to come")
    ahead = world.session()
    assert scope_of(ahead).season == 2025
    (row,) = bucks(ahead)
    assert (row.age.value, row.mature, row.frames) == (2.5, False, 2)
    assert row.last_seen and row.last_seen.year == 2025
    said = {"age": 2.5, "age_basis": "body"}
    assert seasons_of(ahead, "b-split-brow") == [2025]
    assert checked_details(ahead, said, BuckSaid("Split Brow", "b-split-brow"))["age_year"] == 2025


def test_days_override_the_season(session: Session) -> None:
    scope = scope_of(session, first=date(2025, 11, 1), last=date(2025, 11, 10))
    assert (scope.season, scope.first, scope.last) == (None, date(2025, 11, 1), date(2025, 11, 10))
    assert scope_of(session, first=date(2025, 11, 1)).last > date(2100, 1, 1)


def test_names_ids_old_names_and_old_ids_mean_the_buck_he_is_now(session: Session) -> None:
    words = ["old crook", "b-old-crook", "CROOKED BEAM", "b-crooked-beam"]
    assert scope_of(session, bucks=words).buck_ids == ("b-old-crook",)
    assert scope_of(session, areas=["hemlock bench "]).area_ids == ("a-hemlock-bench",)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ({"bucks": ["Split Brew"]}, "did you mean 'Split Brow'"),
        ({"bucks": ["Zebulon"]}, "camsign buck list"),
        ({"areas": ["Hemlock"]}, "did you mean 'Hemlock Bench'"),
        ({"season": 2025, "first": date(2025, 1, 1)}, "give one"),
        ({"first": date(2025, 2, 1), "last": date(2025, 1, 1)}, "run backwards"),
        ({"reach_m": 5000}, "pair_limit_m"),
        ({"season": 25}, "is no year"),
    ],
)
def test_what_does_not_fit_is_said_in_one_line(
    session: Session, words: dict[str, object], says: str
) -> None:
    with pytest.raises(UsageError, match=says) as caught:
        scope_of(session, **words)  # type: ignore[arg-type]
    assert "\n" not in str(caught.value)


def test_an_empty_logbook_has_no_season() -> None:
    scope = scope_of(World().session())
    assert scope.season is None
    assert scope.first < date(1950, 1, 1)


def test_a_phase_and_the_last_days_are_ways_to_say_when() -> None:
    session = World().session()
    rut = scope_of(session, phase="Rut", season=2025)
    assert (rut.first, rut.last) == (date(2025, 11, 5), date(2025, 11, 24))
    assert rut.in_words() == "rut (2025-11-05 to 2025-11-24)"
    late = scope_of(session, phase="late", season=2025)
    assert (late.first, late.last) == (date(2025, 11, 25), date(2026, 1, 31))
    fortnight = scope_of(session, days_back=14, last=date(2025, 11, 14))
    assert (fortnight.first, fortnight.last) == (date(2025, 11, 1), date(2025, 11, 14))
    with pytest.raises(UsageError, match="no phase"):
        scope_of(session, phase="moon")
    with pytest.raises(UsageError, match="doesn't go with"):
        scope_of(session, phase="rut", first=date(2025, 11, 1))
    with pytest.raises(UsageError, match="--last counts back from a day"):
        scope_of(session, days_back=14, season=2025)
