"""The sorting page's lists: likely-empty visits lie at the end, frames tell what moved and when."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from page_browser import browser
from page_land import wait
from page_logbook import HOME, Book, new_book, season
from page_server import running
from starlette.datastructures import QueryParams

from camsign.answers.scope import scope_of
from camsign.clock.verbs import set_clock
from camsign.derive.opening import open_logbook
from camsign.logbook.edits import SetFields, Subject, TagFrames
from camsign.logbook.session import Session
from camsign.page.likely import Digits, placed
from camsign.page.lists import Filter, listed, make_strips, nearest, strips, why_moved
from camsign.page.rows import dicts
from camsign.page.sorting import _wanted
from camsign.pixels.scores import fit_thresholds, score
from camsign.places.deployments import hang
from camsign.units import parse_when


@pytest.fixture
def book(tmp_path: Path) -> Book:
    book = new_book(tmp_path / "hollow")
    for n, camera in enumerate(("CAM01", "CAM02")):
        book.hang(camera, HOME[0] + 0.004 * n, HOME[1])
        book.card(camera, season(n, 2, 3), size=(320, 240))
    return book


def compared(session: Session, strip: str, news: float) -> None:
    """Say of each frame of a strip how much is new in it, as the comparing of frames does."""
    session.con.execute(
        "INSERT INTO changes BY NAME SELECT frame, camera, card, 'colour' AS light, ? AS news,"
        " 0.25 AS box_x, 0.5 AS box_y, 0.1 AS box_width, 0.2 AS box_height"
        " FROM page.strips WHERE strip = ?",
        [news, strip],
    )
    fit_thresholds(session)
    score(session)


@pytest.mark.parametrize(
    ("basis", "shown", "why"),
    [
        ("hung", "2025-11-03T15:37:00", "still on daylight saving time"),
        ("hung", "2025-11-03T13:37:00", "still on standard time"),
        ("hung", "2025-11-03T12:37:00", "set in another time zone"),
        ("correction c-1", "2025-11-03T16:37:00", "clock fixed: 2 h earlier"),
        ("correction c-1", "2015-01-01T00:04:00", "clock fixed: 3,960 days later"),
        ("offset in the picture", "2025-11-03T15:37:00", "by the UTC offset in the picture"),
        ("-05:00", "2025-11-03T15:37:00", "its clock runs at UTC-05:00"),
        ("local", "2025-11-03T15:37:00", "in the hour that spring-forward skips"),
        ("no deployment", "2025-11-03T15:37:00", "in the hour that spring-forward skips"),
        ("hung, since the rule 'x' is not understood", "2025-11-03T15:37:00",
         "its clock rule is not understood"),
    ],
)  # fmt: skip
def test_a_time_that_is_not_the_cameras_own_says_why(basis: str, shown: str, why: str) -> None:
    assert why_moved(basis, datetime(2025, 11, 3, 14, 37), datetime.fromisoformat(shown)) == why


def test_a_fixed_clock_is_told_beside_the_picture(book: Book) -> None:
    with open_logbook(book.folder) as session:
        set_clock(session, "CAM01", shift_s=-7200.0)
    with open_logbook(book.folder) as session:
        make_strips(session)
        (part,) = listed(session, Filter())
        found = strips(session, part.strips)
        whys = {(s["camera"], f["why"]) for s in found for f in s["frames"]}
    assert whys == {("CAM01", "clock fixed: 2 h earlier"), ("CAM02", None)}


def test_a_visit_in_which_nothing_is_new_lies_at_the_end(book: Book) -> None:
    with open_logbook(book.folder) as session:
        make_strips(session)
        (part,) = listed(session, Filter())
        # Most of its card shows something in that light: else all of it would wait for a look.
        session.con.execute("UPDATE looks SET light = 'colour'")
        quiet, lively, *others = part.strips
        compared(session, quiet, 0.1)
        for strip in (lively, *others):
            compared(session, strip, 40.0)
        make_strips(session)
        parts = {p.part: p for p in listed(session, Filter())}
        assert list(parts) == ["untagged", "empty"]
        assert parts["empty"].strips == [quiet] and len(parts["untagged"].strips) == 3
        # One frame with something new keeps the whole visit where it is seen first.
        session.con.execute("UPDATE changes SET news = 40 WHERE frame = ?", [quiet])
        score(session)
        make_strips(session)
        assert [p.part for p in listed(session, Filter())] == ["untagged"]
        (shown,) = strips(session, [lively])
        assert shown["frames"][0]["box"] == [0.25, 0.5, 0.1, 0.2]


def test_a_frame_tells_its_own_clock_only_where_that_was_put_right(tmp_path: Path) -> None:
    book = new_book(tmp_path / "hollow")
    book.card("CAM01", season(0, 1, 3), real=0)
    with open_logbook(book.folder) as session:
        hang(session, "CAM01", HOME, parse_when("2025-08-01"), clock="-05:00")
    with open_logbook(book.folder) as session:
        make_strips(session)
        (part,) = listed(session, Filter())
        (strip,) = strips(session, part.strips)
    frame = strip["frames"][0]
    # The place is four hours behind UTC in early October, the clock five.
    assert frame["shown"] == "2025-10-03T05:00:00"
    assert frame["at"].startswith("2025-10-03T06:00:00")


@pytest.mark.thorough
def test_an_address_fills_the_filter_in(book: Book, tmp_path: Path) -> None:
    with (
        running(book.folder.root, tmp_path) as server,
        browser() as chromium,
        chromium.window(server) as window,
    ):
        page = window.go("/sort?camera=CAM02&tagged=no&nonsense=1")
        wait(page, "document.querySelectorAll('.strip').length === 2")
        assert "CAM02, no tag yet" in page.locator("#filter-words").inner_text()
        assert set(page.locator(".strip h4").all_inner_texts()) and all(
            words.startswith("CAM02") for words in page.locator(".strip h4").all_inner_texts()
        )
        # Looking closer says that nothing stands out where nothing was compared.
        page.keyboard.press("Enter")
        wait(page, "document.querySelector('.closer[open] img')?.naturalWidth > 0")
        page.keyboard.press("h")
        wait(page, "document.querySelector('.closer .facts').textContent.includes('nothing new')")


def test_a_filter_by_buck_and_by_area_lets_through_what_is_his_or_there(book: Book) -> None:
    who = book.buck("Split Brow")
    shape = {"circle": [HOME[0], HOME[1], 60.0]}
    fields = {"name": "Knob", "kind": "bedding", "shape": shape}
    book.say("area", [SetFields("area", "a-knob", fields)])
    with open_logbook(book.folder) as session:
        make_strips(session)
        (part,) = listed(session, Filter())
        theirs = {strip["strip"]: strip for strip in strips(session, part.strips)}
        his = next(s for s in theirs.values() if s["camera"] == "CAM02")
        frame = his["frames"][0]["frame"]
    book.say("tagged", [TagFrames(Subject("animal", who), [frame])])
    with open_logbook(book.folder) as session:
        make_strips(session)
        found = [s for p in listed(session, Filter(buck=who)) for s in p.strips]
        assert found == [his["strip"]]
        assert listed(session, Filter(buck="b-nobody")) == []
        assert scope_of(session, areas=["a-knob"]).reach_m < 400  # CAM02 hangs farther off
        near = listed(session, _wanted(session, QueryParams(area="a-knob")))
        assert {theirs[s]["camera"] for p in near for s in p.strips} == {"CAM01"}
        assert listed(session, Filter(deployments=[])) == []
        cards = dicts(session.con, "cards_done")
        done = {d["card"]: (d["camera"], d["frames"], d["tagged"]) for d in cards}
        assert done[his["card"]] == ("CAM02", 6, 1) and sorted(d[2] for d in done.values()) == [
            0,
            1,
        ]


def test_a_day_leads_to_the_visit_nearest_to_it(book: Book) -> None:
    with open_logbook(book.folder) as session:
        make_strips(session)
        parts = listed(session, Filter())
        first = session.con.execute("SELECT min(first), max(first) FROM page.visits").fetchone()
        assert first is not None
        for day in first:
            found = nearest(session, parts, day)
            assert found is not None
            strip = next(p for p in parts if p.part == found[0]).strips[found[1]]
            row = session.con.execute(
                "SELECT first FROM page.visits WHERE strip = ?", [strip]
            ).fetchone()
            assert row == (day,)
        assert nearest(session, [], first[0]) is None


@pytest.mark.thorough
def test_what_was_said_before_the_pages_were_opened_can_be_taken_back(
    book: Book, tmp_path: Path
) -> None:
    with running(book.folder.root, tmp_path) as server:
        frame = server.get("/sort/list")["begun"][0]["frames"][0]["frame"]
        server.post("/sort/tag", {"frames": [frame], "said": "doe"})
    with running(book.folder.root, tmp_path) as server:
        turned = server.post("/undo")
        assert "doe" in turned["what"] and turned["redo"] == 1
        assert server.post("/sort/frames", {"frames": [frame]})["frames"] == {frame: []}
        server.post("/redo")
        (tag,) = server.post("/sort/frames", {"frames": [frame]})["frames"][frame]
        assert tag["words"] == "doe"


@pytest.mark.thorough
def test_digits_outlive_the_pages(book: Book, tmp_path: Path) -> None:
    for name in ("Kicker", "Split Brow", "Wide"):
        book.buck(name)
    with running(book.folder.root, tmp_path) as server:
        strip = server.get("/sort/list")["begun"][0]["strip"]
        before = server.get(f"/sort/likely?strip={strip}")
        # The last tags turn the order of likelihood around, and nobody's digit.
        last = "".join(f"&last={one}" for one in before["slots"][2:0:-1])
        turned = server.get(f"/sort/likely?strip={strip}{last}")
        assert turned["slots"] == before["slots"]
        assert turned["likely"][0]["buck_id"] == before["slots"][2]
    with running(book.folder.root, tmp_path) as server:
        assert server.get(f"/sort/likely?strip={strip}{last}")["slots"] == before["slots"]


@given(st.lists(st.lists(st.integers(0, 14).map(str), max_size=9, unique=True), max_size=8))
def test_a_digit_stays_with_its_buck(rounds: list[list[str]]) -> None:
    slots: list[str | None] = [None] * 9
    for likely in rounds:
        now = placed(slots, likely)
        assert sorted(x for x in now if x) == sorted(likely)
        assert all(now[i] == one for i, one in enumerate(slots) if one in likely)
        slots = now


@pytest.mark.parametrize("text", ["", "{}", "[1]", '["a"' + ', "a"' * 8 + "]", "\0"])
def test_a_damaged_file_of_digits_begins_anew(tmp_path: Path, text: str) -> None:
    (tmp_path / "digits.json").write_text(text)
    slots = Digits(tmp_path).place(["x", "a"])
    assert sorted(x for x in slots if x) == ["a", "x"]
