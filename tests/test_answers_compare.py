"""Which area, and what is hot."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from answers_world import World

from camsign.answers.bedding import bedding
from camsign.answers.compare import compare
from camsign.answers.lately import Lately, LatelyRow, lately
from camsign.answers.result import Watch
from camsign.answers.scope import scope_of
from camsign.answers.unsorted import sort_first
from camsign.answers.visits import visits
from camsign.answers.when import when
from camsign.errors import UsageError
from camsign.logbook.session import Session
from camsign.stats.spells import about_rate

FIRST, LAST = date(2025, 9, 1), date(2025, 11, 9)


def _days(n: int, clock: str, start: int, step: int) -> list[str]:
    return [f"{FIRST + timedelta(days=start + step * i)} {clock}" for i in range(n)]


@pytest.fixture(scope="module")
def session() -> Session:
    world = World()
    world.buck("Split Brow", 5.5)
    world.buck("Forky", 1.5)
    places = {"Often": (0, 0), "Seldom": (2500, 0), "Never": (5000, 0), "Bare": (7500, 0)}
    for name, place in places.items():
        world.area(name, place, 80)
        if name != "Bare":
            hung = world.camera(f"CAM {name}", (place[0] + 150, place[1]), FIRST, LAST)
            if name != "Never":
                n, step = (34, 2) if name == "Often" else (4, 15)
                world.seen("b-split-brow", hung, *_days(n, "15:30", 1, step))
                world.seen("b-forky", hung, *_days(60, "12:30", 1, 1))
    autumn = (date(2025, 9, 1), date(2025, 11, 8))
    for i in range(6):
        world.sign("rub", (100 + i, 0), date(2025, 11, 8), autumn, 90.0, state="fresh")
    # Of unknown age and seen fresh in March: no fresh sign of November. Bright counts by itself.
    bright = (date(2025, 9, 1), date(2025, 11, 5))
    world.sign("rub", (110, 0), date(2025, 11, 8), bright, 90.0, state="bright")
    world.sign("rub", (120, 0), date(2025, 11, 8), autumn, 90.0)
    late = (date(2025, 10, 15), date(2025, 12, 31))
    world.sign("rub", (130, 0), date(2026, 3, 14), late, 90.0, state="fresh")
    scraped = (date(2025, 10, 20), date(2025, 11, 9))
    world.sign("scrape", (7500, 50), date(2025, 11, 9), scraped, state="fresh")
    seldom = (date(2025, 9, 1), date(2025, 10, 1))
    world.sign("rub", (2500, 50), date(2025, 10, 1), seldom, state="fresh")
    return world.session()


def test_rank_by_daylight_visits_of_mature_bucks(session: Session) -> None:
    answer = compare(session, scope_of(session))
    by_name = {row.area: row for row in answer.rows}
    assert [row.rank for row in answer.rows] == [1, 2, 3, 4]
    assert answer.rows[0].area == "Often"
    assert answer.rows[-1].area == "Bare"
    # 34 visits in 69 whole days: 4.93 in ten, by plain division.
    often = by_name["Often"].shooting_light_visits_per_10_days
    assert often.value == pytest.approx(4.93, rel=0.1)
    assert often.low is not None and often.high is not None and often.low < 4.93 < often.high
    # Of an area that nobody watched nothing is known: it is not weighed, so not too close either.
    assert by_name["Often"].tied_with == () == by_name["Bare"].tied_with
    assert by_name["Seldom"].visits == 4
    assert "Never" not in by_name["Often"].tied_with
    assert by_name["Bare"].shooting_light_visits_per_10_days.value is None
    assert any("not enough nights covered" in reason for reason in by_name["Bare"].why)


def test_sign_is_per_hectare_in_reach(session: Session) -> None:
    answer = compare(session, scope_of(session))
    often = next(row for row in answer.rows if row.area == "Often")
    # Nine rubs within 280 m of the center: pi 280² m² = 24.63 ha.
    assert often.sign_per_ha == pytest.approx(9 / 24.63, rel=1e-3)
    assert often.seasons == 1
    # Seen in March, made by the end of December; never after the days that were asked for.
    assert often.newest_sign == date(2025, 12, 31)
    november = scope_of(session, first=date(2025, 11, 1), last=date(2025, 11, 30))
    asked = next(row for row in compare(session, november).rows if row.area == "Often")
    assert asked.newest_sign == date(2025, 11, 30)


def test_areas_that_cannot_be_told_apart_are_tied(session: Session) -> None:
    world = World()
    world.buck("Split Brow", 5.5)
    for name, x in (("One", 0), ("Two", 2500)):
        world.area(name, (x, 0), 80)
        hung = world.camera(f"CAM {name}", (x + 150, 0), FIRST, LAST)
        world.seen("b-split-brow", hung, *_days(5, "17:30", 2 + (name == "Two"), 12))
    rows = compare(*(lambda s: (s, scope_of(s)))(world.session())).rows
    assert {(row.area, row.tied_with) for row in rows} == {("One", ("Two",)), ("Two", ("One",))}


def test_compare_keys(session: Session) -> None:
    wanted = {
        "area", "rank", "tied_with", "shooting_light_visits_per_10_days", "verdict", "rivals",
        "sign_per_ha", "seasons", "nights_watched", "why",
    }  # fmt: skip
    answer = compare(session, scope_of(session))
    assert wanted <= set(answer.to_json()["rows"][0])
    assert "shooting_light_visits_per_10_days_low" in answer.to_frame().columns


def test_where_nothing_waits_an_area_without_a_camera_is_no_reason() -> None:
    """Nobody watched the first area, and nothing waits to be sorted at the second."""
    world = World()
    world.area("Bare", (3000, 0), 60)
    world.area("Quiet", (0, 0), 60)
    world.camera("CAM01", (50, 0), date(2025, 9, 1), date(2025, 11, 9))
    session = world.session()
    answer = lately(session, scope_of(session), until=date(2025, 11, 5))
    assert [one.nights_watched for one in answer.watch.values()] == [0, 10]
    assert answer.said.startswith("Nothing hot from 2025-10-27 to 2025-11-05; absence ")
    # But it's said of it: quiet by pictures, and nobody looked, are not the same.
    assert " Can't tell for Bare: no night covered there." in answer.said
    assert answer.untold == ("Bare: can't tell, no night covered",)


def test_lately_newest_first(session: Session) -> None:
    answer = lately(session, scope_of(session, last=date(2025, 11, 9)))
    assert (answer.first, answer.last) == (date(2025, 10, 31), date(2025, 11, 9))
    rows = {row.area: row for row in answer.rows}
    assert answer.rows[0].area == "Bare"
    assert (rows["Bare"].fresh_sign, rows["Bare"].visits) == (1, 0)
    # He came on 1, 3, 5 and 7 November.
    assert (rows["Often"].fresh_sign, rows["Often"].bright_sign) == (6, 1)
    assert rows["Often"].visits == 4
    assert rows["Often"].bucks == ("Split Brow",)
    assert rows["Often"].latest == date(2025, 11, 8)
    assert "Forky" not in {b for row in answer.rows for b in row.bucks}
    assert "Seldom" not in rows or rows["Seldom"].fresh_sign == 0
    assert {"area", "latest", "fresh_sign", "visits", "day", "gray", "bucks"} <= set(
        answer.to_json()["rows"][0]
    )


def test_lately_looks_back_as_far_as_asked(session: Session) -> None:
    wide = lately(session, scope_of(session, last=date(2025, 11, 9)), days=60)
    rows = {row.area: row for row in wide.rows}
    assert rows["Seldom"].fresh_sign == 1
    assert rows["Often"].visits > 10
    assert rows["Often"].bucks == ("Split Brow",)
    with pytest.raises(UsageError, match="1 or more"):
        lately(session, scope_of(session), days=0)


def test_in_april_nothing_of_fall_is_fresh(session: Session) -> None:
    """A rub that looks fresh in March was made in fall."""
    answer = lately(session, scope_of(session), until=date(2026, 3, 14))
    assert (answer.last, sum(row.fresh_sign for row in answer.rows)) == (date(2026, 3, 14), 0)


def test_nothing_is_an_answer() -> None:
    empty = World().session()
    assert lately(empty, scope_of(empty)).rows == ()
    assert any("absence" in reason for reason in lately(empty, scope_of(empty)).why)
    assert compare(empty, scope_of(empty)).rows == ()


@pytest.mark.thorough
def test_a_short_watch_with_nothing_seen_does_not_outrank_what_was_seen() -> None:
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Seen", (0, 0), 80)
    world.area("New", (2500, 0), 80)
    seen = world.camera("CAM1", (150, 0), FIRST, LAST)
    world.camera("CAM2", (2650, 0), LAST - timedelta(days=10), LAST)
    world.seen("b-split-brow", seen, *(f"2025-09-{d:02d} 17:00" for d in (5, 15, 25)))
    session = world.session()
    assert [row.area for row in compare(session, scope_of(session)).rows] == ["Seen", "New"]


def test_of_does_too_what_was_seen_outranks_a_short_watch() -> None:
    """No model says where they bed: by the middle of the rate ten empty days outranked three
    visits in sixty-six."""
    world = World()
    world.area("New", (2500, 0), 80, "doe bedding")
    world.area("Seen", (0, 0), 80, "doe bedding")
    world.camera("CAM2", (2650, 0), LAST - timedelta(days=10), LAST)
    seen = world.camera("CAM1", (150, 0), FIRST, LAST)
    times = [f"2025-09-{d:02d} 16:00" for d in (5, 15, 25)]
    world.seen(None, seen, *times, sex="female", stage="adult")
    session = world.session()
    rows = compare(session, scope_of(session, who="does")).rows
    assert [(row.area, row.visits) for row in rows] == [("Seen", 3), ("New", 0)]
    middle = [row.shooting_light_visits_per_10_days.value or 0.0 for row in rows]
    assert middle[0] < middle[1]


def test_a_first_area_without_a_visit_is_not_called_the_best(session: Session) -> None:
    one = compare(session, scope_of(session))
    first, second = (
        replace(row, area=name, visits=n, tied_with=(other,))
        for row, name, other, n in zip(one.rows, "AB", "BA", (0, 3), strict=False)
    )
    told = replace(one, rows=(first, second)).said
    assert told.startswith(
        f"A or B: too close to call. After {LAST}, the last night covered, expect"
    )
    assert "out in shooting light at A on " in told
    none = replace(one, rows=(first, replace(second, visits=0))).said
    assert none.startswith("Can't tell yet: no picture of mature bucks in shooting light")


def test_gray_light_counts_and_the_unnamed_are_shared_out() -> None:
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Bench", (0, 0), 80)
    hung = world.camera("CAM1", (150, 0), FIRST, LAST)
    # Sunset is between 19:20 and 16:30 in these days; half an hour behind it is gray light.
    world.seen("b-split-brow", hung, "2025-09-10 12:00", "2025-09-15 19:10", "2025-09-20 23:00")
    world.seen(None, hung, "2025-09-25 12:00", "2025-09-27 12:00", "2025-09-27 23:30")
    session = world.session()
    row = compare(session, scope_of(session)).rows[0]
    assert (row.visits, row.day, row.gray) == (2, 1, 1)
    assert row.identified.value == pytest.approx(2 / 4)
    alone = about_rate(daily_of(2)).estimate(per=10)
    assert row.shooting_light_visits_per_10_days.value > 1.4 * alone.value  # type: ignore[operator]


def daily_of(n: int) -> list[int]:
    return [1 if i in range(9, 9 + 5 * n, 5) else 0 for i in range((LAST - FIRST).days)]


@pytest.mark.thorough
def test_does_are_compared_by_company() -> None:
    world = World()
    world.area("Bench", (0, 0), 80, "doe bedding")
    hung = world.camera("CAM1", (150, 0), FIRST, LAST)
    doe = {"sex": "female"}
    world.seen(None, hung, "2025-09-10 12:00", **doe)
    world.seen(None, hung, "2025-09-12 12:00", **doe | {"count": 3})
    world.seen(None, hung, "2025-09-14 12:00", **{"sex": None, "stage": "juvenile"})
    session = world.session()
    row = compare(session, scope_of(session, who="does")).rows[0]
    assert (row.kind, row.visits) == ("doe bedding", 3)
    rows = visits(session, scope_of(session, who="does")).rows
    assert {(r.buck, r.visits) for r in rows} == {
        ("a doe alone", 1), ("does together", 1), ("fawns alone", 1),
    }  # fmt: skip
    assert visits(session, scope_of(session)).rows == ()
    his = when(session, scope_of(session, bucks=["does together"], areas=["Bench"]))
    assert len(his.visits) == 1


def test_where_no_camera_ran_lately_is_not_told_that_nothing_is_new(session: Session) -> None:
    answer = lately(session, scope_of(session), until=date(2026, 4, 11))
    assert answer.said == (
        "Can't tell for 2026-04-02 to 2026-04-11: not enough nights covered. No camera was up "
        "close enough then. Your newest tagged picture is from 2025-11-07. No fresh sign "
        "logged."
    )
    assert not any("neither fresh sign" in line for line in answer.why)
    assert not any("running" in line for line in answer.why)


def test_where_a_camera_hangs_and_its_card_is_not_in_the_card_is_asked_for() -> None:
    """It said that no camera was running, and to hang one, where three hung."""
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Bench", (0, 0), 80)
    first, last = date(2025, 11, 1), date(2025, 11, 10)
    world.camera("CAM01", (120, 0), first, last)
    world.rows["deployments"][0]["taken_down"] = None
    world.camera("CAM02", (-120, 0), first, last)
    session = world.session()
    asked = "No picture from CAM01 covers that time: load the card, if you have it."
    later = scope_of(session, first=date(2025, 12, 1), last=date(2025, 12, 10))
    assert asked in lately(session, later, until=date(2025, 12, 10)).said
    assert asked in compare(session, later).said and asked in visits(session, later).said
    one = scope_of(session, ["Split Brow"], ["Bench"], first=later.first, last=later.last)
    assert asked in when(session, one).said
    assert not any("hang a camera" in line for line in when(session, one).why)
    assert f"to settle it: {asked[:1].lower()}{asked[1:-1]}" in bedding(session, one).why


def test_without_a_camera_since_lately_goes_by_the_last_pictures(session: Session) -> None:
    world_last = session.con.execute("SELECT max(day) FROM detections").fetchone()
    answer = lately(session, scope_of(session, season=2025))
    assert world_last is not None and answer.last == world_last[0]
    assert answer.rows or answer.watch


SEEN = datetime(2025, 11, 10, 7, 0, tzinfo=UTC)
FRESH_ON = date(2025, 11, 14)
ENOUGH = Watch(("CAM1",), 10, 10, date(2025, 11, 5), FRESH_ON)


def _said(*rows: LatelyRow, watch: Watch = ENOUGH, elsewhere: int = 0) -> str:
    watches = {row.area: watch for row in rows} or {"Knob": watch}
    first = date(2025, 11, 5)
    return Lately(rows, first, FRESH_ON, watches, "", (), elsewhere=elsewhere).said


def _lately_row(fresh: int, *bucks: str, bright: int = 0, area: str = "Knob") -> LatelyRow:
    visit, sign = SEEN if bucks else None, FRESH_ON if fresh or bright else None
    latest = sign or SEEN.date()
    return LatelyRow(area, "a", latest, fresh, 2, 1, 1, bucks, visit, 10, 0, bright, sign)


def test_lately_names_what_is_newest_each_with_its_own_day() -> None:
    """It gave the day on which he walked past the rubs as the buck's, who was last there before."""
    assert _said(_lately_row(0, "Slim", "Tall", "Old")) == (
        "Newest: Knob, Slim, Tall and Old in shooting light, last on 2025-11-10. "
        "No fresh sign logged anywhere."
    )
    other = _lately_row(0, bright=3, area="Shelf")
    assert _said(_lately_row(0, "Slim"), other).endswith(
        " No fresh sign logged there; Shelf has 3 bright rubs."
    )
    assert _said(_lately_row(1, "Slim", bright=4)) == (
        "Newest: Knob, Slim in shooting light, last on 2025-11-10; "
        "1 piece of fresh sign and 4 bright rubs, newest 2025-11-14."
    )
    assert _said(_lately_row(2)) == (
        "Newest: Knob, 2 pieces of fresh sign, newest 2025-11-14. "
        "No mature buck in shooting light in 10 nights covered."
    )


