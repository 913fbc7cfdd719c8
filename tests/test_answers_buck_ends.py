"""A buck who ended counts nowhere from that day on: not in any answer."""

from __future__ import annotations

from datetime import date

import pytest
from answers_world import World

from camsign.answers.bedding import bedding
from camsign.answers.bucks import day_in
from camsign.answers.calendar import calendar
from camsign.answers.compare import compare
from camsign.answers.lately import lately
from camsign.answers.makers import makers
from camsign.answers.rivals import rivals
from camsign.answers.scope import scope_of
from camsign.answers.visits import visits
from camsign.answers.when import when
from camsign.answers.where import where
from camsign.logbook.session import Session

SEEN = date(2025, 10, 20)


@pytest.mark.parametrize(
    ("words", "day"),
    [
        ("shot 2025-11-12", date(2025, 11, 12)),
        ("hit on Route 3, Nov 9", date(2025, 11, 9)),
        ("taken by a neighbor on November 2nd, 2024", date(2024, 11, 2)),
        ("9 Dec 2025, found dead", date(2025, 12, 9)),
        ("1/5/2026 coyotes", date(2026, 1, 5)),
        # The first such day after his last picture.
        ("found dead Jan 3", date(2026, 1, 3)),
        ("shot somewhere", None),
        ("2025-13-45", None),
    ],
)
def test_the_day_in_peoples_words(words: str, day: date | None) -> None:
    assert day_in(words, SEEN) == day


def _season(ended: str | None) -> Session:
    """Split Brow beds on the bench until October 19; Mud Hen now and then."""
    world = World()
    world.buck("Split Brow", 5.5, ended=ended)
    world.buck("Mud Hen", 4.5)
    world.area("Hemlock Bench", (0, 0), 80)
    hung = world.camera("CAM01", (180, 0), date(2025, 10, 1), date(2025, 11, 9))
    for clock, travel in (("07:10", 265.0), ("17:30", 100.0)):
        days = [f"2025-10-{d:02d} {clock}" for d in range(2, 20, 2)]
        world.seen("b-split-brow", hung, *days, travel_deg=travel)
        world.seen("b-mud-hen", hung, "2025-10-19 12:10")
    world.sign("rub", (150, 0), date(2025, 11, 9), (date(2025, 11, 1), date(2025, 11, 9)), 90.0)
    return world.session()


GONE = "shot 2025-10-20"


@pytest.mark.thorough
def test_bedding_rests_on_those_who_live() -> None:
    for ended, strong in ((None, True), (GONE, False)):
        session = _season(ended)
        answer = bedding(session, scope_of(session, areas=["Hemlock Bench"]))
        assert answer.said.startswith("Split Brow beds here") == strong
        assert any("Split Brow ended 2025-10-20" in line for line in answer.why) != strong
        # Asked of the days before his end he was there.
        then = scope_of(session, areas=["Hemlock Bench"], last=date(2025, 10, 19))
        assert "Split Brow" in bedding(session, then).said


@pytest.mark.thorough
def test_rivals_compare_and_lately_count_him_no_more() -> None:
    for ended, mature in ((None, 2), (GONE, 1)):
        session = _season(ended)
        everything = scope_of(session)
        found = rivals(session, scope_of(session, areas=["Hemlock Bench"]))
        assert found.minimum == mature
        assert any("gone by then" in line for line in found.why) == (mature == 1)
        (row,) = compare(session, everything).rows
        assert (row.visits > 5) == (mature == 2)
        lately_on = scope_of(session, last=date(2025, 10, 22))
        (fresh,) = lately(session, lately_on).rows
        assert ("Split Brow" in fresh.bucks) == (mature == 2)


def test_makers_never_name_one_who_had_ended() -> None:
    for ended, named in ((None, True), (GONE, False)):
        session = _season(ended)
        answer = makers(session, scope_of(session), "s-0000")
        assert ("Split Brow" in {m.buck for m in answer.makers}) == named


def test_pictures_from_after_his_end_are_not_his() -> None:
    session = _season("shot 2025-10-09")
    (row,) = [r for r in visits(session, scope_of(session)).rows if r.buck == "Split Brow"]
    assert row.last_seen is not None
    assert row.last_seen.date() == date(2025, 10, 8)


