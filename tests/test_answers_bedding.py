"""Is it a bed: what is said of small worlds made for it, and seasons with known truth."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np
import pytest
from accuracy_beds import measure
from answers_world import World, at
from wild_seasons import Wild

from camsign.answers.bedded import oldest_first
from camsign.answers.bedding import Bedding, bedding
from camsign.answers.beds_known import Known, known_of
from camsign.answers.beds_seen import BedDay, Picture
from camsign.answers.scope import scope_of
from camsign.answers.verdict import (
    DaysSeen,
    days_against_words,
    days_to_settle,
    verdict_of,
    why_of,
)
from camsign.errors import UsageError
from camsign.stats.estimate import spread_of

FIRST, LAST = date(2025, 10, 1), date(2025, 11, 9)


def _world() -> tuple[World, str]:
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Hemlock Bench", (0, 0), 80)
    return world, world.camera("CAM01", (180, 0), FIRST, LAST)


def _days(n: int, clock: str, start: int = 3, step: int = 3) -> list[str]:
    first = date(2025, 10, start)
    return [f"{first + timedelta(days=step * i)} {clock}" for i in range(n)]


def _ask(world: World, **words: object) -> Bedding:
    session = world.session()
    return bedding(session, scope_of(session, areas=["Hemlock Bench"]), **words)  # type: ignore[arg-type]


# The camera stands east of the area: west (270) leads in, east (90) leads out. Sunrise goes from
# 06:41 to 06:29 (clocks go back on 2 November), sunset from 18:24 to 16:24 (almanac, from memory).
def test_in_and_out_by_light_with_direction_on_three_days_is_confirmed() -> None:
    world, hung = _world()
    world.seen("b-split-brow", hung, *_days(4, "07:10"), travel_deg=265.0)
    world.seen("b-split-brow", hung, *_days(4, "17:30"), travel_deg=100.0)
    answer = _ask(world)
    (buck,) = answer.bucks
    assert (answer.verdict, buck.verdict) == ("confirmed", "confirmed")
    assert (buck.mornings, buck.evenings, buck.both, buck.directed_days) == (4, 4, 4, 4)
    assert buck.days_bedded.low is not None and buck.days_bedded.low >= 3
    (way_in,), (way_out,) = answer.ways.morning, answer.ways.evening
    assert way_in.bearing_deg.value == pytest.approx(265)
    assert (way_out.bearing_deg.value, way_out.n) == (pytest.approx(100), 4)


def test_of_several_seasons_it_says_who_was_not_seen_in_the_last() -> None:
    world, hung = _world()
    world.buck("Old Crook", 5.5)
    for buck in ("b-split-brow", "b-old-crook"):
        world.seen(buck, hung, *_days(9, "07:10"), travel_deg=265.0)
        world.seen(buck, hung, *_days(9, "17:30"), travel_deg=100.0)
    again = world.camera("CAM01", (180, 0), date(2026, 9, 1), date(2026, 9, 20), deployment="d-26")
    world.seen("b-old-crook", again, "2026-09-05 06:20", travel_deg=265.0)
    session = world.session()
    words = {"areas": ["Hemlock Bench"]}
    both = bedding(session, scope_of(session, **words, first=FIRST)).said
    assert both.endswith(
        "But Split Brow: not seen here in the 19 days covered of season 2026, the last of these."
    )
    assert "But" not in bedding(session, scope_of(session, **words, season=2025)).said


def test_of_who_has_moved_on_it_says_so() -> None:
    """It said "beds here" of one who was not pictured there in the last four weeks."""
    world, hung = _world()
    world.seen("b-split-brow", hung, *_days(9, "07:10", step=1), travel_deg=265.0)
    world.seen("b-split-brow", hung, *_days(9, "17:30", step=1), travel_deg=100.0)
    answer = _ask(world)
    assert answer.verdict == "confirmed"
    assert answer.said.endswith(
        "But Split Brow: not seen here at dawn, dusk or by day in the last 14 days covered; by "
        "Nov 9, 2025 most likely elsewhere."
    )
    session = world.session()
    then = replace(scope_of(session, areas=["Hemlock Bench"]), last=date(2025, 10, 13))
    assert "But" not in bedding(session, then).said


def test_without_a_told_way_it_stops_at_probably() -> None:
    world, hung = _world()
    world.seen("b-split-brow", hung, *_days(9, "07:10", step=1), *_days(9, "17:30", step=1))
    answer = _ask(world)
    assert answer.verdict == "likely"
    assert answer.said.startswith("Split Brow probably beds here. He was seen near it at dawn and")
    assert (
        "Counting days he slipped past the cameras, he bedded here on anywhere from " in answer.said
    )
    assert answer.unknown_travel == 18


def test_one_morning_is_not_a_bed_of_his() -> None:
    world, hung = _world()
    world.seen("b-split-brow", hung, "2025-10-05 07:10", travel_deg=265.0)
    (buck,) = _ask(world).bucks
    assert buck.verdict != "confirmed"
    assert buck.days_bedded.low == 0


def test_one_day_each_of_three_bucks_is_probably_a_bed() -> None:
    world, hung = _world()
    for i, name in enumerate(("b-split-brow", "b-mud-hen", "b-tin-ear")):
        if i:
            world.buck(name[2:].replace("-", " ").title(), 4.5)
        day = f"2025-10-{10 + 2 * i}"
        world.seen(name, hung, f"{day} 07:10", travel_deg=265.0)
        world.seen(name, hung, f"{day} 17:30", travel_deg=100.0)
    answer = _ask(world)
    assert [b.verdict for b in answer.bucks] == ["likely"] * 3
    assert all(b.one_day > 0.95 > b.three_days for b in answer.bucks)


def test_a_corridor_walked_the_same_way_at_both_ends_is_not_a_bed() -> None:
    world, hung = _world()
    world.seen("b-split-brow", hung, *_days(10, "07:10"), *_days(10, "17:30"), travel_deg=270.0)
    answer = _ask(world)
    assert answer.verdict in ("possible", "not shown")
    (buck,) = answer.bucks
    assert any("going the wrong way for a bed on 10 days" in reason for reason in buck.why)
    assert (buck.days_bedded.low, buck.three_days < 0.2) == (0, True)


def test_walked_through_past_two_cameras() -> None:
    world, hung = _world()
    west = world.camera("CAM02", (-180, 0), FIRST, LAST)
    for clock, later in (("07:10", "07:16"), ("17:30", "17:36")):
        world.seen("b-split-brow", hung, *_days(10, clock), travel_deg=270.0)
        world.seen("b-split-brow", west, *_days(10, later), travel_deg=270.0)
    answer = _ask(world)
    assert answer.verdict in ("possible", "not shown")
    assert answer.bucks[0].days_bedded.low == 0


def test_night_passes_do_not_make_a_bed() -> None:
    world, hung = _world()
    world.seen("b-split-brow", hung, *_days(12, "23:30"), *_days(12, "04:00"), travel_deg=270.0)
    assert _ask(world).verdict in ("possible", "not shown")


def test_full_daylight_inside_speaks_for_it() -> None:
    world, _ = _world()
    inside = world.camera("CAM02", (20, 0), FIRST, LAST)
    world.seen("b-split-brow", inside, *_days(9, "12:00"))
    answer = _ask(world)
    assert answer.verdict in ("likely", "confirmed")
    assert answer.bucks[0].inside_days == 9
    assert "was there in full daylight on 9 days" in answer.said


@pytest.mark.thorough
def test_a_way_told_inside_the_outline_counts() -> None:
    """Half of all cameras hang inside: in by morning, out by evening."""
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Hemlock Bench", (0, 0), 80)
    hung = world.camera("CAM01", (40, 0), FIRST, LAST)
    world.seen("b-split-brow", hung, *_days(5, "07:10"), travel_deg=265.0)
    world.seen("b-split-brow", hung, *_days(5, "17:30"), travel_deg=100.0)
    answer = _ask(world)
    assert (answer.verdict, answer.bucks[0].directed_days) == ("confirmed", 5)


@pytest.mark.thorough
def test_daylight_far_off_contradicts() -> None:
    world, hung = _world()
    far = world.camera("CAM09", (1500, 0), FIRST, LAST)
    world.seen("b-split-brow", hung, *_days(4, "07:10"), travel_deg=265.0)
    world.seen("b-split-brow", hung, *_days(4, "17:30"), travel_deg=100.0)
    (before,) = _ask(world).bucks
    world.seen("b-split-brow", far, *_days(3, "12:00"))
    (buck,) = _ask(world).bucks
    assert (buck.contradicting_days, buck.directed_days) == (3, 4)
    assert (before.verdict, buck.verdict != "confirmed") == ("confirmed", True)
    assert (buck.days_bedded.value or 0) < (before.days_bedded.value or 0)
    # With a longer arm the far camera counts as near enough.
    assert _ask(world, apart_m=1900.0).verdict == "confirmed"
    with pytest.raises(UsageError, match=r"between 0 and 1\.2 mi"):
        _ask(world, apart_m=5000.0)


@pytest.mark.thorough
def test_who_beds_elsewhere_that_day_does_not_bed_here() -> None:
    """Evidence anywhere speaks about everywhere: a buck is in one bed a day."""
    world, hung = _world()
    world.area("Pine Knob", (1500, 0), 80)
    other = world.camera("CAM05", (1680, 0), FIRST, LAST)
    world.seen("b-split-brow", hung, *_days(2, "07:10"), travel_deg=265.0)
    (alone,) = _ask(world).bucks
    for clock, travel in (("07:10", 265.0), ("17:30", 100.0)):
        days = [d for d in _days(30, clock, step=1) if d not in _days(2, clock)]
        world.seen("b-split-brow", other, *days, travel_deg=travel)
    (buck,) = _ask(world).bucks
    assert (buck.days_bedded.high or 0) < (alone.days_bedded.high or 0)
    assert buck.days_bedded.high <= 12


def test_each_day_for_and_against_is_listed_with_its_pictures() -> None:
    world, hung = _world()
    far = world.camera("CAM09", (1500, 0), FIRST, LAST)
    world.seen("b-split-brow", hung, *_days(5, "07:10"), travel_deg=265.0)
    world.seen("b-split-brow", hung, *_days(5, "17:30"), travel_deg=100.0)
    world.seen("b-split-brow", far, "2025-10-25 12:00")
    session = world.session()
    scope = scope_of(session, areas=["Hemlock Bench"])
    assert bedding(session, scope).days is None
    days = bedding(session, scope, days=True).days
    assert days is not None
    assert [d.speaks for d in days] == ["for"] * 5 + ["against"]
    assert days[0].shows == "in at dawn, out at dusk"
    assert [p.camera for p in days[0].pictures] == ["CAM01", "CAM01"]
    assert [p.local.hour for p in days[0].pictures] == [7, 17]
    assert (days[-1].shows, days[-1].pictures[0].camera) == ("far off in full daylight", "CAM09")
    assert days[0].chance > 0.9 > 0.1 > days[-1].chance


def test_the_days_listed_are_those_that_are_counted() -> None:
    """A day on which another camera's pictures wait is in the model, but in no count."""
    world, hung = _world()
    other = world.camera("CAM02", (-100, 60), FIRST, LAST)
    world.seen("b-split-brow", hung, *_days(5, "07:10"), travel_deg=265.0)
    world.seen("b-split-brow", hung, *_days(5, "17:30"), travel_deg=100.0)
    session = world.session()
    third = _days(5, "07:10")[2][:10]
    session.con.execute("INSERT INTO unsorted VALUES (?, ?, ?, 1, 0)", [other, third, third])
    answer = bedding(session, scope_of(session, areas=["Hemlock Bench"]), days=True)
    (buck,) = answer.bucks
    listed = [day.shows for day in answer.days or ()]
    assert listed.count("in at dawn, out at dusk") == buck.both == buck.mornings == 4