def test_lately_says_where_more_bucks_came_than_at_the_newest() -> None:
    """Newer by a day, an area was called the hottest over one with more bucks and more sign."""
    more = _lately_row(0, "Tall", "Old", bright=5, area="Shelf")
    assert _said(_lately_row(1, "Slim"), more).endswith(
        ". More bucks: Shelf, Tall and Old in shooting light, last on 2025-11-10; "
        "5 bright rubs, newest 2025-11-14."
    )
    assert " Bucks: Shelf, Tall and Old " in _said(_lately_row(1), more)
    assert "ucks: Shelf" not in _said(_lately_row(1, "Slim"), replace(more, bucks=("Tall",)))


def test_a_rub_does_not_hide_that_nobody_has_sorted_the_pictures() -> None:
    """A bright rub was enough to drop the nights that wait, and showed 0 visits for them."""
    waits = replace(ENOUGH, nights_watched=3, nights_unsorted=6)
    told = waits.unsorted_in_words()
    assert _said(_lately_row(2), watch=waits).endswith(
        f" Bucks: can't tell, {told}. Sort them first."
    )
    assert _said(_lately_row(2, "Slim"), watch=waits).endswith(sort_first({"Knob": waits}))
    some = replace(ENOUGH, nights_unsorted=1)
    assert _said(_lately_row(2), watch=some).endswith(
        f" in 10 nights covered; {some.unsorted_in_words()}."
    )
    bare = replace(ENOUGH, nights_watched=0, hung=("CAM1",))
    assert _said(_lately_row(2), watch=bare).endswith(
        " Bucks: can't tell, not enough nights covered. No picture from CAM1 covers that "
        "time: load the card, if you have it."
    )


