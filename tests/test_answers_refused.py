"""What no answer can be given to, in one line each, and what is said where little is known."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pandas as pd
import pytest
from answers_small import BENCH, by_hand, small
from answers_world import World

from camsign.answers import chances, lake, properties
from camsign.answers.ask import MOST_ROWS, Table, ask
from camsign.answers.bedding import bedding
from camsign.answers.beds_known import _load, _save
from camsign.answers.calendar import calendar
from camsign.answers.frames import _travel
from camsign.answers.lake_compare import LakeCompare, LakeCompareRow
from camsign.answers.lake_visits import LakeVisits
from camsign.answers.lake_when import LakeWhen, LakeWhenRow
from camsign.answers.lately import Lately
from camsign.answers.makers_beds import beds_around
from camsign.answers.near import Near, near
from camsign.answers.result import Figure, Watch
from camsign.answers.rivals import rivals
from camsign.answers.scope import Scope, against, scope_of
from camsign.answers.visits import Visits, visits
from camsign.answers.visits import _why as _why_of_visits
from camsign.answers.when import when
from camsign.answers.where import where
from camsign.errors import UsageError
from camsign.logbook.session import Session
from camsign.stats.beds import Beds
from camsign.tags.links import OneBuck

BARE, NONE = Watch((), 0, 0, None, None), Figure(None, None, None)
COVERED = Watch(("CAM1",), 20, 19, date(2025, 10, 1), date(2025, 10, 20))


@pytest.fixture(scope="module")
def session() -> Session:
    return small()


def _refused(words: str, ask_: Any, *args: Any, **more: Any) -> None:
    with pytest.raises(UsageError) as e:
        ask_(*args, **more)
    assert e.value.what == words


def test_questions_about_one_thing_refuse_more(session: Session) -> None:
    everywhere = scope_of(session)
    _refused("this question is about one area", bedding, session, everywhere)
    _refused("this question is about one area", rivals, session, everywhere)
    _refused("this question is about one buck", where, session, everywhere)
    both = scope_of(session, ["Split Brow"], [BENCH, "Alder Fork"])
    _refused("this question is about one buck and one area", when, session, both)
    _refused("a calendar is of one area", calendar, session, everywhere)
    _refused("a calendar is of one area", calendar, session, both)
    knob = scope_of(session, areas=["Far Knob"])
    words = "no camera watched there: season 2025 (2025-07-01 to 2026-06-30)"
    _refused(words, calendar, session, knob)
    here, words = scope_of(session, areas=[BENCH]), "a distance of {} is not between 0 and 1.2 mi"
    _refused(words.format("-1 yd"), bedding, session, here, -1.0)
    _refused(words.format("1.3 mi"), bedding, session, here, 2100.0)
    assert where(session, scope_of(session, ["Button"]), date(2020, 1, 1)).said == (
        "Can't tell where Button beds: not enough nights covered. No camera was up close enough "
        "then."
    )


def test_scopes_refuse_what_is_no_time_or_reach(session: Session) -> None:
    def refused(words: str, **said: Any) -> None:
        _refused(words, scope_of, session, **said)

    two = "a season doesn't go with a first or last day"
    day = date(2025, 11, 1)
    refused(two, season=2025, first=day)
    refused(two, season=2025, last=day)
    refused("season 1900 is no year", season=1900)
    refused("season 2199 is no year", season=2199)
    refused("the days run backwards, from 2025-11-02 to 2025-11-01", first=date(2025, 11, 2),
            last=day)  # fmt: skip
    refused("the last 0 days are no days", days_back=0)
    back = "--last counts back from a day: it takes no season, phase or first day"
    for more in ({"season": 2025}, {"phase": "rut"}, {"first": day}):
        refused(back, days_back=3, **more)
    refused("a phase doesn't go with a first or last day", phase="rut", first=day)
    refused("a phase doesn't go with a first or last day", phase="rut", last=day)
    refused("does have no names", bucks=["Split Brow"], who="does")
    refused("a reach of -1 yd is not between 0 and 1.2 mi", reach_m=-1.0)
    assert scope_of(session, reach_m=2000.0).reach_m == 2000.0
    assert scope_of(session, reach_m=0.0).reach_m == 0.0
    without = World().session()
    bare = World(replace(without.settings, phases={})).session()
    _refused("logbook.toml names no phases", scope_of, bare, phase="rut")


def test_scopes_are_said_in_words(session: Session) -> None:
    day, later = date(2025, 11, 1), date(2025, 11, 3)

    def asked(**said: Any) -> str:
        return scope_of(session, **said).asked()

    assert asked() == "season: 2025 (2025-07-01 to 2026-06-30)"
    assert asked(phase="RUT", season=2024) == "days: rut (2024-11-05 to 2024-11-24)"
    assert asked(first=day, last=later) == "days: 2025-11-01 to 2025-11-03"
    assert asked(first=day) == "days: from 2025-11-01 on"
    assert asked(last=day) == "days: up to 2025-11-01"
    assert asked(days_back=3, last=later) == "days: 2025-11-01 to 2025-11-03"
    assert asked(days_back=1, last=day) == "days: 2025-11-01 to 2025-11-01"
    here = scope_of(session, areas=[BENCH], phase="rut")

    def other(word: str) -> tuple[str, Any]:
        found = against(session, here, word)
        return found.asked(), found.area_ids

    bench, fork = ("a-hemlock-bench",), ("a-alder-fork",)
    assert other("2023") == ("season: 2023 (2023-07-01 to 2024-06-30)", bench)
    assert other("earlier") == ("days: up to 2025-11-04", bench)
    assert other("2025-10-01..") == ("days: from 2025-10-01 on", bench)
    assert other("..2025-10-01") == ("days: up to 2025-10-01", bench)
    assert other("2025-10-01..2025-10-02") == ("days: 2025-10-01 to 2025-10-02", bench)
    assert other("alder fork") == ("days: rut (2025-11-05 to 2025-11-24)", fork)
    assert against(session, here, "earlier").season is None
    assert scope_of(session, who="does").buck_ids is None
    assert scope_of(session, ["Doe-Fawn", "fawns alone"]).buck_ids == ("doe-fawn", "fawn")


def test_a_phase_over_the_turn_of_the_year_ends_in_the_next() -> None:
    world = World()
    one = World(replace(world.settings, phases={"late": ((11, 25), (1, 31))})).session()
    found = scope_of(one, phase="late", season=2025)
    assert (found.first, found.last) == (date(2025, 11, 25), date(2026, 1, 31))
    one = World(replace(world.settings, phases={"green": ((4, 1), (5, 31))})).session()
    found = scope_of(one, phase="green", season=2025)
    assert (found.first, found.last) == (date(2026, 4, 1), date(2026, 5, 31))


def test_near_refuses_what_lies_beyond_what_is_kept(session: Session) -> None:
    everywhere = scope_of(session)
    words = "a distance of {} is not between 0 and 1.2 mi"
    _refused(words.format("-1 yd"), near, session, everywhere, within_m=-1.0)
    _refused(words.format("1.3 mi"), near, session, everywhere, within_m=2100.0)
    _refused("-1 days before or after the sign was made", near, session, everywhere, days=-1)
    _refused("no sign is a 'nest'", near, session, everywhere, ["rub", "nest"])
    assert near(session, everywhere, within_m=2000.0, days=0).table is not None


def _near(*rows: tuple[str | None, str], whose: tuple[str, ...] | None = None) -> Near:
    table = pd.DataFrame(rows, columns=["buck", "sign"]).astype({"buck": "category"})
    return Near(table, {}, "", (), whose)


def test_near_says_who_was_near_the_most_sign() -> None:
    assert _near().said == "Can't tell: no camera was up close enough then."
    assert _near(("A", "s1"), ("A", "s2"), ("B", "s2"), (None, "s3")).said == (
        "A was near 2 pieces of sign, the most of any buck; deer were pictured near 3 pieces of "
        "sign in all. Being near a rub doesn't make it his."
    )
    assert _near((None, "s1"), (None, "s1")).said == (
        "Deer were pictured near 1 piece of sign while it was made, no buck among them with a name."
    )
    assert _near().columns() == ("buck", "sign")


def test_near_makes_no_claim_about_bucks_nobody_asked_for() -> None:
    """Asked for one buck, it said that he was near the most sign of any."""
    assert _near(("A", "s1"), ("A", "s2"), whose=("A",)).said == (
        "A was pictured near 2 pieces of sign. Being near a rub doesn't make it his."
    )
    assert _near(("A", "s1"), ("B", "s1"), ("B", "s2"), whose=("A", "B")).said.startswith(
        "A was pictured near 1 piece and B was pictured near 2 pieces of sign."
    )


def test_what_little_is_known_is_said_so(session: Session) -> None:
    none = Visits((), {"Bench": COVERED}, "", ())
    assert none.said == (
        "No visit by a buck with a name; absence of pictures is not absence of the buck."
    )
    assert replace(none, tagged="3 pictures of A").said == "No rate yet: 3 pictures of A."
    assert replace(none, watch={"Bench": BARE}).said.startswith(
        "Can't tell: not enough nights covered. No"
    )
    drawn = "no buck with a name was pictured there"  # there is no there without an area
    assert replace(none, watch={}).said.startswith("Can't tell: no area is drawn yet")
    assert not any(drawn in line for line in _why_of_visits(scope_of(session), True, {}))
    assert any(drawn in line for line in _why_of_visits(scope_of(session), True, {"Bench": BARE}))
    (row,) = visits(session, scope_of(session, ["Button"], [BENCH])).rows
    one = replace(none, rows=(row,))
    assert one.said.startswith("Button was never pictured at Hemlock Bench in 27 days covered; ")
    row = replace(row, visits=2, nights_seen=1, nights_watched=9, seen_on_watch=0)
    two = replace(none, rows=(row, replace(row, buck="Tin Ear")))
    assert two.said == "Nobody stands out: 2 visits each to one area by Button, Tin Ear."
    thin = replace(none, rows=(replace(row, part="October 2025"),))
    assert thin.said == (
        "Button was at Hemlock Bench in October 2025: 2 visits, on 1 day (none of the 9 fully "
        "covered). That is too few days to go by."
    )
    never = when(session, scope_of(session, ["Button"], ["Far Knob"]), band=False)
    assert never.said == (
        "Can't tell yet when Button is at Far Knob: not enough nights covered. No camera was up "
        "close enough then."
    )
    assert replace(never, days_since_last=1).ago == "1 day before the last day covered"
    assert (replace(never, days_since_last=0).ago, never.ago) == ("the last day covered", "")


def test_what_is_hot_or_not_is_said() -> None:
    first, last = date(2025, 11, 1), date(2025, 11, 10)

    def said(watch: Watch, **more: Any) -> str:
        return Lately((), first, last, {"Bench": watch}, "", (), **more).said

    days = "from 2025-11-01 to 2025-11-10"
    of_days = "for 2025-11-01 to 2025-11-10"
    assert said(COVERED).startswith(f"Nothing hot {days}; absence")
    told = "3 of 23 nights aren't sorted, so they don't count yet"
    waits = replace(COVERED, nights_unsorted=COVERED.nights_watched)
    both = Lately((), first, last, {"Bench": COVERED, "Knob": waits}, "", ())
    assert both.untold == (f"Knob: can't tell, {waits.unsorted_in_words()}",)
    assert said(replace(COVERED, nights_unsorted=3)).startswith(f"Nothing hot {days} ({told}); ")
    waits = replace(COVERED, nights_watched=3, nights_unsorted=3)
    assert said(waits) == (
        f"Can't tell yet {of_days}: 3 of 6 nights aren't sorted, so they don't count yet. Sort "
        "them first. No fresh sign logged."
    )
    assert said(BARE, newest=last, pictured=first) == (
        f"Can't tell {of_days}: not enough nights covered. No camera was up close enough "
        "then. Your newest tagged picture is from 2025-11-01. No fresh sign logged."
    )
    assert "are in, but not sorted. Sort them" in said(replace(BARE, nights_unsorted=2))


def _lake_row(name: str, visits_: int, rate: tuple[float, float, float]) -> LakeCompareRow:
    given: dict[str, Any] = dict.fromkeys(LakeCompareRow.__dataclass_fields__, 0)
    figures = {f: NONE for f, v in LakeCompareRow.__annotations__.items() if "Figure" in str(v)}
    given |= figures | {"property": name, "season": 2025, "camera_nights": 10, "mature": 2}
    return LakeCompareRow(
        **(given | {"mature_visits": visits_, "mature_per_100_nights": Figure(*rate)})
    )


def test_the_lake_says_who_leads_or_that_nobody_can_tell() -> None:
    best, other = _lake_row("A", 8, (80, 60, 100)), _lake_row("B", 2, (20, 10, 61))

    def said(*rows: LakeCompareRow) -> str:
        return LakeCompare(rows, {}, "", ()).said

    nothing = "Can't tell: not enough nights covered. No night was covered and sorted."
    assert said() == said(replace(best, camera_nights=0)) == nothing
    assert said(replace(best, mature_visits=0)).startswith("No visit by a mature buck with a name")
    lead = (
        "Most visits by mature bucks for its nights: A in 2025, 8 visits by 2 mature bucks on 10 "
        "camera nights."
    )
    assert said(replace(other, mature_per_100_nights=Figure(20, 10, 59)), best) == lead
    assert said(best, other).startswith(f"{lead} Too close to call with B")
    assert LakeVisits((), {"x": BARE}, "", ()).said == nothing
    assert LakeVisits((), {"x": COVERED}, "", ()).said.startswith("No visit by a buck with a name;")
    given: dict[str, Any] = dict.fromkeys(LakeWhenRow.__dataclass_fields__, 0)
    row = LakeWhenRow(**(given | {"visits": 1, "chance": NONE}))
    assert LakeWhen((row,), {}, "", ()).said == (
        "No visit in shooting light on a day covered; 1 visit in all."
    )


def test_a_damaged_file_of_the_lake_says_nothing_of_itself(tmp_path: Path) -> None:
    con = duckdb.connect()
    text = "COPY (SELECT 1 AS a) TO '{}' (FORMAT parquet, KV_METADATA {{{}}})"
    for name, key in (("a", "camsign: 'one'"), ("b", "other: 'x'")):
        con.execute(text.format(tmp_path / f"{name}.parquet", key))
    whole = lake.sums_of(con, tmp_path)
    (tmp_path / "c.parquet").write_bytes(b"no parquet")
    found = lake.sums_of(con, tmp_path)
    assert found == whole | {tmp_path / "c.parquet": ""}
    assert lake.sums_of(con, tmp_path / "none") == {}


def test_own_questions_give_their_rows_as_any_form(session: Session) -> None:
    table = ask(
        small(),
        "SELECT buck, count(*) n, max(utc) utc, [1, 2] many FROM detections"
        " WHERE buck IS NOT NULL GROUP BY buck ORDER BY n DESC, buck LIMIT 1",
    )
    assert table.columns == ("buck", "n", "utc", "many")
    (row,) = table.to_records(flat=True)
    assert (row["buck"], row["many"]) == ("Split Brow", "[1, 2]")
    (given,) = table.to_json()
    assert given["many"] == [1, 2]
    assert given["utc"].startswith("2025-11-1")
    twice = Table(("a", "a"), ((1, 2),), ("INTEGER", "INTEGER")).to_frame()
    assert twice.to_numpy().tolist() == [[1, 2]]
    with pytest.raises(UsageError, match=f"more than {MOST_ROWS:,} rows"):
        ask(small(), "SELECT * FROM range(1000001)")
    assert len(ask(small(), "SELECT * FROM range(1000000)").rows) == MOST_ROWS
    with pytest.raises(UsageError, match=r"ran for more than 0\.01 s"):
        ask(small(), "SELECT count(*) FROM range(3000000) a, range(3000000) b", 0.01)


def test_headings_of_a_way_lie_about_where_the_camera_faces() -> None:
    none = _travel(None, 45.0)
    assert (none.value, _travel("left", None).low) == (None, None)
    # Facing north, left in the picture is west; the spread lies evenly on both sides.
    left, right = _travel("left", 0.0), _travel("right", 350.0)
    assert (left.value, right.value) == (270.0, 80.0)
    assert 0 < left.value - left.low == left.high - left.value < 90
    assert (right.high - right.value) % 360 == (right.value - right.low) % 360 > 0


def test_back_tests_begin_when_two_weeks_were_watched() -> None:
    few = chances.back_test([0] * 20, np.zeros(20, dtype=int), 1)
    assert few == chances.BackTest(0, None, None, None, None, ())
    # The first forecast is of the week from day 21 on: 15 days are known a week before.
    more = chances.back_test([0, 1] * 11, np.zeros(22, dtype=int), 1)
    assert (more.days, more.happened) == (1, 1.0)
    assert more.brier_of_mean == pytest.approx((1 - 7 / 15) ** 2)
    none = chances.back_test([-1] * 40, np.zeros(40, dtype=int), 1)
    assert none.days == 0


def test_beds_are_kept_and_read_back_or_found_anew(tmp_path: Path) -> None:
    shape = (2, 1, 3)
    one = Beds(np.zeros(shape, np.uint8), np.ones((1, 3, 2)), np.ones((2, 1)), np.ones((2, 1, 2)),
               np.ones((1, 1)), np.ones((1, 1, 2)))  # fmt: skip
    path = tmp_path / "beds" / "a.npz"
    assert _load(path) is None
    _save(path, one)
    found = _load(path)
    assert found is not None
    assert (found.draws == one.draws).all() and found.passes.shape == (1, 1, 2)
    path.write_bytes(b"no")
    assert _load(path) is None
    for n in range(25):
        _save(path.with_name(f"b{n:02d}.npz"), one)
    assert len(list(path.parent.iterdir())) == 24
    (tmp_path / "file").write_text("")
    _save(tmp_path / "file" / "a.npz", one)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["beds", "file"]


def test_a_sign_far_from_every_area_tells_of_no_bed(session: Session) -> None:
    window = (date(2025, 10, 15), date(2025, 10, 28))
    with by_hand():
        far = beds_around(session, scope_of(session), "s-nowhere", window, ["b-split-brow"])
        early = beds_around(
            session, scope_of(session), "s-in", (date(2025, 8, 1), date(2025, 8, 2)), ["b-x"]
        )
    for found in (far, early):
        assert (found.days, found.shares(), found.in_words(0)) == (0, None, None)
        assert found.counted.shape[2] == 0


def test_who_is_who_in_several_logbooks(tmp_path: Path) -> None:
    def buck(book: str, id_: str, name: str, *linked: str) -> OneBuck:
        return OneBuck(book, id_, name, frozenset(linked))

    known = properties.Known({
        "North": [buck("n", "b-1", "Split Brow", "s/b-7"), buck("n", "b-2", "Hen")],
        "South": [buck("s", "b-7", "Old Split", "n/b-1"), buck("s", "b-8", "Tin")],
    })  # fmt: skip
    assert known.word("North", "split brow") == "split brow"
    assert known.word("North", "B-1") == "B-1"
    assert known.word("North", "Old Split") == "b-1"
    assert known.word("South", "Split Brow") == "b-7"
    assert known.word("North", "Tin") == "Tin"
    assert known.word("North", "nobody") == "nobody"
    assert known.linked() == [{"North": "Split Brow", "South": "Old Split"}]
    assert known.one("South", "old split").buck_id == "b-7"
    with pytest.raises(UsageError, match="there is no buck 'Hen'"):
        known.one("South", "Hen")


def test_a_scope_without_a_season_is_told_by_its_days() -> None:
    scope = Scope(None, None, date(1900, 1, 1), date(2199, 12, 31), None, 1, 1, 1)
    assert scope.asked() == "days: all"
    assert scope.sql() == {"bucks": None, "areas": None, "first": date(1900, 1, 1),
                           "last": date(2199, 12, 31), "reach": 1}  # fmt: skip
