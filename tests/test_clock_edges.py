"""What is said and proposed of a clock, each limit at it and beside it, without any light."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from camsign.cli import clocks
from camsign.clock import plot_points, verdicts
from camsign.clock.audit import Finding, _on_right_day, needs_attention
from camsign.clock.light import DAY_STEPS, HALF, arc, smallest_set, steps_of
from camsign.clock.offset_models import Step, Story, minutes
from camsign.clock.proposals import propose, rounded, what_it_does
from camsign.clock.resets import OffsetBounds, place
from camsign.clock.rules import ClockFix, ClockPiece, clock_pieces
from camsign.clock.verdicts import Judged
from camsign.logbook.records import Deployment
from camsign.page.cards import _by_the_light
from camsign.stats.estimate import Estimate

TZ = "America/New_York"
# The clocks went back on 2025-11-02 at 06:00 UTC.
SWITCH = datetime(2025, 11, 2, 6, tzinfo=UTC)
HUNG = Deployment(
    "d-1", "CAM1", 44.0, -71.0, datetime(2025, 10, 1, 12, tzinfo=UTC),
    datetime(2025, 12, 1, 12, tzinfo=UTC), clock="hung", tz=TZ,
)  # fmt: skip


def _finding(verdict: str, value: float | None = 60.0, **more: Any) -> Finding:
    spread = Estimate(
        value, None if value is None else value - 9, None if value is None else value + 9
    )
    given = {
        "deployment": "d-1", "camera": "CAM1", "clock_from": datetime(2025, 10, 2, 8),
        "clock_until": datetime(2025, 11, 20, 8, 0, 0, 5), "verdict": verdict,
        "offset_minutes": spread, "frames": 9, "frames_used": 9, "bursts_used": 7,
        "dawn_bursts": 1, "dusk_bursts": 1, "why": "why", "whole": True,
    } | more  # fmt: skip
    return Finding(**given)


def _said(finding: Finding, clock: str = "hung", fixes: tuple[ClockFix, ...] = ()) -> list[Any]:
    pieces = clock_pieces(replace(HUNG, clock=clock), TZ, fixes)
    found = propose(finding, replace(HUNG, clock=clock), pieces)
    assert all(c.reason == "why; judged from 7 bursts of pictures" for c in found)
    return [(c.kind, c.value, c.shown_from, c.shown_until, c.estimated) for c in found]


def test_an_offset_is_taken_off_as_a_whole_hour_where_one_fits() -> None:
    assert _said(_finding("right")) == _said(_finding("cannot tell")) == []
    assert _said(_finding("off", 62.0)) == [("shift", -3600.0, None, None, False)]
    assert _said(_finding("off", 69.0)) == [("shift", -3600.0, None, None, False)]
    assert _said(_finding("off", 69.4)) == [("shift", -69 * 60.0, None, None, False)]
    assert _said(_finding("twelve hours", -722.0))[0][1] == 720 * 60.0
    begun, ended = datetime(2025, 10, 2, 8), datetime(2025, 11, 20, 8, 0, 1)
    part = _finding("off", 62.0, whole=False)
    assert _said(part) == [("shift", -3600.0, begun, ended, False)]
    for verdict in ("reset", "impossible date"):
        assert _said(_finding(verdict)) == []
    assert _said(_finding("off", None)) == []
    placed = _finding("reset", whole=False, place_by_shift_s=86400.5)
    shown = [["2025-10-02T08:00:00", "2025-10-03T08:00:00.500000Z"]]
    assert _said(placed) == [("pairs", shown, begun, ended, True)]
    assert rounded(_finding("off", 62.0)) == 60.0
    assert rounded(_finding("off", None)) == 0.0


def test_what_a_fix_does_is_said_with_its_pictures() -> None:
    found = _finding("off", 62.0)
    (whole,) = propose(found, HUNG, clock_pieces(HUNG, TZ, ()))
    span = "(Oct 2 to Nov 20, 2025)"
    assert what_it_does(found, whole) == f"move its 9 pictures {span} 1 h earlier"
    assert what_it_does(found, whole, done=True) == f"its 9 pictures {span} are now 1 h earlier"
    part = replace(
        whole, shown_from=SWITCH.replace(tzinfo=None), shown_until=datetime(2025, 11, 20)
    )
    some = "pictures (Nov 2 to Nov 19, 2025)"
    assert what_it_does(found, part) == f"move its {some} 1 h earlier"
    local = replace(part, kind="local", value=None)
    assert what_it_does(found, local) == f"re-time its {some}"
    assert what_it_does(found, local, True) == f"its {some} have their right times now"
    # Placed ten years on, or some hours.
    for moved, way in ((-5_300_000.0, "3,681 days later"), (-600.0, "10 h later")):
        placed = _finding("reset", moved, whole=False, place_by_shift_s=1.0)
        (pairs,) = propose(placed, HUNG, [])
        assert what_it_does(placed, pairs) == f"move its 9 pictures {span} {way}"


def test_the_page_says_once_how_far_a_clock_is_off() -> None:
    off = _finding("off", 64.0, why="the clock is 1 h fast (likely daylight saving)")
    assert (
        _by_the_light(off) == "the clock is 1 h fast (1 h 4 min by the light; 55 min to 1 h 13 min)"
    )
    slow = replace(off, offset_minutes=Estimate(-50.0, -62.0, -41.0))
    assert _by_the_light(slow) == "the clock is 1 h slow (50 min by the light; 41 min to 1 h 2 min)"
    fits = _finding("right", -2.0, why="the light fits")
    assert _by_the_light(fits) == "right (2 min slow; 11 min slow to 7 min fast)"
    spot_on = _finding("right", 0.0, why="the light fits; by brightness")
    assert _by_the_light(spot_on) == "right; by brightness (0 min; 9 min slow to 9 min fast)"
    looks = _finding("cannot tell", 44.0, why="looks 44 min fast")
    assert _by_the_light(looks) == "looks 44 min fast"
    assert _by_the_light(_finding("cannot tell", None)) == "why"


def _looks(*cells: float, dawn: int = 2, dusk: int = 2, why: str = "the light fits") -> Any:
    ahead = Estimate(*cells)
    return verdicts.unless_it_looks_off(verdicts.Judged("right", ahead, 20, dawn, dusk, why))


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ((44.0, 15.0, 69.0), "44 min fast (15 min to 1 h 9 min)"),
        ((-44.0, -69.0, -15.0), "44 min slow (15 min to 1 h 9 min)"),
        ((12.0, 1.0, 21.0), "12 min fast (1 min to 21 min)"),
        ((21.0, -5.0, 40.0), "21 min fast (5 min slow to 40 min fast)"),
    ],
)
def test_a_clock_that_looks_off_is_never_called_right(cells: Any, words: str) -> None:
    few = _looks(*cells)
    assert few.verdict == "cannot tell"
    assert few.why == f"looks {words}, from only 2 bursts near dawn and 2 near dusk"
    assert _looks(*cells, dawn=10, dusk=10).why == f"looks {words}"
    assert _looks(*cells, dawn=10).why.endswith(", from only 2 bursts near dusk")
    assert _looks(*cells, dusk=10, why="the light fits; x").why.endswith("near dawn; x")


def test_a_clock_stays_right_within_what_is_tolerated() -> None:
    for cells in ((20.0, -1.0, 40.0), (12.0, 1.0, 20.0), (0.0, -30.0, 30.0)):
        assert _looks(*cells).verdict == "right"


def test_two_hangings_of_one_camera_are_named_apart() -> None:
    first = _finding("right", clock_until=datetime(2025, 10, 4, 9))
    later = _finding("cannot tell", clock_from=datetime(2025, 10, 4, 10))
    assert clocks._names([first, later, _finding("right", camera="CAM2")]) == [
        "CAM1, Oct 2 to Oct 4, 2025", "CAM1, Oct 4 to Nov 20, 2025", "CAM2",
    ]  # fmt: skip


def test_a_step_is_a_rule_the_clock_did_not_follow_or_two_shifts() -> None:
    step = {"step_at": SWITCH, "whole": True}
    followed = _finding("an hour since the switch", 3.0, step_minutes=-60.0, **step)
    assert _said(followed) == [("local", None, None, None, False)]
    stayed = replace(followed, step_minutes=60.0)
    assert _said(stayed, "local") == [("utc_offset", "-04:00", None, None, False)]
    # What the clock showed at the switch: 02:00 by the offset of October.
    edge = datetime(2025, 11, 2, 2)
    assert _said(stayed) == [("shift", -3600.0, edge, None, False)]
    both = replace(followed, offset_minutes=Estimate(120.0, 111.0, 129.0))
    assert _said(both) == [
        ("shift", -7200.0, None, edge, False), ("shift", -3600.0, edge, None, False)]  # fmt: skip
    # A part no more than 20 minutes off is left alone.
    less = replace(followed, offset_minutes=Estimate(20.0, 15.0, 25.0), step_minutes=60.0)
    assert [c[1] for c in _said(less)] == [-80 * 60.0]
    more = replace(less, offset_minutes=Estimate(21.0, 15.0, 25.0))
    assert [c[1] for c in _said(more)] == [-21 * 60.0, -81 * 60.0]
    for none in ({"step_at": None}, {"step_minutes": None}):
        assert _said(replace(followed, **none)) == []


def test_a_clock_put_right_before_is_put_right_further_by_pairs() -> None:
    fix = ClockFix("c-1", "shift", -600.0, None, None)
    (one,) = _said(_finding("off", 62.0), fixes=(fix,))
    # Shown 08:00 on October 2 was read 11:50 UTC (-04:00, ten minutes less): an hour off is 10:50.
    assert one == (
        "pairs",
        [["2025-10-02T08:00:00", "2025-10-02T10:50:00Z"],
         ["2025-11-20T08:00:01.000005", "2025-11-20T10:50:01.000005Z"]],
        None, None, False,
    )  # fmt: skip
    late = ClockFix("c-2", "shift", 0.0, datetime(2025, 12, 1), None)
    assert len(_said(_finding("off", 62.0), fixes=(fix, late))) == 1
    drift = _finding(
        "drifts",
        10.0,
        drift_minutes_per_week=7.0,
        clock_from=datetime(2025, 10, 2),
        clock_until=datetime(2025, 10, 16),
    )
    ((_, pairs, *_),) = _said(drift)
    # A week before the middle it is 3 minutes ahead, a week and a second behind it 17.
    assert pairs[0] == ["2025-10-02T00:00:00", "2025-10-02T03:57:00Z"]
    assert pairs[1][0] == "2025-10-16T00:00:01"
    assert pairs[1][1].startswith("2025-10-16T03:43:00.99")


def test_a_step_of_a_clock_put_right_before_is_taken_off_from_there_on() -> None:
    fix = ClockFix("c-1", "shift", -600.0, None, None)
    step = _finding("an hour since the switch", 3.0, step_at=SWITCH, step_minutes=-60.0)
    before, since = _said(step, fixes=(fix,))
    # Shown 02:10 on November 2 is read 06:00 UTC: the hour is missing from then on.
    edge = datetime(2025, 11, 2, 2, 10)
    assert before == (
        "pairs",
        [["2025-10-02T08:00:00", "2025-10-02T11:50:00Z"],
         ["2025-11-02T02:10:00", "2025-11-02T06:00:00Z"]],
        None, edge, False,
    )  # fmt: skip
    assert since == (
        "pairs",
        [["2025-11-02T02:10:00", "2025-11-02T07:00:00Z"],
         ["2025-11-20T08:00:01.000005", "2025-11-20T12:50:01.000005Z"]],
        edge, None, False,
    )  # fmt: skip


def test_a_correction_says_its_fields() -> None:
    one = ClockFix("", "shift", 5.0, None, datetime(2025, 10, 2), "why")
    assert one.fields(HUNG) == {
        "camera": "CAM1",
        "deployment": "d-1",
        "kind": "shift",
        "value": 5.0,
        "reason": "why",
        "shown_until": "2025-10-02T00:00:00",
    }
    assert replace(one, estimated=True).fields(HUNG)["estimated"] is True


def test_what_is_proposed_moves_the_points() -> None:
    read, shown = np.array([0.0, 604800.0, 1209600.0]), np.array([10.0, 20.0, 30.0])

    def moved(finding: Finding) -> list[float]:
        return (plot_points.put_right(finding, read, shown) - read).tolist()

    same = [0.0, 0.0, 0.0]
    assert moved(_finding("right")) == moved(_finding("reset")) == same
    assert moved(_finding("off", None)) == moved(_finding("impossible date")) == same
    assert moved(_finding("off", 62.0)) == [-3600.0] * 3
    placed = _finding("reset", place_by_shift_s=5.0)
    assert plot_points.put_right(placed, read, shown).tolist() == [15.0, 25.0, 35.0]
    step = datetime.fromtimestamp(604800, UTC)
    stepped = _finding("an hour since the switch", 60.0, step_at=step, step_minutes=-60.0)
    assert moved(stepped) == [-3600.0, 0.0, 0.0]
    drift = _finding("drifts", 10.0, drift_minutes_per_week=10.08)
    # 10.08 minutes a week are a thousandth: a week of its time is 604800 / 1.001 s.
    week = 604800 / 1.001
    assert moved(drift) == pytest.approx([604800 - 600 - week, -600, week - 600 - 604800])
    none = np.zeros(0)
    assert plot_points.put_right(_finding("off"), none, none).tolist() == []
    told = [v for v in ("right", "cannot tell", "off", "reset") if needs_attention(_finding(v))]
    assert told == ["off", "reset"]


def _story(center: int = 0, drift: dict[int, float] | None = None, step: Any = None) -> Story:
    share = np.zeros(DAY_STEPS)
    share[center + HALF] = 1.0
    return Story(share, drift or {0: 1.0}, step, 0.0 if step is None else 0.95, 0.0)


def _verdict(story: Story, *cells: float, dawn: int = 20, dusk: int = 20) -> tuple[str, str]:
    return verdicts._verdict(story, Estimate(*cells), dawn, dusk, 5)


def test_verdicts_change_at_their_limits() -> None:
    right, fits = "right", "the light fits"
    assert _verdict(_story(), 0.0, -30.0, 30.0) == (right, fits)
    assert _verdict(_story(), 0.0, -30.0, 31.0) == (
        "cannot tell",
        "can't pin it within an hour: daylight and its clock don't fit well",
    )
    few = _verdict(_story(), 0.0, -99.0, 99.0, dawn=9, dusk=1)
    assert few[1] == "can't pin it within an hour: only 9 bursts near dawn and 1 near dusk"
    few = _verdict(_story(), 0.0, -99.0, 99.0, dawn=10, dusk=9)
    assert few[1] == "can't pin it within an hour: only 9 bursts near dusk"
    ten = 5  # steps of two minutes
    assert _verdict(_story(10 + ten), 20.0, 15.0, 25.0) == (right, fits)
    assert _verdict(_story(10 + ten), 22.0, 15.0, 29.0) == ("off", "the clock is 22 min fast")
    assert _verdict(_story(0), 22.0, 15.0, 29.0) == (right, fits)
    assert _verdict(_story(-30), -58.0, -69.0, -50.0) == (
        "off",
        "the clock is 1 h slow (likely daylight saving; the light says 58 min, give or take "
        "10 min)",
    )
    assert _verdict(_story(-HALF), -718.0, -729.0, -710.0)[0] == "twelve hours"
    assert _verdict(_story(0, {0: 0.1, 3: 0.9}), 0.0, -9.0, 9.0) == (right, fits)
    gains = _verdict(_story(0, {0: 0.09, 3: 0.91}), 0.0, -9.0, 9.0)
    assert gains == ("drifts", "the clock gains 2.7 min a week")
    loses = _verdict(_story(0, {0: 0.0, -3: 1.0}), 0.0, -9.0, 9.0)
    assert loses == ("drifts", "the clock loses 3.0 min a week")
    step = Step(SWITCH.timestamp(), -3600)
    assert _verdict(_story(0, None, step), 0.0, -9.0, 9.0) == (
        "an hour since the switch",
        "right before 2025-11-02, an hour further behind since",
    )
    for chance, verdict in ((0.9, "cannot tell"), (0.021, "cannot tell"), (0.02, right)):
        story = replace(_story(0, None, step), step_chance=chance)
        assert _verdict(story, 0.0, -9.0, 9.0)[0] == verdict
    story = replace(_story(0, None, step), step_chance=0.5)
    told = verdicts._verdict(story, Estimate(0.0, -9.0, 9.0), 20, 20, 1)
    assert told[1] == "it may have changed with daylight saving on 2025-11-02: only 1 burst since"


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (0, "right"), (1, "1 min fast"), (-59, "59 min slow"), (60, "1 h fast"),
        (-61, "1 h 1 min slow"), (125, "2 h 5 min fast"),
    ],
)  # fmt: skip
def test_minutes_in_words(value: int, words: str) -> None:
    assert verdicts.fast_or_slow(value) == words


def test_whole_hours_widths_and_sets_of_offsets() -> None:
    assert verdicts.whole_hour(Estimate(62.0, 60.0, 70.0)) == 60.0
    assert verdicts.whole_hour(Estimate(58.0, 50.0, 60.0)) == 60.0
    assert verdicts.whole_hour(Estimate(62.0, 61.0, 70.0)) is None
    assert verdicts.whole_hour(Estimate(-91.0, -121.0, -80.0)) == -120.0
    assert verdicts.whole_hour(Estimate(None, None, None)) is None
    assert verdicts.width(Estimate(0.0, -1.0, 3.0)) == 4.0
    assert verdicts.width(Estimate(0.0, None, 3.0)) == 1440.0
    share = np.zeros(DAY_STEPS)
    share[[0, 1, -1]] = 0.5, 0.3, 0.2
    assert smallest_set(share, 0.4).tolist() == [-HALF]
    assert smallest_set(share, 0.79).tolist() == [-HALF, 1 - HALF]
    assert smallest_set(share, 0.99).tolist() == [-HALF, 1 - HALF, HALF - 1]
    assert arc(np.array([-HALF, 1 - HALF, HALF - 1])) == (HALF - 1, HALF + 1)
    assert arc(np.array([-3, 5])) == (-3, 5)
    assert [minutes(x) for x in (0, 1, HALF, -HALF, HALF - 1)] == [0, 2, -720, -720, 718]
    assert steps_of(np.array([0.0, 119.9, 120.0, -1.0])).tolist() == [0, 0, 1, -1]
    found = verdicts.interval(replace(_story(3), share=share))
    assert (found.value, found.low, found.high) == (-720.0, -723.0, -717.0)


def test_brightness_decides_where_all_are_in_color_and_lie_in_two_heaps() -> None:
    n = 200
    bright = np.r_[np.full(n // 2, 40.0), np.full(n // 2, 120.0)]
    day, by = verdicts.daylight(np.ones(n), bright)
    assert (by, day.sum(), day[:100].any()) == (True, 100, False)
    even = np.linspace(0, 200, n)
    assert verdicts.daylight(np.ones(n), even)[1] is False
    colour = np.ones(n)
    colour[:6] = 0.0
    # 3 of 100 in the dark are enough to go by color: 6 of 200, and 5 at least.
    assert verdicts.daylight(colour, bright)[1] is False
    colour[5] = 1.0
    assert verdicts.daylight(colour, bright)[1] is True
    assert verdicts.daylight(np.r_[np.zeros(5), np.ones(5)], np.ones(10))[1] is False
    assert verdicts.daylight(np.array([0.5, 0.49] * 6), np.ones(12))[0].sum() == 6
    assert verdicts._two_heaps(np.r_[np.full(4, 1.0), np.full(5, 9.0)]) is None
    assert verdicts._two_heaps(np.r_[np.full(5, 1.0), np.full(5, 9.0)]) == 5.0
    assert verdicts._two_heaps(np.r_[np.full(5, 1.0), np.full(5, 9.0), np.nan]) == 5.0
    assert verdicts._two_heaps(np.full(20, 3.0)) is None


def test_too_few_bursts_or_one_light_tell_nothing() -> None:
    nothing: Any = None
    few = verdicts.judge(nothing, np.zeros(9), np.zeros(9, dtype=bool))
    assert (few.verdict, few.why, few.bursts) == (
        "cannot tell",
        "only 9 bursts: too few to check the clock",
        9,
    )
    for day, when in ((True, "by day"), (False, "in the dark")):
        one = verdicts.judge(nothing, np.zeros(10), np.full(10, day))
        assert one.why == f"all 10 bursts were taken {when}"


def test_of_offsets_a_day_apart_the_one_that_suits_the_deployment() -> None:
    start = HUNG.hung.timestamp()
    off = Judged("off", Estimate(600.0, 590.0, 610.0), 50, 9, 9, "why")

    def at(first_h: float, last_h: float, judged: Judged = off) -> Judged:
        return _on_right_day(judged, HUNG, start + 3600 * np.array([first_h, last_h]))

    # Read 13 hours behind the hanging and 10 hours ahead: 3 hours behind it.
    assert at(13.0, 30.0).ahead.value == 600.0
    assert at(13.0, 30.0).why == "why"
    # Read 13 hours before the hanging: only a day later does it fit.
    assert at(-13.0, 30.0).ahead == Estimate(-840.0, -850.0, -830.0)
    right = replace(off, verdict="right")
    assert at(-13.0, 30.0, right) == right
    none = replace(off, ahead=Estimate(None, None, None))
    assert at(-13.0, 30.0, none) == none
    # 720 minutes fast or slow fit alike, and as small.
    half = replace(off, ahead=Estimate(720.0, 710.0, 730.0))
    assert at(200.0, 300.0, half).why == "why; the day may be one off"


def test_a_stretch_is_set_at_its_end_of_the_bounds_where_light_tells_nothing() -> None:
    shown, day = np.arange(9.0), np.zeros(9, dtype=bool)
    sky: Any = None
    behind = place(shown, day, OffsetBounds(100.0, 900.0, True), sky)
    assert (behind.shift, behind.low, behind.high, behind.fits) == (100.0, 100.0, 900.0, True)
    assert behind.why == (
        "can't check this clock by daylight: its pictures go right behind the one before"
    )
    before = place(shown, day, OffsetBounds(100.0, 900.0, False), sky)
    assert before.shift == 900.0
    assert before.why.endswith(": its pictures go as late as they can be")
    none = place(shown, day, OffsetBounds(900.0, 100.0, True), sky)
    assert (none.fits, none.why) == (False, "the frames around it leave it no room")
    assert place(shown, day, OffsetBounds(100.0, 100.0, True), sky).fits


def test_pieces_of_a_clock_read_what_it_showed() -> None:
    (piece,) = clock_pieces(HUNG, TZ)
    assert piece.utc(datetime(2025, 11, 5, 12)) == datetime(2025, 11, 5, 16, tzinfo=UTC)
    one = ClockPiece(datetime(2025, 10, 1), datetime(2025, 10, 2), -3600.0, 0.5)
    assert one.utc(datetime(2025, 10, 1, 0, 0, 10)) == datetime(2025, 10, 1, 1, 0, 5, tzinfo=UTC)
    local = clock_pieces(replace(HUNG, clock="local"), TZ)
    shown = [(p.shown_from, p.shown_until, p.offset_s) for p in local]
    (at,) = (i for i, one in enumerate(shown) if one[1] == datetime(2025, 11, 2, 2))
    assert (shown[at][2], shown[at + 1][0]) == (-14400.0, datetime(2025, 11, 2, 1))
    assert shown[at + 1][2] == -18000.0
    strange = clock_pieces(replace(HUNG, clock="noon"), TZ)[0]
    assert (strange.offset_s, strange.basis) == (
        -14400.0, "hung, since the rule 'noon' is not understood")  # fmt: skip
    day = timedelta(days=1)
    gone = ClockFix("c-1", "shift", 5.0, datetime(2025, 10, 5), datetime(2025, 10, 5))
    strange_fix = ClockFix("c-2", "no such kind", 5.0, None, None)
    assert clock_pieces(HUNG, TZ, (gone, strange_fix)) == [piece]
    inside = ClockFix("c-3", "utc_offset", "-05:30", gone.shown_from, gone.shown_from + day)
    found = clock_pieces(HUNG, TZ, (inside,))
    assert [p.offset_s for p in found] == [-14400.0, -19800.0, -14400.0]
    assert [p.own_s for p in found] == [0.0, None, 0.0]
    shifted = clock_pieces(HUNG, TZ, (ClockFix("c-4", "shift", 600.0, None, None),))[0]
    assert (shifted.offset_s, shifted.own_s) == (-15000.0, -600.0)
