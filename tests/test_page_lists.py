"""The sorting page's lists: likely-empty visits lie at the end, frames tell what moved and when."""

from __future__ import annotations

from pathlib import Path

import pytest
from page_browser import browser
from page_land import wait
from page_logbook import HOME, Book, new_book, season
from page_server import running

from camsign.derive.opening import open_logbook
from camsign.logbook.session import Session
from camsign.page.lists import Filter, listed, strips
from camsign.page.strips import make_strips
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
        "INSERT INTO changes (frame, news, box_x, box_y, box_width, box_height)"
        " SELECT frame, ?, 0.25, 0.5, 0.1, 0.2 FROM page.strips WHERE strip = ?",
        [news, strip],
    )


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
        make_strips(session)
        assert [p.part for p in listed(session, Filter())] == ["untagged"]
        (shown,) = strips(session, [lively])
        assert shown.frames[0].box == [0.25, 0.5, 0.1, 0.2]


def test_a_frame_tells_its_own_clock_only_where_that_was_put_right(tmp_path: Path) -> None:
    book = new_book(tmp_path / "hollow")
    book.card("CAM01", season(0, 1, 3), real=0)
    with open_logbook(book.folder) as session:
        hang(session, "CAM01", HOME, parse_when("2025-08-01"), clock="-05:00")
    with open_logbook(book.folder) as session:
        make_strips(session)
        (part,) = listed(session, Filter())
        (strip,) = strips(session, part.strips)
    frame = strip.frames[0]
    # The place is four hours behind UTC in early October, the clock five.
    assert frame.shown == "2025-10-03T05:00:00"
    assert frame.at is not None and frame.at.startswith("2025-10-03T06:00:00")


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
        page.keyboard.press("w")
        wait(page, "document.querySelector('.closer .facts').textContent.includes('nothing new')")
