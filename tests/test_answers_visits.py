"""How often: merged over cameras, over the nights that were watched, with published intervals."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from datetime import date, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from answers_world import World
from simulator import Plan, season

from camsign.answers.scope import scope_of
from camsign.answers.visits import Visits, days_seen, visits
from camsign.cli.visits import _on_days
from camsign.errors import UsageError
from camsign.logbook.session import Session

FIRST, LAST = date(2025, 10, 1), date(2025, 11, 11)


def _two_cameras() -> tuple[World, str, str]:
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Hemlock Bench", (0, 0), 80)
    east = world.camera("CAM01", (150, 0), FIRST, LAST)
    west = world.camera("CAM02", (-150, 0), FIRST, LAST)
    return world, east, west


def _ask(session: Session, **words: object) -> Visits:
    return visits(session, scope_of(session, **words))  # type: ignore[arg-type]


def test_seven_visits_in_forty_two_nights() -> None:
    world, east, west = _two_cameras()
    for day in range(3, 24, 3):
        world.seen("b-split-brow", east, f"2025-10-{day:02d} 22:30", f"2025-10-{day:02d} 22:45")
        world.seen("b-split-brow", west, f"2025-10-{day:02d} 23:10")
    session = world.session()
    (row,) = _ask(session).rows
    assert (row.visits, row.nights_seen, row.nights_watched, row.on_watch) == (7, 7, 42, 7)
    rate = row.per_100_nights_poisson
    # 7 in 42 nights = 16.67 per 100 (6.70 to 34.34): F. Garwood, Biometrika 28 (1936) 437-442,
    # limits recomputed from the chi-square formula.
    assert (rate.value, rate.low, rate.high) == pytest.approx((16.67, 6.70, 34.34), abs=5e-3)
    assert (row.daylight.value, row.daylight.n) == (0, 7)
    assert row.days_between_median.value == pytest.approx(3)
    assert row.first_seen is not None
    assert row.first_seen.isoformat() == "2025-10-03T22:30:00-04:00"


def test_two_cameras_count_him_once_and_by_camera_twice() -> None:
    world, east, west = _two_cameras()
    world.seen("b-split-brow", east, "2025-10-05 17:30")
    world.seen("b-split-brow", west, "2025-10-05 17:50")
    session = world.session()
    assert [r.visits for r in _ask(session).rows] == [1]
    by_camera = visits(session, scope_of(session), by="camera")
    assert [(r.camera, r.visits, r.area) for r in by_camera.rows] == [
        ("CAM01", 1, None),
        ("CAM02", 1, None),
    ]
    assert [r.visits for r in visits(session, scope_of(session, gap_s=600)).rows] == [2]


def test_who_was_never_pictured_there_is_said_so() -> None:
    world, _, _ = _two_cameras()
    session = world.session()
    answer = visits(session, scope_of(session, bucks=["Split Brow"]))
    assert len(answer.rows) == 1 and answer.said.startswith("Split Brow was never pictured at ")
    assert " in 42 days covered; absence of pictures " in answer.said


def test_a_gap_of_exactly_the_setting_is_one_visit() -> None:
    world, east, _ = _two_cameras()
    world.seen("b-split-brow", east, "2025-10-05 17:00", "2025-10-05 17:30", "2025-10-05 18:00:01")
    assert [r.visits for r in _ask(world.session()).rows] == [2]


def test_watch_is_the_union_and_only_within_the_days() -> None:
    world = World()
    world.buck("Split Brow")
    world.area("Hemlock Bench", (0, 0), 80)
    dead = (date(2025, 10, 10), date(2025, 10, 19))
    east = world.camera("CAM01", (150, 0), FIRST, date(2025, 10, 31), off=[dead])
    world.camera("CAM02", (-150, 0), date(2025, 10, 15), date(2025, 11, 11))
    world.camera("CAM03", (900, 0), FIRST, LAST)
    world.seen("b-split-brow", east, "2025-10-05 17:30", "2025-10-12 17:30")
    session = world.session()
    # 1 to 9 October, then 15 October to 11 November: 9 + 28 nights.
    (row,) = _ask(session).rows
    assert (row.nights_watched, row.visits, row.on_watch, row.seen_on_watch) == (37, 2, 1, 1)
    assert row.per_100_nights_poisson.value == pytest.approx(100 / 37)
    assert any("not covered in full" in reason for reason in row.why)
    (part,) = _ask(session, first=date(2025, 10, 4), last=date(2025, 10, 13)).rows
    assert (part.nights_watched, part.visits) == (6, 2)


def test_daylight_is_any_detection_between_sunrise_and_sunset() -> None:
    world, east, _ = _two_cameras()
    # Sunrise at 44.1 N 71.2 W on 2025-10-20 is about 07:05 EDT (NOAA's equations, from memory).
    world.seen("b-split-brow", east, "2025-10-20 06:30", "2025-10-20 06:55", "2025-10-20 07:20")
    world.seen("b-split-brow", east, "2025-10-22 06:00")
    (row,) = _ask(world.session()).rows
    assert (row.visits, row.daylight.value) == (2, 0.5)


def test_what_is_counted_apart() -> None:
    world, east, _ = _two_cameras()
    world.seen("b-split-brow", east, "2025-10-05 17:30")
    world.seen("b-split-brow", east, "2025-10-06 17:30", sure="unsure")
    world.seen("b-split-brow", east, "2025-10-07 17:30", doubt="clock reset")
    world.seen(None, east, "2025-10-08 17:30", "2025-10-09 17:30")
    world.seen(None, east, "2025-10-08 12:30", sex="female")
    (row,) = _ask(world.session()).rows
    assert (row.visits, row.unidentified, row.doubtful_time) == (1, 3, 1)


def test_a_named_buck_without_pictures_has_a_row_and_an_upper_limit() -> None:
    world, east, _ = _two_cameras()
    world.buck("Old Crook")
    world.area("Far Knob", (5000, 0), 80)
    world.seen("b-split-brow", east, "2025-10-05 17:30")
    (row,) = _ask(world.session(), bucks=["Old Crook"]).rows
    assert (row.area, row.visits, row.per_100_nights_poisson.value) == ("Hemlock Bench", 0, 0)
    # 3.689 / 42 nights: Garwood 1936, n = 0.
    assert row.per_100_nights_poisson.high == pytest.approx(100 * 3.689 / 42, abs=0.01)
    assert row.per_100_nights.high is not None and row.per_100_nights.high > 100 * 3.689 / 42 / 2
    assert any("absence of pictures is not absence of the buck" in reason for reason in row.why)


def test_not_enough_watch_is_said() -> None:
    world = World()
    world.buck("Split Brow")
    world.area("Hemlock Bench", (0, 0), 80)
    hung = world.camera("CAM01", (150, 0), FIRST, date(2025, 10, 4))
    world.seen("b-split-brow", hung, "2025-10-02 17:30")
    answer = _ask(world.session())
    assert any("not enough nights covered" in reason for reason in answer.why)
    assert any("not enough nights covered" in reason for reason in answer.rows[0].why)


def test_merged_bucks_are_one() -> None:
    world, east, _ = _two_cameras()
    world.buck("Crooked Beam", merged_into="b-split-brow")
    world.seen("b-split-brow", east, "2025-10-05 17:30")
    world.seen("b-crooked-beam", east, "2025-10-05 17:40", "2025-10-08 17:40")
    (row,) = _ask(world.session()).rows
    assert (row.buck, row.visits) == ("Split Brow", 2)


@pytest.mark.parametrize("seed", range(3))
def test_against_visits_merged_by_hand(seed: int) -> None:
    chance = random.Random(seed)
    world, *hung = _two_cameras()
    other = world.buck("Old Crook")
    seen: dict[str, list[datetime]] = {"b-split-brow": [], other: []}
    for _ in range(120):
        moment = datetime(2025, 10, 2) + timedelta(seconds=chance.randrange(6 * 86400))
        buck = chance.choice(list(seen))
        world.seen(buck, chance.choice(hung), moment.isoformat(" "))
        seen[buck].append(moment)
    expected = {}
    for buck, moments in seen.items():
        moments.sort()
        gaps = [b - a for a, b in itertools.pairwise(moments)]
        expected[buck] = 1 + sum(gap > timedelta(minutes=30) for gap in gaps)
    assert {r.buck_id: r.visits for r in _ask(world.session()).rows} == expected


def test_json_and_table_keys() -> None:
    world, east, _ = _two_cameras()
    world.seen("b-split-brow", east, "2025-10-05 17:30")
    answer = _ask(world.session())
    (row,) = answer.to_json()["rows"]
    wanted = {
        "buck", "area", "visits", "nights_seen", "nights_watched", "per_100_nights", "daylight",
        "days_between_median", "first_seen", "last_seen",
    }  # fmt: skip
    assert wanted <= set(row)
    assert {"value", "low", "high"} <= set(row["per_100_nights"])
    assert row["daylight"]["n"] == 1
    assert "camera" not in row
    frame = answer.to_frame()
    assert {"per_100_nights", "per_100_nights_low", "per_100_nights_high"} <= set(frame.columns)
    assert frame.attrs["method"] == answer.method


def _season(days: list[int]) -> Session:
    world, east, _ = _two_cameras()
    for day in days:
        world.seen("b-split-brow", east, f"{FIRST + timedelta(days=day)} 17:30")
    return world.session()


def test_spells_widen_the_interval_and_poisson_stands_beside_it() -> None:
    (spell,) = _ask(_season(list(range(10, 18)))).rows
    (spread,) = _ask(_season(list(range(2, 42, 5)))).rows
    assert spell.per_100_nights_poisson == spread.per_100_nights_poisson
    wide, narrow = spell.per_100_nights, spread.per_100_nights
    assert wide.high - wide.low > 1.3 * (narrow.high - narrow.low)  # type: ignore[operator]
    assert wide.method != spell.per_100_nights_poisson.method


def test_trend_is_the_later_half_over_the_earlier() -> None:
    (rising,) = _ask(_season([5, *range(22, 40, 2)])).rows
    assert rising.trend.value is not None and rising.trend.value > 2
    (steady,) = _ask(_season(list(range(2, 42, 5)))).rows
    assert steady.trend.low < 1 < steady.trend.high  # type: ignore[operator]


def test_the_trend_is_said_only_where_its_interval_leaves_out_as_often() -> None:
    (row,) = visits(session := _season([5, 6, 7]), scope_of(session)).rows
    told = {
        (0.5, 94.2): "can't tell",
        (1.2, 6.0): "more: 3.0 (1.2–6.0) times",
        (0.1, 0.8): "less: 3.0 (0.1–0.8) times",
    }
    for (low, high), words in told.items():
        said = replace(row, trend=replace(row.trend, value=3.0, low=low, high=high)).trend_said
        assert said.startswith(words)
    assert replace(row, trend=replace(row.trend, low=None, high=None)).trend_said == "can't tell"


def test_by_month_and_by_phase() -> None:
    session = _season(list(range(2, 42, 5)))
    scope = scope_of(session)
    rows = visits(session, scope, split="month").rows
    assert [(r.part, r.visits, r.nights_watched) for r in rows] == [
        ("October 2025", 6, 31),
        ("November 2025", 2, 11),
    ]
    session.settings.phases.clear()
    with pytest.raises(UsageError, match=r"\[phases\]"):
        visits(session, scope, split="phase")
    session.settings.phases.update(early=((9, 15), (10, 15)), late=((11, 1), (1, 10)))
    rows = visits(session, scope, split="phase").rows
    assert [(r.part, r.visits, r.nights_watched) for r in rows] == [
        ("early", 3, 15),
        ("late", 2, 11),
    ]


def test_ratio_to_another_period() -> None:
    session = _season([5, *range(22, 40, 2)])
    late = scope_of(session, first=date(2025, 10, 22), last=LAST)
    early = scope_of(session, first=FIRST, last=date(2025, 10, 21))
    (row,) = visits(session, late, against=early).rows
    assert row.ratio is not None and row.ratio.value is not None
    assert row.ratio.value > 2
    assert "ratio" in visits(session, late, against=early).to_json()["rows"][0]
    assert "ratio" not in visits(session, late).to_json()["rows"][0]


def test_rates_hold_the_truth_in_a_few_seasons() -> None:
    held = asked = 0
    for seed in range(3):
        one = season(Plan(bucks=4, areas=3), seed, truth_days=1500)
        for row in _ask(one.session, bucks=one.bucks).rows:
            truth = 100 * one.rate[row.buck_id, row.area_id or ""]
            asked += 1
            held += row.per_100_nights.low <= truth <= row.per_100_nights.high  # type: ignore[operator]
    assert asked == 36
    assert held >= 32


def test_days_are_said_of_days_covered_only_where_all_were() -> None:
    """It said `1 of 47 nights covered` of a visit on a night that was not covered."""
    assert days_seen(28, 114, None) == "28 of 114 days covered"
    assert days_seen(1, 47, 0) == "1 day (none of the 47 fully covered)"


def test_a_row_seen_on_a_day_not_covered_says_so() -> None:
    """The area page said 5 of 91 where one of the 5 was none of the 91."""
    session = _season([5, 6, 7])
    (row,) = visits(session, scope_of(session)).rows
    assert row.days_said == f"{row.nights_seen} of {row.nights_watched} days covered"
    beyond = replace(row, seen_on_watch=2)
    assert beyond.days_said == f"3 days (2 of the {row.nights_watched} fully covered)"


def test_a_terminals_row_says_which_days_seen_are_not_covered() -> None:
    """It said 3 of 31, and `when` that none of the three counts."""
    row: Any = SimpleNamespace(nights_seen=3, seen_on_watch=None)
    assert _on_days(row) == "3"
    for among, told in ((1, "3 (1 fully covered)"), (0, "3 (none fully covered)")):
        row.seen_on_watch = among
        assert _on_days(row) == told