@pytest.mark.parametrize(("chance", "odds"), [(0.9999, "over 99%"), (0.0, "under 1%")])
def test_a_burst_is_shown_once_and_no_day_is_quite_sure(chance: float, odds: str) -> None:
    at = (datetime(2025, 10, 3, 19, 45, second) for second in (1, 2, 3))
    burst = [Picture(when, "CAM01", f"{i}") for i, when in enumerate(at)]
    later = Picture(datetime(2025, 10, 3, 19, 46), "CAM01", "9")
    day = BedDay("Split Brow", FIRST, "for", "out at dusk", chance, (*burst, later))
    assert (day.shown, day.odds) == ((burst[0], later), odds)


def test_thin_watch_says_what_would_settle_it() -> None:
    world = World()
    world.area("Hemlock Bench", (0, 0), 80)
    answer = _ask(world)
    assert answer.verdict == "not enough watch"
    assert answer.said.startswith("Can't tell yet: ")
    assert any("hang a camera on the trail in" in r and "more days" in r for r in answer.why)
    assert any("absence of pictures is not absence" in r for r in answer.why)


def test_how_long_to_watch_goes_by_how_long_he_stays_and_slips_by_there() -> None:
    """As learned of him, not as of any buck."""
    world, hung = _world()
    world.seen("b-split-brow", hung, *_days(9, "07:10"), *_days(9, "17:30"))
    session = world.session()
    scope = scope_of(session, areas=["Hemlock Bench"])
    answer = bedding(session, scope)
    (buck,) = answer.bucks
    known = known_of(session, scope, about=[answer.area_id])
    habits = known.habits(buck.buck_id, answer.area_id)
    assert buck.share.value
    told = next(line for line in answer.why if line.startswith("to settle it: "))
    days = days_to_settle(buck.share.value, habits)
    assert days < 120
    assert f"for about {days} more days" in told
    assert days != days_to_settle(buck.share.value, Known(()).habits("", ""))