def test_nothing_is_called_hot_or_not_where_more_than_a_quarter_waits() -> None:
    """It said "nothing hot" as long as fewer nights waited than were covered."""
    few = replace(ENOUGH, nights_watched=9, nights_unsorted=3)
    much = replace(few, nights_unsorted=4)
    hot = _said(watch=few)
    assert hot.startswith("Nothing hot from 2025-11-05 to 2025-11-14 (3 of 12 nights aren't sorted")
    assert _said(watch=much) == (
        "Can't tell yet for 2025-11-05 to 2025-11-14: 4 of 13 nights aren't sorted, so they "
        "don't count yet. Sort them first. No fresh sign logged."
    )


def test_sign_that_is_near_no_area_is_not_told_as_none() -> None:
    """It said that there was no fresh sign, though two wet rubs were logged off the areas."""
    world = World()
    world.area("Bench", (0, 0), 60)
    world.camera("CAM01", (50, 0), date(2025, 9, 1), date(2025, 11, 9))
    on = date(2025, 11, 4)
    for east in (2000, 2100):
        world.sign("rub", (east, 0), on, (on, on), state="fresh")
    session = world.session()
    answer = lately(session, scope_of(session), until=date(2025, 11, 5))
    assert answer.said.endswith(" No fresh sign there; 2 pieces elsewhere.")
    waits = replace(ENOUGH, nights_watched=3, nights_unsorted=6)
    assert _said(watch=waits, elsewhere=2).endswith(" No fresh sign there; 2 pieces elsewhere.")