def test_a_bed_of_one_who_ended_is_not_called_empty_country() -> None:
    """Nothing shows one, it said, above a row that shows him on nine days."""
    session = _season(GONE)
    answer = bedding(session, scope_of(session, areas=["Hemlock Bench"], bucks=["Split Brow"]))
    assert answer.said.startswith("Split Brow bedded here until he ended 2025-10-20. ")
    assert "Probably no living buck beds here" in answer.said
    (row,) = answer.bucks
    assert row.named == "Split Brow (5.5, ended)"
    assert row.days_bedded.n == 18  # October 2 to 19: who is dead beds nowhere
    alone = rivals(session, scope_of(session, areas=["Hemlock Bench"], bucks=["Split Brow"]))
    assert alone.said.startswith(
        "No living mature buck in pictures at Hemlock Bench; Split Brow came, and ended."
    )
    assert "gone by then and not counted: Split Brow" in compare(session, scope_of(session)).why


def test_nights_after_his_end_make_him_no_rarer() -> None:
    """Of forty nights twenty came after; he was said to come half as often, and less of late."""
    alive, gone = _season(None), _season(GONE)
    (then,) = visits(alive, scope_of(alive, bucks=["Split Brow"], last=date(2025, 10, 20))).rows
    (row,) = visits(gone, scope_of(gone, bucks=["Split Brow"])).rows
    assert (row.visits, row.nights_watched) == (then.visits, then.nights_watched)
    assert row.per_100_nights == then.per_100_nights and row.trend == then.trend
    assert any("he ended 2025-10-20: nights after that" in line for line in row.why)


def test_of_one_who_ended_no_picture_is_promised() -> None:
    asked = {"bucks": ["Split Brow"], "areas": ["Hemlock Bench"]}
    alive, gone = _season(None), _season(GONE)
    told = when(gone, scope_of(gone, **asked), band=False)
    assert told.said.startswith(
        "Split Brow is gone: he ended 2025-10-20. Before that: you got a picture of Split Brow"
    )
    then = when(alive, scope_of(alive, **asked, last=date(2025, 10, 20)), band=False)
    assert told.shooting_light_chance == then.shooting_light_chance
    assert then.said.startswith("You'd get a picture")
    days = calendar(gone, scope_of(gone, **asked)).days
    assert max(day.day for day in days if day.state == "watched") <= date(2025, 10, 20)


def test_of_an_end_without_any_day_none_is_made_up() -> None:
    """He ended Jan 1 of the year 1, it said of one who is in no sure picture."""
    world = World()
    world.buck("Ghost", 5.5, ended="shot by a neighbor")
    world.area("Hemlock Bench", (0, 0), 80)
    hung = world.camera("CAM01", (180, 0), date(2025, 10, 1), date(2025, 11, 9))
    world.seen("b-ghost", hung, "2025-10-05 07:10", "2025-10-07 07:10", sure="unsure")
    session = world.session()
    one = scope_of(session, bucks=["Ghost"], areas=["Hemlock Bench"])
    assert where(session, scope_of(session, bucks=["Ghost"])).said.startswith("Ghost is gone.")
    assert when(session, one, band=False).said.startswith("Ghost is gone. Before that: can't")
    (row,) = visits(session, one).rows
    assert any(line.startswith("he is gone, nobody knows since when") for line in row.why)


def test_rivals_count_at_least_those_of_whom_bedding_is_sure() -> None:
    """Maybe 1, anywhere from 0 to 1, it said beside: he beds here; so did `compare`: 1 (0–1)."""
    session = _season(None)
    one = scope_of(session, areas=["Hemlock Bench"], bucks=["Split Brow"])
    assert bedding(session, one).verdict == "confirmed"
    found = rivals(session, one)
    assert " 1 bedded here at least once" in found.said
    (row,) = compare(session, one).rows
    assert row.verdict == "confirmed"
    for many in (found.estimate, row.rivals):
        assert (many.value, many.low, many.high) == (1.0, 1.0, 1.0)