def test_how_long_to_watch_for_a_buck_nobody_knows_goes_by_all_bucks_there() -> None:
    """Then by what is held before any picture: so far the same six days of ten for anybody."""
    world, hung = _world()
    world.buck("Mud Hen", 4.5)
    for buck in ("b-split-brow", "b-mud-hen"):
        world.seen(buck, hung, *_days(9, "07:10", step=1), *_days(9, "17:30", step=1))
    session = world.session()
    scope = scope_of(session, areas=["Hemlock Bench"])
    known, area = known_of(session, scope), bedding(session, scope).area_id
    each = [known.habits(buck, area) for buck in ("b-split-brow", "b-mud-hen")]
    assert known.habits("b-nobody", area) == pytest.approx(np.mean(each, axis=0))
    assert known.habits("b-nobody", area) != known.habits("b-split-brow", area)
    # Means of Beta(6, 4) and Beta(2, 3.5) over a grid.
    assert Known(()).habits("b-nobody", area) == pytest.approx((6 / 10, 2 / 5.5), abs=0.002)


def test_what_waits_to_be_sorted_is_to_be_sorted_before_a_camera_is_hung() -> None:
    """It sent for another camera while 75 pictures from there waited."""
    world, hung = _world()
    for day in _days(12, "07:10"):
        on = date.fromisoformat(day[:10])
        world.add("unsorted", deployment=hung, day=on, night=on, bursts=1, likely_empty=0)
    (told,) = (line for line in _ask(world).why if line.startswith("to settle it: "))
    assert told == "to settle it: sort the 12 nights left"


