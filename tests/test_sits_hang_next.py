"""Where to hang the next camera, on properties where the answer is plain."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from answers_world import World
from test_sits_tonight import DAY, FIRST, LAST, _stand, _world

from camsign.errors import UsageError
from camsign.sits.evenings import Way
from camsign.sits.habits import KnownWay
from camsign.sits.hang_next import (
    BED,
    RANKED,
    WAYS,
    Hang,
    HangNext,
    _learned,
    _said,
    _ways,
    hang_next,
)


def _two_beds(second_watched: bool) -> World:
    """The bench of test_sits_tonight, and a second bed far off with a stand east of it."""
    world = _world(5)
    world.area("Far Knob", (1500, 0), 60)
    for x in (1575, 1585, 1595, 1605):
        world.sign("rub", (x, 0), FIRST, (FIRST, FIRST), 90.0)
    _stand(world, "East pine", (200, 12))
    _stand(world, "Knob oak", (1700, 0))
    if second_watched:
        world.camera("CAM02", (1620, 0), FIRST, LAST)
    return world


def _asked(world: World, days: int = 10) -> HangNext:
    return hang_next(world.session(), DAY, days=days)


def test_ground_without_a_camera_teaches_more_than_ground_that_was_empty() -> None:
    """Watched and empty is known; never watched is not."""
    dark = _asked(_two_beds(False))
    lit = _asked(_two_beds(True))
    (blind,) = [p for p in dark.places if p.area == "Far Knob" and p.tells == BED]
    assert (
        blind.would_tell == BED and blind.advice == "Hang one by Far Knob, to learn who beds there"
    )
    empty = [p for p in lit.places if p.area == "Far Knob" and p.tells == BED]
    assert blind.gain > 3 * sum(p.gain for p in empty)
    assert "no camera has watched it: nobody knows who beds there" in blind.why
    assert dark.places[0].area == "Far Knob"
    assert dark.said.startswith("Hang one by Far Knob")
    assert any("bump deer off Far Knob" in line for line in dark.why)
    assert [p.rank for p in dark.places] == list(range(1, len(dark.places) + 1))


@pytest.mark.thorough
def test_the_longer_it_hangs_the_more_it_teaches() -> None:
    gains = [_asked(_two_beds(False), days).places[0].gain for days in (1, 10, 60)]
    assert gains == sorted(gains) and gains[0] < gains[2]


def test_one_stand_has_no_ranking_to_change() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    answer = _asked(world)
    assert all(p.gain == 0 and p.changes == 0 for p in answer.places)
    assert answer.said == (
        "Can't tell yet: you have only one stand, so there's nothing to rank. Add another."
    )
    assert not any("one stand" in line for line in answer.why)
    assert not any("bump deer" in line for line in answer.why)  # nothing is to be hung


def test_who_beds_there_is_seen_best_where_a_camera_hung() -> None:
    """One that hangs on the day is left where it is, later one is put back where it was; that he
    bedded there is known by then."""
    world = _world()
    _stand(world, "East pine", (200, 12))
    (bed,) = [p for p in _asked(world).places if p.tells == BED]
    assert "leave CAM01 where it is, on the trail used most" in bed.why and bed.stays
    still = "to see if Split Brow still beds there"
    assert bed.advice == f"Leave CAM01 where it is by Hemlock Bench, {still}"
    assert (bed.cameras, bed.would_tell) == (("CAM01",), "who still beds there")
    later = hang_next(world.session(), LAST + timedelta(days=2)).places
    (bed,) = [p for p in later if p.tells == BED]
    assert "hang it where CAM01 hung, on the trail used most" in bed.why and not bed.stays
    assert (bed.cameras, bed.advice) == (
        (),
        f"Put one back where CAM01 was, by Hemlock Bench, {still}",
    )


def test_a_camera_that_came_down_that_day_no_longer_hangs_there() -> None:
    """It was to be left where it is on the day it came down."""
    world = _world()
    _stand(world, "East pine", (200, 12))
    (hung,) = world.rows["deployments"]
    hung["taken_down"] += timedelta(hours=5)  # in the afternoon
    day = LAST + timedelta(days=1)
    (bed,) = [p for p in hang_next(world.session(), day).places if p.tells == BED]
    assert (bed.cameras, bed.down, bed.stays) == ((), ("CAM01",), False)
    assert bed.advice.startswith(
        f"Hang CAM01 again by Hemlock Bench, where it came down on {day}, to"
    )
    assert f"CAM01 came down there on {day}" in bed.why
    # One hung in the afternoon hangs there that evening.
    hung["hung"] += timedelta(days=(LAST - FIRST).days, hours=5)
    (bed,) = [p for p in hang_next(world.session(), LAST).places if p.tells == BED]
    assert bed.cameras == ("CAM01",)


def test_the_order_is_that_of_the_worth_it_says() -> None:
    """The odds beside the ranks ran otherwise than the ranks."""
    answer = _asked(_two_beds(False))
    assert [p.worth for p in answer.places] == sorted(
        (p.worth for p in answer.places),
        key=lambda said: int(said.rpartition(" ")[2].replace(",", "")) if said[0] == "1" else 9e9,
    )
    assert RANKED in answer.why
    assert answer.places[0].worth == f"about once more in {answer.places[0].sits:,} sits"


def test_what_to_leave_up_and_where_one_to_spare_goes() -> None:
    def place(area: str, gain: float, stays: bool) -> Hang:
        advice = (
            f"Leave {area} where it is by it, to see" if stays else f"Hang one by {area}, to learn"
        )
        return Hang(1, area, area, BED, 0, 0, gain, 0.3, (), (), advice, stays)

    a, b, c = place("A", 0.01, True), place("B", 0.005, True), place("C", 0.002, False)
    assert _said((a, b, c), 10).endswith(
        "Leave B where it is by it, too. With one to spare: hang one by C, to learn."
    )
    assert _said((a,), 10).endswith("stand is best. Another camera would change little.")
    assert _said((place("D", 0.02, False), a), 10).endswith("Leave A where it is by it, too.")


def test_ways_are_looked_for_where_no_camera_hangs() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    (ways,) = [p for p in _asked(world).places if p.tells == WAYS]
    # The camera hangs east of the bed, so the other side is asked for.
    assert "hang it on the west side" in ways.why and ways.cameras == ("CAM01",)
    assert ways.would_tell == WAYS
    assert ways.lon < -71.2


@pytest.mark.thorough
def test_without_a_known_way_no_side_is_better() -> None:
    places = _asked(_two_beds(False)).places
    (blind,) = [p for p in places if p.area == "Far Knob" and p.tells == BED]
    assert "hang it where 4 rubs lead out" in blind.why
    world = _two_beds(False)
    del world.rows["signs"], world.rows["sightings"], world.rows["made_windows"]
    found = [p.why for p in _asked(world).places if p.area == "Far Knob"]
    assert len(found) == 2 and all(
        "hang it on any side: no way out is known" in why for why in found
    )


def test_a_year_after_the_last_picture_it_names_their_day() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    answer = hang_next(world.session(), DAY.replace(year=2026))
    assert answer.said == (
        "Can't tell yet where to hang a camera: no cards from this season are loaded."
    )
    assert any("such as 2025-11-05" in line for line in answer.why)
    assert not any("set their ages" in line for line in answer.why)


def test_what_is_learned_is_the_beta_law() -> None:
    """With every bedded day pictured this is the textbook posterior of a share: Beta(a+k, b+n-k)
    (A. Gelman and others, Bayesian data analysis, 3rd ed. (2013), section 2.4)."""
    from camsign.sits import hang_next as room

    rng = np.random.default_rng(2)
    draws = rng.beta(2, 6, 200_000)
    draws[0] = 0.5
    before = room.PICTURED
    room.PICTURED = 1.0
    try:
        seen = np.random.default_rng(5).binomial(12, 0.5)
        found = _learned(np.random.default_rng(5), draws, 0, 12)
    finally:
        room.PICTURED = before
    assert found == pytest.approx((2 + seen) / (8 + 12), abs=0.005)


@pytest.mark.parametrize(("days", "told"), [(0, "not between"), (500, "not between")])
def test_days_that_cannot_be(days: int, told: str) -> None:
    with pytest.raises(UsageError, match=told):
        _asked(_two_beds(False), days)


def test_nobody_known_is_no_ranking() -> None:
    world = _world()
    world.rows["bucks"][0]["age"] = 1.5
    _stand(world, "East pine", (200, 12))
    answer = _asked(world)
    assert answer.places == () and answer.said == (
        "Can't tell yet where to hang a camera: no mature buck is known to bed near a stand."
    )
    assert any("set their ages" in line for line in answer.why)


def test_ways_out_are_named_as_people_say_them() -> None:
    """Cameras and counts of rubs stood in a row, as if the rubs were four and three."""
    at = Way(0.0, 0.0, None)
    cameras = (KnownWay(at, 5, "CAM02"), KnownWay(at, 3, "CAM01"))
    assert _ways([*cameras, KnownWay(at, 1, rubs=4), KnownWay(at, 1, rubs=3)]) == (
        "past CAM02, past CAM01, 2 ways that rubs point (4 and 3 rubs)"
    )
    assert _ways([KnownWay(at, 1, rubs=4)]) == "the way rubs point (4 rubs)"
    assert _ways(cameras[:1]) == "past CAM02"