def test_lately_takes_the_days_that_were_asked_for(session: Session) -> None:
    """It looked back ten days whatever first day it was given."""
    first, last = date(2025, 11, 6), date(2025, 11, 9)
    answer = lately(session, scope_of(session, first=first, last=last), until=last)
    assert (answer.first, answer.last) == (first, last)
    back = lately(session, scope_of(session, last=last, days_back=3), until=last)
    assert (back.first, back.last) == (date(2025, 11, 7), last)
    whole = lately(session, scope_of(session, first=first, last=date(2025, 11, 20)))
    assert (whole.first, whole.last) == (first, date(2025, 11, 20))


def test_lately_counts_up_to_the_asked_day(session: Session) -> None:
    answer = lately(session, scope_of(session), until=date(2026, 4, 11))
    assert (answer.first, answer.last) == (date(2026, 4, 2), date(2026, 4, 11))
    assert answer.rows == ()
    assert any("--to 2025-11-07" in line for line in answer.why)


@pytest.mark.thorough
def test_bucks_without_an_age_are_named_where_no_mature_one_was_seen() -> None:
    """It said that no mature buck was in pictures, though the one pictured had no age yet."""
    world = World()
    world.buck("Heron", None)
    world.area("Often", (0, 0), 80)
    hung = world.camera("CAM1", (150, 0), FIRST, LAST)
    world.seen("b-heron", hung, *_days(9, "15:30", 1, 3))
    answer = compare(session := world.session(), scope_of(session))
    assert answer.ageless == ("Heron",)
    assert answer.said == (
        "Can't tell yet: no picture of mature bucks in shooting light on those days. Heron came, "
        "but he has no age yet: give him one."
    )
    assert "of no known age and left out: Heron" in answer.why