def test_nights_that_wait_are_said_once_in_an_answer() -> None:
    """The headline and the first reasons each said how many of how many."""
    world, hung = _world()
    for day in _days(12, "07:10"):
        on = date.fromisoformat(day[:10])
        world.add("unsorted", deployment=hung, day=on, night=on, bursts=1, likely_empty=0)
    answer = _ask(world)
    words = answer.watch.unsorted_in_words()
    assert words and " ".join((answer.said, *answer.why)).count(words) == 1
    assert answer.why[1].startswith("1 camera close enough, ")


def _settles(world: World) -> str:
    return next(line for line in _ask(world).why if line.startswith("to settle it: "))


@pytest.mark.thorough
def test_what_is_at_hand_is_named_before_another_camera() -> None:
    """It sent for another camera for 113 days while a card lay at home."""
    world, hung = _world()
    world.seen("b-split-brow", hung, "2025-10-05 07:10", "2025-10-08 07:10")
    told = _settles(world)
    assert told.startswith("to settle it: first mark which way Split Brow went (T on Sort); then ")
    world.camera("CAM02", (-150, 0), FIRST, LAST)
    world.rows["watch"] = [row for row in world.rows["watch"] if row["deployment"] != "d-CAM02"]
    assert _settles(world).startswith(
        "to settle it: first load the card from CAM02, if you have it, and mark"
    )
    world.seen("b-split-brow", hung, "2025-10-11 07:10", travel_deg=265.0)
    assert _settles(world).startswith("to settle it: first load the card from CAM02, if you have")
    assert "mark which way" not in _settles(world)


