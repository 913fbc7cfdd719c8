"""Who competes: minimum first, then the estimate, then what cannot be known."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from answers_world import World
from simulator import Plan, season

from camsign.answers.compare import compare
from camsign.answers.rivals import Rivals, rivals
from camsign.answers.scope import scope_of
from camsign.errors import UsageError

FIRST, LAST = date(2025, 9, 1), date(2025, 11, 29)


def _world() -> tuple[World, str]:
    world = World()
    world.buck("Split Brow", 5.5)
    world.buck("Old Crook", 4.5, year=2024)
    world.buck("Forky", 1.5)
    world.buck("Nobody Aged")
    world.area("Hemlock Bench", (0, 0), 80)
    return world, world.camera("CAM01", (180, 0), FIRST, LAST)


def _days(n: int, clock: str, start: int = 1, step: int = 3) -> list[str]:
    return [f"{date(2025, 9, 1) + timedelta(days=start + step * i)} {clock}" for i in range(n)]


def _ask(world: World, **words: object) -> Rivals:
    session = world.session()
    return rivals(session, scope_of(session, areas=["Hemlock Bench"], **words))  # type: ignore[arg-type]


@pytest.mark.thorough
def test_minimum_counts_mature_bucks_by_their_age_in_this_season() -> None:
    world, hung = _world()
    for buck in ("b-split-brow", "b-old-crook", "b-forky", "b-nobody-aged"):
        world.seen(buck, hung, *_days(4, "17:30"))
    answer = _ask(world)
    assert (answer.minimum, {r.buck for r in answer.known}) == (2, {"Split Brow", "Old Crook"})
    assert any("Nobody Aged" in reason for reason in answer.why)
    # A year on Old Crook is 5.5: he was 4.5 in 2024.
    assert {r.buck for r in _ask(world, mature_age=5.5).known} == {"Split Brow", "Old Crook"}
    assert _ask(world, mature_age=6).minimum == 0


@pytest.mark.thorough
def test_estimate_lies_between_those_in_bed_and_those_known() -> None:
    world, hung = _world()
    far = world.camera("CAM09", (4000, 0), FIRST, LAST)
    world.seen("b-split-brow", hung, *_days(12, "07:00"), travel_deg=270.0)
    world.seen("b-split-brow", hung, *_days(12, "17:30"), travel_deg=90.0)
    world.seen("b-old-crook", far, *_days(12, "07:00"))
    answer = _ask(world)
    assert (answer.minimum, answer.estimate.value, answer.estimate.n) == (1, 1, 2)
    assert answer.estimate.low == 1
    assert answer.estimate.high in (1, 2)
    assert answer.coverage == 1


@pytest.mark.thorough
def test_seen_once_each_gives_low_coverage_and_an_open_end() -> None:
    world, hung = _world()
    world.seen("b-split-brow", hung, "2025-09-05 17:30")
    world.seen("b-old-crook", hung, "2025-09-09 17:30")
    answer = _ask(world)
    assert answer.coverage == 0
    assert answer.with_unseen.method == "Chao2, weak"
    # Chao 1987 with f1 = 2, f2 = 0, t = 90: 2 + 89/90 * 2 * 1 / 2.
    assert answer.with_unseen.value == pytest.approx(2 + 89 / 90)


@pytest.mark.thorough
def test_unidentified_share() -> None:
    world, hung = _world()
    world.seen("b-split-brow", hung, *_days(6, "17:30"))
    world.seen(None, hung, *_days(2, "20:30"))
    assert (_ask(world).unidentified.value, _ask(world).unidentified.n) == (0.25, 8)


def test_unidentified_share_is_of_passes_before_single_cameras() -> None:
    """Five walks past two cameras, one picture in ten without a name: a tenth, not a sixth."""
    world, first = _world()
    second = world.camera("CAM02", (-180, 0), FIRST, LAST)
    world.seen("b-split-brow", first, *_days(5, "17:30"))
    world.seen("b-split-brow", second, *_days(4, "17:35"))
    world.seen(None, second, *_days(1, "17:35", start=13))
    found = _ask(world).unidentified
    assert (found.value, found.n) == (0.1, 10)
    # Ten minutes from a named picture it is another pass: at a corridor another buck's, mostly.
    world.seen("b-split-brow", second, *_days(1, "17:45", start=13))
    found = _ask(world).unidentified
    assert (found.value, found.n) == (pytest.approx(1 / 11), 11)
    # Within the same pass it is a part of it.
    world.seen("b-split-brow", second, *_days(1, "17:37", start=13))
    found = _ask(world).unidentified
    assert (found.value, found.n) == (0.0, 11)


@pytest.mark.thorough
def test_an_unnamed_picture_beside_a_named_one_is_no_other_visit() -> None:
    world, first = _world()
    second = world.camera("CAM02", (-180, 0), FIRST, LAST)
    world.seen("b-split-brow", first, *_days(5, "17:30"))
    world.seen(None, second, *_days(5, "17:40"))
    session = world.session()
    beside = compare(session, scope_of(session)).rows[0]
    assert beside.identified.value == 1.0
    world.seen(None, second, *_days(1, "17:30", start=40))
    session = world.session()
    assert compare(session, scope_of(session)).rows[0].identified.value == pytest.approx(5 / 6)


@pytest.mark.thorough
def test_who_gives_way_is_said_only_when_the_order_is_clear() -> None:
    world, hung = _world()
    rng = np.random.default_rng(7)
    first = np.flatnonzero(rng.random(88) < 0.3)
    barred = np.concatenate([first, first + 1, first + 2])
    second = np.setdiff1d(np.arange(88), barred)
    for buck, days, clock in (("split-brow", first, "18:00"), ("old-crook", second, "18:30")):
        world.seen(f"b-{buck}", hung, *[f"{FIRST + timedelta(days=int(d))} {clock}" for d in days])
    (pair,) = _ask(world).pairs
    assert pair.verdict == "Old Crook gives way to Split Brow"
    # Each at his own hour, on days that have nothing to do with each other: nothing is said.
    world, hung = _world()
    world.seen("b-split-brow", hung, *_days(20, "17:00", step=4))
    world.seen("b-old-crook", hung, *_days(25, "20:00"))
    assert [p.verdict for p in _ask(world).pairs] == ["cannot tell"]


@pytest.mark.thorough
def test_nights_together_against_chance() -> None:
    world, hung = _world()
    world.seen("b-split-brow", hung, *_days(20, "20:00", step=4))
    world.seen("b-old-crook", hung, *_days(20, "21:00", step=4))
    (pair,) = _ask(world).pairs
    assert pair.nights_together == 20
    assert pair.by_chance.value == pytest.approx(20 * 20 / 90)
    assert pair.p_together < 1e-6


@pytest.mark.thorough
def test_keys_and_bounds() -> None:
    world, hung = _world()
    world.seen("b-split-brow", hung, *_days(6, "17:30"))
    given = _ask(world).to_json()
    assert {"area", "known", "minimum", "estimate", "coverage", "pairs", "why"} <= set(given)
    assert {"value", "low", "high", "method"} <= set(given["estimate"])
    assert list(_ask(world).to_frame()["buck"]) == ["Split Brow"]
    session = World().session()
    with pytest.raises(UsageError, match="one area"):
        rivals(session, scope_of(session))


@pytest.mark.thorough
def test_the_estimate_holds_the_truth_in_a_few_seasons() -> None:
    held = asked = 0
    for seed in range(3):
        one = season(Plan(), 50 + seed, truth_days=0)
        for area in one.areas:
            found = rivals(one.session, scope_of(one.session, areas=[area]), pairs=False).estimate
            asked += 1
            held += found.low <= one.users(area) <= found.high  # type: ignore[operator]
    assert held >= asked - 2


def test_where_nobody_watched_there_is_no_number() -> None:
    world, hung = _world()
    world.seen("b-split-brow", hung, *_days(6, "17:30"))
    answer = _ask(world, season=2024)
    for nothing in (answer.estimate, answer.with_unseen):
        assert (nothing.value, nothing.low, nothing.high) == (None, None, None)
    session = world.session()
    (row,) = compare(session, scope_of(session, season=2024)).rows
    assert (row.rivals.value, row.rivals.high) == (None, None)


@pytest.mark.thorough
def test_with_none_seen_just_once_the_number_is_a_floor_without_a_top() -> None:
    world, hung = _world()
    world.seen("b-split-brow", hung, *_days(6, "17:30"))
    unseen = _ask(world).with_unseen
    assert (unseen.value, unseen.low, unseen.high) == (None, 1, None)
