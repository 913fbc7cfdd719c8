"""Who was where, how long a place was left alone, and daylight days before and after."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
import shapely
from answers_world import World, at
from hypothesis import given, settings
from hypothesis import strategies as st
from test_sits_tonight import DAY, FIRST, LAST, _ask, _stand, _world

from camsign.answers.scope import scope_of
from camsign.sits.intrusions import Intrusion, intrusions_of, last_disturbed, near
from camsign.sits.plane import plane_of
from camsign.sits.pressure import AreaPressure, around, pressure

XY = st.tuples(st.integers(-300, 300), st.integers(-300, 300))


@settings(max_examples=60)
@given(path=st.lists(XY, min_size=2, max_size=6, unique=True), here=XY, within=st.integers(1, 300))
def test_near_a_path_is_as_shapely_says(
    path: list[tuple[int, int]], here: tuple[int, int], within: int
) -> None:
    away = shapely.LineString(path).distance(shapely.Point(here))
    one = Intrusion("walk", datetime(2025, 11, 7, tzinfo=UTC), DAY, np.array(path, float))
    if abs(away - within) > 1e-6:
        assert near(one, *here, within) == (away <= within)


def test_the_last_one_near_before_the_sit_counts_and_nothing_after_it_began() -> None:
    def one(what: str, day: int, hour: int, x: float) -> Intrusion:
        at = datetime(2025, 11, day, hour, tzinfo=UTC)
        return Intrusion(what, at, at.date(), np.array([[x, 0.0]]))

    found = (one("walk", 1, 17, 0), one("sit", 3, 21, 150), one("sit", 4, 21, 900),
             one("card pulled", 7, 17, 0), one("walk", 7, 22, 0))  # fmt: skip
    here, begin = [(0.0, 0.0, 0.0)], datetime(2025, 11, 7, 20, tzinfo=UTC)
    last = last_disturbed(found, here, begin)
    assert last is not None and (last.day, last.what) == (DAY, "card pulled")
    last = last_disturbed(found, here, begin - timedelta(hours=4))
    assert last is not None and (last.day.day, last.what) == (3, "sit")
    assert last_disturbed(found, [(5000.0, 0.0, 60.0)], begin) is None


def test_what_you_did_today_before_the_sit_is_told_and_the_sit_itself_is_not() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    shape = {"type": "LineString", "coordinates": [list(at(0, 0)[::-1]), list(at(300, 0)[::-1])]}
    noon = datetime(2025, 11, 7, 17)
    world.add("walks", walk="w-1", started=noon, ended=noon, shape=shape)
    sit = datetime(2025, 11, 7, 18), datetime(2025, 11, 7, 22)
    world.add("sits", sit="t-1", stand="p-east-pine", start=sit[0], stop=sit[1])
    (row,) = _ask(world.session(), "W").stands
    assert (row.disturbed_on, row.days_undisturbed) == (DAY, 0)
    assert "you walked near this stand that day" in row.why


def test_tonight_says_how_long_a_stand_was_left_alone() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    _stand(world, "North rock", (0, 900))
    start = datetime(2025, 11, 3, 20)
    sit = {"sit": "t-1", "stand": "p-east-pine", "start": start}
    world.add("sits", **sit, stop=start + timedelta(hours=2))
    rows = {row.stand: row for row in _ask(world.session(), "W").stands}
    assert (rows["East pine"].disturbed_on, rows["East pine"].days_undisturbed) == (
        date(2025, 11, 3), 4,
    )  # fmt: skip
    assert (
        "last time you logged anything near this stand: 2025-11-03 (a sit)" in rows["East pine"].why
    )
    assert rows["North rock"].days_undisturbed is None


def test_sign_that_was_logged_near_a_stand_tells_that_one_was_there() -> None:
    """It said that nobody had been there since a card was pulled a year before, though his own
    handheld put him within 30 yards of it in between."""
    world = _world()
    _stand(world, "East pine", (200, 12))
    for north in (0, 20, 40):
        world.sign("rub", (220, north), date(2025, 11, 5), (FIRST, date(2025, 11, 5)))
    world.sign("rub", (220, 0), DAY + timedelta(days=3), (FIRST, DAY))
    session = world.session()
    (row,) = _ask(session, "W").stands
    assert (row.disturbed_on, row.days_undisturbed) == (date(2025, 11, 5), 2)
    assert "last time you logged anything near this stand: 2025-11-05 (sign)" in row.why
    # Three rubs on one day are one trip in; on the other day the camera came down anyway.
    with_sign = pressure(session, scope_of(session)).areas[0].intrusions
    for table in ("signs", "sightings", "made_windows"):
        del world.rows[table]
    session = world.session()
    assert with_sign == pressure(session, scope_of(session)).areas[0].intrusions + 1


def test_a_camera_that_went_quiet_was_visited_when_it_came_down_not_at_its_last_picture() -> None:
    world = _world()
    hung = world.rows["deployments"][0]["deployment"]
    for card, day in (("c-1", 5), ("c-2", 20)):
        world.add("frames", frame=f"f-{card}", card=card)
        moment = datetime(2025, 10, day, 18)
        world.add("cards", card=card, camera="CAM01", taken_in_utc=datetime(2025, 11, 12))
        world.add("frame_times", frame=f"f-{card}", deployment=hung, utc=moment)
    session = world.session()

    def whats() -> list[str]:
        return [one.what for one in intrusions_of(session, plane_of(session))]

    assert whats() == ["camera hung", "card pulled", "camera taken down"]
    session.con.execute("UPDATE deployments SET taken_down = NULL")
    assert whats() == ["camera hung", "card pulled", "card pulled"]


def _dead(loaded: date, taken_down: date | None = None) -> World:
    """A camera by the bed died on Sep 17; its card was loaded later. He comes by another one."""
    world = _world()
    world.rows["deployments"][0]["hung"] = datetime(2025, 8, 1)
    _stand(world, "East pine", (200, 12))
    hung = world.camera("CAM02", (150, 0), date(2025, 9, 1), date(2025, 9, 17))
    row = world.rows["deployments"][-1]
    row["taken_down"] = taken_down and datetime(
        taken_down.year, taken_down.month, taken_down.day, 18
    )
    world.add("frames", frame="f-1", card="c-1")
    world.add(
        "cards", card="c-1", camera="CAM02", taken_in_utc=datetime(*loaded.timetuple()[:3], 22)
    )
    moment = datetime(2025, 9, 17, 18)
    world.add("frame_times", frame="f-1", deployment=hung, camera="CAM02", utc=moment)
    return world


CANT = (
    "can't tell since when this stand has been left alone: a card nearby was pulled some time from "
    "2025-09-17 to {}"
)


@pytest.mark.parametrize(("loaded", "until"), [(5, "2025-11-05"), (20, "2025-11-07")])
def test_a_dead_cameras_card_was_pulled_nobody_knows_when_until_it_was_loaded(
    loaded: int, until: str
) -> None:
    world = _dead(date(2025, 11, loaded))
    (row,) = _ask(world.session(), "W").stands
    assert (row.disturbed_on, row.days_undisturbed) == (None, None)
    assert CANT.format(until) in row.why
    session = world.session()
    asked = scope_of(session, first=FIRST, last=DAY)
    (area,) = pressure(session, asked).areas
    assert (area.last_day, area.days_since, area.intrusions) == (None, None, 0)
    assert "can't tell" in " ".join(pressure(session, asked).why)


def test_a_card_whose_last_picture_is_of_the_day_asked_for_is_told_with_that_day_alone() -> None:
    """It may have been pulled that day or after it: one day is no span, and still not known."""
    session = _dead(date(2025, 11, 5)).session()
    asked = scope_of(session, first=date(2025, 9, 1), last=date(2025, 9, 17))
    told = pressure(session, asked)
    assert told.areas[0].days_since is None
    said = " ".join(told.why)
    assert "a card there was pulled on 2025-09-17 or later, so that trip isn't counted" in said


def test_what_is_known_to_have_come_after_a_dead_cameras_card_counts() -> None:
    world = _dead(date(2025, 10, 2))
    world.rows["deployments"][0]["hung"] = datetime(2025, 10, 3, 15)
    (row,) = _ask(world.session(), "W").stands
    assert (row.disturbed_on, row.days_undisturbed) == (date(2025, 10, 3), 35)


def test_a_card_loaded_before_its_camera_came_down_was_a_trip_of_its_own() -> None:
    world = _dead(date(2025, 10, 2), taken_down=date(2025, 11, 20))
    (row,) = _ask(world.session(), "W").stands
    assert CANT.format("2025-10-02") in row.why
    world = _dead(date(2025, 11, 21), taken_down=date(2025, 11, 20))
    (row,) = _ask(world.session(), "W").stands
    assert row.disturbed_on == date(2025, 9, 1)  # hung; it came down later, its card with it


def test_a_card_loaded_right_after_its_last_picture_was_pulled_that_day() -> None:
    world = _dead(date(2025, 9, 18))
    (row,) = _ask(world.session(), "W").stands
    assert (row.disturbed_on, row.days_undisturbed) == (date(2025, 9, 17), 51)


def _pressed(
    walks: list[date], came: set[date], days: int = 60, unsorted: Sequence[date] = ()
) -> AreaPressure:
    first = date(2025, 9, 1)
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Bench", (0, 0), 60)
    hung = world.camera("CAM01", (100, 0), first, first + timedelta(days=days))
    world.rows["deployments"][0]["clock"] = "local"
    world.rows["deployments"][0]["hung"] = None
    for day in sorted(came):
        world.seen("b-split-brow", hung, f"{day} 12:00")
    for i, day in enumerate(walks):
        (lat, lon), (lat2, lon2) = at(100, 0), at(900, 0)
        line = {"type": "LineString", "coordinates": [[lon, lat], [lon2, lat2]]}
        started = datetime(day.year, day.month, day.day, 17)
        world.add("walks", walk=f"w-{i}", started=started, ended=started, shape=line)
    for day in unsorted:
        world.add("unsorted", deployment=hung, day=day, night=day, bursts=1, likely_empty=0)
    session = world.session()
    session.con.execute("UPDATE deployments SET taken_down = NULL")
    (row,) = pressure(session, scope_of(session, first=first, last=LAST)).areas
    return row


def test_a_place_that_empties_out_after_each_visit_is_told() -> None:
    first = date(2025, 9, 1)
    walks = [first + timedelta(days=n) for n in (10, 25, 40)]
    before, after = around(walks)
    row = _pressed(walks, before)
    assert (row.came_before, row.days_before) == (len(before), len(before))
    assert (row.came_after, row.days_after) == (0, len(after))
    assert row.verdict == "fewer after"
    assert (row.intrusions, row.last_what) == (3, "walk")


def test_days_whose_pictures_wait_to_be_sorted_are_no_absence() -> None:
    first = date(2025, 9, 1)
    walks = [first + timedelta(days=n) for n in (10, 25, 40)]
    before, after = around(walks)
    row = _pressed(walks, before, unsorted=sorted(after))
    assert (row.came_before, row.days_before, row.days_after) == (len(before), len(before), 0)
    assert row.verdict == "can't tell"


def test_days_since_are_counted_to_today_while_the_season_runs(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    walks = [date(2025, 9, 11), date(2025, 10, 1)]
    assert _pressed(walks, set()).days_since == (LAST - walks[-1]).days
    monkeypatch.setattr("camsign.sits.pressure.today", lambda tz: date(2025, 10, 4))
    assert _pressed(walks, set()).days_since == 3


def test_few_days_and_like_days_tell_nothing() -> None:
    first = date(2025, 9, 1)
    walks = [first + timedelta(days=n) for n in (10, 25, 40)]
    before, _ = around(walks)
    assert _pressed(walks, set(sorted(before)[:4])).verdict == "can't tell"
    every = {first + timedelta(days=n) for n in range(1, 55)}
    assert _pressed(walks, every).verdict == "can't tell"
    row = _pressed([], every)
    assert row.verdict == "can't tell"
    assert row.verdict_in_words == "Too few, or too much alike, to tell."


@given(gaps=st.lists(st.integers(1, 12), max_size=8))
def test_a_day_is_never_both_before_and_after_nor_of_a_visit(gaps: list[int]) -> None:
    days = [FIRST + timedelta(days=int(n)) for n in np.cumsum(gaps)]
    before, after = around(days)
    assert not before & after and not (before | after) & set(days)


@pytest.mark.thorough
def test_visits_that_change_nothing_are_hardly_ever_blamed() -> None:
    """Daylight days at random, visits at random: told in under 5% either way (95% interval)."""
    from camsign.sits.pressure import verdict_of
    from camsign.stats.estimate import rate_ratio

    chance = np.random.default_rng(5)
    told = 0
    for _ in range(600):
        k1, k2 = chance.binomial(25, 0.3, 2)
        ratio = rate_ratio(int(k1), 25, int(k2), 25)
        told += verdict_of(ratio.low, ratio.high, int(k1 + k2)) != "can't tell"
    assert told / 600 < 0.05