def test_beds_of_winter_are_told_beside_the_others() -> None:
    world, _ = _world()
    winter = (date(2026, 2, 12), date(2026, 3, 10))
    fall = (date(2025, 9, 1), date(2025, 11, 30))
    for x, made in ((0, fall), (10, winter), (20, winter)):
        world.sign("bed", (x, 0), date(2026, 3, 10), made)
    answer = _ask(world)
    assert (answer.sign.beds, answer.sign.winter_beds) == (1, 2)
    assert "1 bed found nearby; 2 winter beds left out" in answer.why


def test_sign_alone_makes_it_possible() -> None:
    world, _ = _world()
    made = (date(2025, 9, 1), date(2025, 12, 31))
    for i, (x, y, travel) in enumerate(
        [(100, 0, 90), (0, 100, 0), (-100, 0, 270), (0, -100, 180), (70, 70, 45)] * 2
    ):
        world.sign("rub", (x + i, y + i), date(2026, 3, 10), made, float(travel))
    world.sign("rub", (900, 0), date(2026, 3, 10), made, 90.0)
    answer = _ask(world)
    assert answer.verdict == "possible"
    assert (answer.sign.rubs, answer.sign.sectors_out, answer.sign.sectors_in) == (10, 5, 0)
    # 10 rubs on pi 280² m² against 1 on the ring out to 1000 m from the edge: the ratio of areas.
    assert answer.sign.density_ratio.value == pytest.approx(
        10 * (1080**2 - 280**2) / 280**2, rel=1e-3
    )
    world, _ = _world()
    world.sign("bed", (50, 0), date(2025, 10, 20), (date(2025, 10, 1), date(2025, 10, 20)))
    assert _ask(world).verdict == "possible"


def test_a_feeding_edge_rubbed_both_ways_is_no_bed_by_its_sign() -> None:
    """Outward in 4 of 8 sectors and inward in 4: `area propose` calls that no bed either."""
    world, _ = _world()
    made = (date(2025, 9, 1), date(2025, 12, 31))
    for i, (x, y, travel) in enumerate(
        [(60, 0, 90), (0, 60, 0), (-60, 0, 270), (0, -60, 180)] * 3
        + [(60, 0, 270), (0, 60, 180), (-60, 0, 90), (0, -60, 0)] * 3
    ):
        world.sign("rub", (x + i, y), date(2026, 3, 10), made, float(travel))
    answer = _ask(world)
    assert (answer.sign.sectors_out, answer.sign.sectors_in) == (4, 4)
    assert not answer.sign.left
    assert answer.verdict == "not shown"


def test_a_bed_of_march_is_no_verdict_about_fall() -> None:
    """In snow country beds of March are the yard (common practice, no source)."""
    world, _ = _world()
    winter = (date(2026, 2, 12), date(2026, 3, 14))
    world.sign("bed", (50, 0), date(2026, 3, 14), winter)
    answer = _ask(world)
    assert (answer.sign.beds, answer.sign.winter_beds) == (0, 1)
    assert answer.verdict == "not shown"
    # Whoever asks about February hears of it.
    session = world.session()
    scope = scope_of(session, areas=["Hemlock Bench"], first=winter[0], last=winter[1])
    assert bedding(session, scope).sign.beds == 1