@pytest.mark.thorough
@pytest.mark.parametrize("waiting", [0, 4, 70])
def test_a_rank_that_what_waits_may_turn_around_says_so(waiting: int) -> None:
    """It ranked an area last of which hardly a picture was sorted, and said nothing of it."""
    world = World()
    world.buck("Split Brow", 5.5)
    for name, east in (("Often", 0), ("Waits", 2500)):
        world.area(name, (east, 0), 80)
        world.camera(f"CAM {name}", (east + 150, 0), FIRST, LAST)
    world.seen("b-split-brow", "d-CAM Often", *_days(34, "15:30", 1, 2))
    for night in (FIRST + timedelta(days=i) for i in range(waiting)):
        world.add("unsorted", deployment="d-CAM Waits", day=night, night=night, bursts=2)
    answer = compare(session := world.session(), scope_of(session))
    said, verdict = answer.said, {row.area: row.verdict for row in answer.rows}["Waits"]
    assert verdict == ("not enough watch" if waiting == 70 else "not shown")
    all_wait = "Can't compare yet: only at Often are enough pictures sorted. "
    assert said.startswith(all_wait if waiting == 70 else "Often first. ")
    but = f" But {waiting} of 70 nights at Waits aren't sorted, so they don't count yet."
    but += " Sort them first."
    assert said.endswith(but) is (waiting == 70)
