"""What ten evenings at an area are worth, and which area that puts first."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from answers_world import World

from camsign.answers.beds_known import known_of
from camsign.answers.compare import WINDLESS, _evening_why, compare
from camsign.answers.compared import Compare
from camsign.answers.evenings import Evenings, by_sign, evenings_of, more_often, seasons_of
from camsign.answers.result import Figure
from camsign.answers.scope import scope_of

FIRST, LAST = date(2025, 9, 1), date(2025, 11, 9)
AUTUMN = (date(2025, 9, 1), date(2025, 11, 8))


def _days(clock: str, start: int, step: int, n: int) -> list[str]:
    return [f"{FIRST + timedelta(days=start + step * i)} {clock}" for i in range(n)]


def _ask(world: World) -> Compare:
    session = world.session()
    return compare(session, scope_of(session))


def _bed_and_trail(rubs: int = 0, seen: int = 20) -> World:
    """A bed seen at one end of two days in three; a trail pictured oftener, mostly about noon."""
    world = World()
    world.buck("Split Brow", 5.5)
    for name, east in (("Bed", 0), ("Trail", 2500)):
        world.area(name, (east, 0), 80)
        world.camera(f"CAM {name}", (east + 150, 0), FIRST, LAST)
    in_bed, by_trail = "d-CAM Bed", "d-CAM Trail"
    world.seen("b-split-brow", in_bed, *_days("07:10", 2, 3, seen), travel_deg=270.0)
    world.seen("b-split-brow", in_bed, *_days("17:00", 3, 3, seen), travel_deg=90.0)
    world.seen("b-split-brow", by_trail, *_days("17:10", 4, 4, 8), travel_deg=0.0)
    world.seen("b-split-brow", by_trail, *_days("12:00", 1, 2, 34))
    for i in range(rubs):
        world.sign("rub", (60.0 + i, 40.0), date(2025, 11, 8), AUTUMN, 90.0)
    return world


def test_a_bed_outranks_the_trail_that_is_pictured_more_often() -> None:
    answer = _ask(_bed_and_trail())
    bed, trail = answer.rows
    assert (bed.area, trail.area) == ("Bed", "Trail")
    seen = [row.shooting_light_visits_per_10_days.value or 0.0 for row in (bed, trail)]
    walks = [row.evening_walks_per_10_days for row in (bed, trail)]
    assert seen[0] < seen[1]
    assert walks[0].value > walks[1].value + 0.5  # type: ignore[operator]
    # Ten evenings of one buck: never more than there are.
    for one in walks:
        assert 0.0 <= one.low < one.value < one.high <= 11.0  # type: ignore[operator]
    assert answer.said.startswith("Bed ") and answer.said.endswith(
        f"After {LAST}, the last night covered, expect a mature buck out in shooting light at Bed "
        f"on {bed.evenings} ({bed.spread}), by any trail, pictured or not. One stand covers only "
        "some of the trails, so you'd see fewer."
    )
    assert WINDLESS in answer.why


@pytest.mark.thorough
def test_two_bucks_of_one_evening_are_one_evening_with_a_buck() -> None:
    """Its chance is 1 less that of none; the courses, played through, come out at the same."""
    world = _bed_and_trail()
    for name in ("Mud Hen", "Old Crook"):
        buck = world.buck(name, 5.5)
        world.seen(buck, "d-CAM Bed", *_days("07:10", 2, 3, 20), travel_deg=270.0)
        world.seen(buck, "d-CAM Bed", *_days("17:00", 3, 3, 20), travel_deg=90.0)
    session = world.session()
    scope = scope_of(session)
    bed = next(row for row in compare(session, scope).rows if row.area == "Bed")
    known = known_of(session, scope)
    days = np.arange(np.datetime64(FIRST), np.datetime64(LAST))
    found = evenings_of(seasons_of(known, sorted(known.buck_ids)), "a-bed", days, 0, 1.0)
    assert found is not None and found.came_any.max() <= 10
    assert found.any_one.mean() == pytest.approx(found.came_any.mean(), abs=0.3)
    assert found.draws.mean() == pytest.approx(found.came.mean(), abs=0.4)
    assert found.draws.mean() > found.any_one.mean() + 1
    walks, evenings = bed.evening_walks_per_10_days, bed.evenings_with_one_per_10
    assert walks.value > evenings.value + 1 and evenings.high <= 10  # type: ignore[operator]
    assert bed.evenings.endswith(", some evenings more than one")


def test_areas_too_close_to_call_are_named_before_the_number() -> None:
    one = _ask(_bed_and_trail())
    rows = [
        replace(row, area=name, tied_with=(other,), visits=3,
                evening_walks_per_10_days=Figure(6.0, 0, 16),
                evenings_with_one_per_10=Figure(6.0, 0, 10))
        for row, name, other in zip(one.rows, "AB", "BA", strict=True)
    ]  # fmt: skip
    assert replace(one, rows=tuple(rows)).said.startswith(
        f"A or B: too close to call. After {LAST}, the last night covered, expect a mature buck "
        "out in shooting light at either on about 6 of the next 10 evenings (anywhere from none to "
        "all 10), by any trail, pictured or not. One stand"
    )


def test_what_is_told_of_a_bed_says_what_it_is_made_of() -> None:
    row = _ask(_bed_and_trail()).rows[0]
    total = f"pictured or not: {row.evening_walks_per_10_days.value:.1f} in 10 evenings"
    assert any(
        "coming out of here in shooting light (two on one" in why and total in why
        for why in row.why
    )


def test_rubs_move_what_pictures_leave_open_and_it_is_said() -> None:
    bare, rubbed = (
        next(r for r in _ask(_bed_and_trail(rubs, 9)).rows if r.area == "Bed") for rubs in (0, 40)
    )
    assert rubbed.evening_walks_per_10_days.value > bare.evening_walks_per_10_days.value + 0.2  # type: ignore[operator]
    assert any(
        why.startswith("40 fresh rubs here, so we expect more from those that bed here: ")
        for why in rubbed.why
    )


def _evenings(bed: float, use: np.ndarray, rubs: int, seed: int) -> Evenings:
    rng = np.random.default_rng(seed)
    n = len(use)
    draws = bed * use / use.mean()
    came = rng.poisson(draws + 0.5)
    return Evenings(draws, np.full(n, 0.5), draws, came, came, use, rubs, float(bed))


def test_sign_takes_draws_by_their_weight_and_keeps_them_together() -> None:
    use = np.linspace(0.0, 40.0, 400)
    many, few = by_sign([_evenings(5.0, use, 30, 1), _evenings(5.0, use, 2, 2)])
    assert many.bed.mean() > 5.5 > 4.5 > few.bed.mean()
    assert len(many.bed) == len(many.came) == 400
    assert many.bed == pytest.approx(5.0 * many.use / use.mean())
    # What each draw came to goes with it.
    assert np.corrcoef(many.came, many.bed)[0, 1] > 0.5
    assert more_often(many, few) > 0.8
    alone = _evenings(5.0, use, 30, 1)
    assert by_sign([alone]) == [alone]


def test_the_interval_holds_how_it_turns_out_not_only_its_mean() -> None:
    """Where it is known that he beds there every day, chance of the hours stays."""
    came = np.random.default_rng(3).binomial(10, 0.5, 2000)
    five = np.full(2000, 5.0)
    sure = Evenings(five, np.zeros(2000), five, came, came, np.ones(2000), 0, 5.0)
    said = sure.estimate()
    # Binomial(10, 0.5): 2.5% and 97.5% points are 2 and 8 (tables).
    assert (said.value, said.low, said.high) == (5.0, 2.0, 8.0)


def test_the_reasons_add_up_to_what_areas_are_ranked_by() -> None:
    """They gave 5.7 for those that bed there beside a table that counts all: 5.79."""
    given = {name: np.zeros(0) for name in ("any_one", "came", "came_any", "use")}
    both = Evenings(np.array([5.7]), np.array([0.09]), **given, rubs=12, told=5.4)
    assert _evening_why(both) == [
        "mature bucks coming out of here in shooting light (two on one evening count as 2), "
        "pictured or not: 5.8 in 10 evenings "
        "(0.1 of them walking through)",
        "12 fresh rubs here, so we expect more from those that bed here: 5.7 in 10 evenings "
        "instead of 5.4",
    ]
    alone = replace(both, through=np.zeros(1), rubs=0, told=6.0)
    assert _evening_why(alone) == [
        "mature bucks coming out of here in shooting light (two on one evening count as 2), "
        "pictured or not: 5.7 in 10 evenings",
        "no fresh rubs here, so we expect less from those that bed here: 5.7 in 10 evenings "
        "instead of 6.0",
    ]