def test_beds_of_does_are_kept_apart_from_those_of_bucks() -> None:
    world, _ = _world()
    fall = (date(2025, 10, 1), date(2025, 10, 20))
    world.sign("bed", (50, 0), date(2025, 10, 20), fall, bed_of="doe")
    answer = _ask(world)
    assert (answer.sign.beds, answer.sign.doe_beds, answer.verdict) == (0, 1, "not shown")
    world.sign("bed", (60, 0), date(2025, 10, 20), fall, bed_of="buck")
    world.sign("bed", (70, 0), date(2025, 10, 20), fall)
    # Worn to dirt: made in one of several falls, and kept up until March.
    world.sign("bed", (80, 0), date(2026, 3, 14), (date(2022, 9, 1), date(2026, 3, 14)))
    sign = _ask(world).sign
    assert (sign.beds, sign.buck_beds, sign.doe_beds, sign.winter_beds) == (3, 1, 1, 0)


def test_a_walked_path_turns_density_into_rubs_per_kilometer() -> None:
    world, _ = _world()
    made = (date(2025, 9, 1), date(2025, 12, 31))
    for i in range(4):
        world.sign("rub", (100, 10.0 * i), date(2026, 3, 10), made)
    for i in range(2):
        world.sign("rub", (600, 10.0 * i), date(2026, 3, 10), made)
    assert _ask(world).sign.km_walked is None
    # A kilometer straight through: 560 m of it within 280 m of the center, in steps of 10 m.
    line = [list(reversed(at(x, 0.0))) for x in range(-280, 721, 10)]
    world.add("walks", walk="w-1", shape={"type": "LineString", "coordinates": line})
    sign = _ask(world).sign
    assert sign.km_walked == pytest.approx(0.56, abs=0.011)
    assert sign.per_km_ratio is not None
    assert sign.per_km_ratio.value == pytest.approx((4 / 0.56) / (2 / 0.44), rel=0.05)


@pytest.mark.thorough
def test_json_keys() -> None:
    world, hung = _world()
    world.seen("b-split-brow", hung, *_days(4, "07:10"), travel_deg=265.0)
    given = _ask(world).to_json()
    assert {"area", "days_watched", "bucks", "sign", "verdict", "why", "ways"} <= set(given)
    wanted = {
        "buck", "mornings", "evenings", "both", "days_bedded", "share", "contradicting_days",
        "verdict", "why",
    }  # fmt: skip
    assert wanted <= set(given["bucks"][0])
    wanted = {"rubs", "beds", "scrapes", "density_ratio", "seasons", "sectors_out", "sectors_in"}
    assert wanted <= set(given["sign"])
    assert {"bearing_deg", "n"} <= set(given["ways"]["morning"][0])
    assert {"value", "low", "high"} <= set(given["bucks"][0]["days_bedded"])
    assert list(_ask(world).to_frame()["area"]) == ["Hemlock Bench"]


@pytest.mark.thorough
def test_days_bedded_hold_the_truth_and_corridors_are_not_confirmed() -> None:
    """Two seasons of what the accuracy table measures over many."""
    found = measure(Wild(bucks=4), range(2))
    assert found.pairs >= 20
    assert found.held / found.pairs >= 0.85
    assert found.nobodys_sure == 0
    assert found.used_sure >= 0.6 * found.used > 0


@pytest.mark.thorough
def test_the_headline_names_the_likeliest_buck_not_the_first_id() -> None:
    world, hung = _world()
    world.buck("Aardvark", 4.5)
    world.seen("b-aardvark", hung, "2025-10-20 07:10")
    world.seen("b-split-brow", hung, *_days(9, "07:10"))
    answer = _ask(world)
    assert "Split Brow may bed here. He was pictured near it on" in answer.said
    assert answer.bucks[0].buck == "Split Brow"


def test_the_headline_sets_days_caught_apart_from_days_bedded() -> None:
    world, hung = _world()
    world.seen("b-split-brow", hung, *_days(4, "07:10"), travel_deg=265.0)
    world.seen("b-split-brow", hung, *_days(4, "17:30"), travel_deg=100.0)
    answer = _ask(world)
    about = answer.bucks[0].days_bedded.value or 0
    assert answer.said.partition(" But ")[0] == (
        "Split Brow beds here. He was caught going in at dawn and coming out at dusk on 4 days. "
        f"Counting days he slipped past the cameras, he bedded here on about {about:.0f} of "
        f"{answer.days_watched} days."
    )


