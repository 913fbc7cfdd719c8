"""Which way out is named first."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from answers_world import World

from camsign.answers.bedding import Bedding, bedding
from camsign.answers.result import Figure
from camsign.answers.scope import scope_of
from camsign.answers.ways import Way, Ways, shares_of, ways_in_words

FIRST, LAST = date(2025, 10, 1), date(2025, 11, 9)


def _ask(world: World, bucks: list[str] | None = None) -> Bedding:
    session = world.session()
    return bedding(session, scope_of(session, bucks, areas=["Bench"]))


def _world() -> World:
    world = World()
    world.buck("Split Brow", 5.5)
    world.buck("Forky", 3.5)
    world.area("Bench", (0, 0), 80)
    return world


def _days(n: int, clock: str, first: date = date(2025, 10, 3)) -> list[str]:
    return [f"{first + timedelta(days=i)} {clock}" for i in range(n)]


def test_a_camera_that_hung_two_weeks_is_counted_by_its_days() -> None:
    world = _world()
    long = world.camera("LONG", (180, 0), FIRST, LAST)
    short = world.camera("SHORT", (-180, 0), FIRST, FIRST + timedelta(days=14))
    world.seen("b-split-brow", long, *_days(8, "17:30", date(2025, 10, 20)), travel_deg=90.0)
    world.seen("b-split-brow", short, *_days(7, "17:30"), travel_deg=270.0)
    short_way, long_way = _ask(world).ways.evening
    assert (short_way.camera, long_way.camera) == ("SHORT", "LONG")
    # 7 passes in 14 whole days and 8 in 39, each with one more in 20 days: by plain division.
    assert short_way.per_10_days == pytest.approx(10 * 8 / 34)
    assert long_way.per_10_days == pytest.approx(10 * 9 / 59)
    assert (short_way.n, long_way.n) == (7, 8)


def test_the_ways_out_and_in_have_their_shares_and_what_no_camera_sees() -> None:
    """Ten evenings east and four west, four mornings in from the east at half: 12 and 4 passes. On
    30 days of bed 0.7 x 1.5 x 30 = 31.5 walks would be pictured: 15.5 of them are missing."""
    ways = Ways(
        morning=(Way("EAST", Figure(270.0, 250.0, 290.0), 4, 1.0, "d-1"),),
        evening=(
            Way("EAST", Figure(92.0, 80.0, 104.0), 10, 2.0, "d-1"),
            Way("WEST", Figure(268.0, None, None), 4, 1.0, "d-2"),
        ),
    )
    (east, west), unseen = shares_of(ways, 30, out=True)
    assert (east.camera, east.bearing_deg.value, west.camera) == ("EAST", 92.0, "WEST")
    assert (east.share, west.share) == (pytest.approx(12 / 31.5), pytest.approx(4 / 31.5))
    assert unseen == pytest.approx(15.5 / 31.5)
    # Coming in: 4 and half of ten, half of four from the west, headed the other way.
    (east, west), unseen = shares_of(ways, 30, out=False)
    assert (east.bearing_deg.value, west.bearing_deg.value) == (270.0, 88.0)
    assert (east.share, west.share) == (pytest.approx(9 / 31.5), pytest.approx(2 / 31.5))
    # A way that was only gone at the other end is not seen at this one.
    assert (east.seen, west.seen) == (True, False)
    # At the least what nobody saw is worth one picture.
    assert shares_of(ways, 3, out=True)[1] == pytest.approx(1 / 17)
    assert shares_of(Ways((), ()), 0, out=True) == ((), 1.0)


@pytest.mark.parametrize(
    ("shares", "unseen", "words"),
    [
        (
            [("CAM02", 0.16), ("CAM01", 0.15), ("4 rubs", 0.007), ("3 rubs", 0.005)], 0.678,
            "about 70% of the time where you have no camera, 15% past CAM02, 15% past "
            "CAM01, rarely the way rubs point",
        ),
        (
            [("CAM02", 0.5), ("CAM01", 0.02), ("CAM04", 0.01)], 0.47,
            "about 50% of the time past CAM02, 45% where you have no camera, 5% past "
            "CAM01 and CAM04",
        ),
        ([("4 rubs", 0.5)], 0.5,
         "about 50% of the time the way rubs point, 50% where you have no camera"),
        # 1 in 14 and 19 in 20 made more than a whole.
        ([("4 rubs", 0.069)], 0.931,
         "about 95% of the time where you have no camera, 5% the way rubs point"),
        ([("CAM02", 0.01)], 0.99,
         "nearly always where you have no camera, rarely past CAM02"),
    ],
)  # fmt: skip
def test_ways_are_told_by_how_often_he_takes_them(
    shares: list[tuple[str, float]], unseen: float, words: str
) -> None:
    assert ways_in_words(shares, unseen) == words


def test_both_ends_of_the_day_say_how_much_a_way_is_used() -> None:
    world = _world()
    east, west = (world.camera(c, (e, 0), FIRST, LAST) for c, e in (("EAST", 180), ("WEST", -180)))
    world.seen("b-split-brow", east, *_days(3, "17:30"), travel_deg=90.0)
    world.seen("b-split-brow", east, *_days(6, "07:10", date(2025, 10, 12)), travel_deg=270.0)
    world.seen("b-split-brow", west, *_days(4, "17:30", date(2025, 10, 20)), travel_deg=270.0)
    assert [way.camera for way in _ask(world).ways.evening] == ["EAST", "WEST"]


@pytest.mark.thorough
def test_the_wrong_way_is_no_pass_and_no_name_is_anybodys_when_all_are_asked() -> None:
    world = _world()
    hung = world.camera("CAM", (180, 0), FIRST, LAST)
    world.seen("b-split-brow", hung, *_days(3, "17:30"), travel_deg=90.0)
    # Into the bed at dusk: on his way somewhere else.
    world.seen("b-split-brow", hung, *_days(2, "17:30", date(2025, 10, 12)), travel_deg=270.0)
    world.seen("b-forky", hung, *_days(2, "17:40", date(2025, 10, 16)))
    world.seen(None, hung, *_days(4, "17:50", date(2025, 10, 20)))
    everyone, his = (_ask(world, bucks).ways.evening[0] for bucks in (None, ["Split Brow"]))
    assert everyone.per_10_days == pytest.approx(10 * (3 + 2 + 4 + 1) / 59)
    assert his.per_10_days == pytest.approx(10 * (3 + 1) / 59)


def test_the_last_day_alone_counts_its_own_pass_and_days_before_it_leave_that_out() -> None:
    world = _world()
    hung = world.camera("CAM", (180, 0), FIRST, LAST)
    world.seen("b-split-brow", hung, *_days(3, "17:30"), travel_deg=90.0)
    world.seen("b-split-brow", hung, f"{LAST} 17:30", travel_deg=90.0)
    session = world.session()
    spans = ((LAST, LAST, 1 + 1, 1 + 20), (FIRST, LAST - timedelta(days=1), 3 + 1, 38 + 20))
    for first, last, passes, days in spans:
        asked = scope_of(session, areas=["Bench"], first=first, last=last)
        (way,) = bedding(session, asked).ways.evening
        assert way.per_10_days == pytest.approx(10 * passes / days)