@pytest.mark.parametrize(("none", "word"), [(14, "likely"), (10, "confirmed")])
def test_no_bed_is_sure_beside_a_range_that_reaches_below_three_days(none: int, word: str) -> None:
    """Of 420 courses 14 are more than a fortieth, which the 95% interval leaves out, 10 fewer."""
    days = np.array([0] * none + [41] * (420 - none))
    assert (spread_of(days).low == 0) == (word == "likely")
    assert verdict_of(DaysSeen(9, 9, 8, 7, 7, 0, 0, 0), days, 111) == word


@pytest.mark.parametrize(
    ("seen", "word"),
    [
        (DaysSeen(16, 28, 5, 0, 2, 1, 0, 0), "likely"),
        # Never at both ends of one day: that the odds weigh.
        (DaysSeen(2, 1, 0, 0, 3, 0, 0, 0), "confirmed"),
        # As often the wrong way as the right one: his bed may lie on the other side.
        (DaysSeen(9, 7, 3, 0, 7, 1, 7, 0), "likely"),
        (DaysSeen(9, 7, 3, 0, 7, 1, 6, 0), "confirmed"),
    ],
)
def test_a_bed_is_sure_only_where_three_days_show_it_and_fewer_go_the_wrong_way(
    seen: DaysSeen, word: str
) -> None:
    """Whatever the odds are: they know no bed beyond, where nobody has drawn one."""
    days = np.full(420, 23)
    assert verdict_of(seen, days, 111) == word
    assert any("all we'll say is probably" in why for why in why_of(seen, days, 111)) == (
        word == "likely"
    )


@pytest.mark.thorough
def test_a_trail_to_a_bed_nobody_has_drawn_is_not_called_his_bed() -> None:
    """The odds alone said so of it on tuning seeds (docs/accuracy.md)."""
    never, half = (measure(Wild(undrawn=True, travel=x), [1000]) for x in (0.0, 0.5))
    assert (never.buck_sure_false, half.buck_sure_false) == (0, 0)
    assert half.buck_sure > 0


@pytest.mark.thorough
def test_mature_bucks_are_shown_first_with_their_ages() -> None:
    world, hung = _world()
    world.buck("Twig", 1.5)
    world.seen("b-twig", hung, *_days(9, "07:10"), travel_deg=265.0)
    world.seen("b-twig", hung, *_days(9, "17:30"), travel_deg=100.0)
    world.seen("b-split-brow", hung, "2025-10-05 07:10", travel_deg=265.0)
    found = _ask(world).bucks
    assert [b.buck for b in found] == ["Twig", "Split Brow"]
    assert [b.named for b in oldest_first(found, 3.5)] == ["Split Brow (5.5)", "Twig (1.5)"]


def test_days_bedded_are_told_to_run_low() -> None:
    """They came out too few where they were tried (docs/accuracy.md)."""
    world, hung = _world()
    world.seen("b-split-brow", hung, *_days(3, "07:10"), travel_deg=265.0)
    assert any("of the true days" in why for why in _ask(world).why)
    assert not any("of the true days" in why for why in _ask(_world()[0]).why)


def test_more_days_beside_the_lesser_verdict_are_explained() -> None:
    """Days are how many it would be, if at all; verdicts go by the odds of any."""
    may, hardly = ("Split Brow", "possible", 0.21, 2.0), ("Mud Hen", "not shown", 0.18, 3.0)
    assert days_against_words([may, hardly]) == (
        "the verdict goes by the odds he bedded here even once, not by how many days: Split Brow "
        "21%, Mud Hen 18%. From 20%: may bed here. From 80%: probably beds here"
    )
    assert days_against_words([may, (*hardly[:3], 2.0)]) is None
    assert days_against_words([("Split Brow", "confirmed", 1.0, 2.0), hardly]) is None
