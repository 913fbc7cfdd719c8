"""What From the woods says of the logbook, and of what waits to be sorted: as Sort lists it."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest
from page_browser import Browser
from page_land import wait
from page_logbook import HOME, Shot, new_book, season
from page_server import running
from test_page_cards import fast_book

from camsign.derive.opening import open_logbook
from camsign.logbook.edits import SetFields
from camsign.page.lists import Filter, listed, make_strips
from camsign.page.rows import rows
from camsign.page.woods import Counts


def test_pictures_that_wait_folded_are_counted_apart(tmp_path: Path) -> None:
    book = new_book(tmp_path / "hollow")
    book.hang("CAM01", *HOME)
    book.card("CAM01", season(0, 3, 3), size=(320, 240))
    with open_logbook(book.folder) as session:
        make_strips(session)
        (part,) = listed(session, Filter())
        quiet, tagged = part.strips[:2]
        session.con.execute("UPDATE page.visits SET empty = TRUE WHERE strip = ?", [quiet])
        session.con.execute(
            "INSERT INTO tags (frame, sure) SELECT frame, 'sure' FROM page.strips WHERE strip = ?",
            [tagged],
        )
        (counts,) = rows(session.con, "woods_counts", Counts)
        frames = {p.part: p.frames for p in listed(session, Filter())}
        assert counts.untagged == frames["untagged"] > 0
        assert counts.empty == frames["empty"] > 0
        assert counts.frames == sum(frames.values())
        assert (counts.hung, counts.cards, counts.sign) == (1, 1, 0)


@pytest.mark.thorough
def test_a_clock_that_cannot_be_checked_is_listed(chromium: Browser, tmp_path: Path) -> None:
    """It said that any wrong clock is listed below, and listed nothing: it could not tell."""
    book = new_book(tmp_path / "hollow")
    book.hang("CAM01", *HOME)
    book.card("CAM01", season(0, 2, 3), size=(320, 240))
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page = window.go("/woods")
        wait(page, "document.querySelector('#clocks [data-camera=CAM01]')")
        words = page.locator("#clocks").inner_text()
    assert words.startswith("CAM01: can't tell yet if its clock is right. ")
    assert words.endswith("Look at a picture and check its time by eye.")


@pytest.mark.thorough
def test_a_spot_that_cannot_be_checked_is_listed_beside_one_that_is_right(
    chromium: Browser, tmp_path: Path
) -> None:
    """Its first spot's clock was right, and of the next, with few pictures, nothing was said."""
    few = [Shot(datetime(2025, 10, 20 + day, 12), "colour") for day in range(4)]
    book = fast_book(tmp_path / "book", timedelta(), few)
    late = {"camera": "CAM01", "lat": HOME[0], "lon": HOME[1], "hung": "2025-10-15T04:00:00Z"}
    down = SetFields("deployment", "d-cam01", {"taken_down": "2025-10-14T12:00:00Z"})
    book.say("moved CAM01", [down, SetFields("deployment", "d-late", late)])
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page = window.go("/woods")
        wait(page, "document.querySelector('#clocks [data-camera=CAM01]')")
        words = page.locator("#clocks").inner_text()
    days = "CAM01, Oct 20, 2025 to Oct 23, 2025"
    why = "Only 4 bursts: too few to check the clock."
    assert words.startswith(f"{days}: can't tell yet if its clock is right. {why}"), words


HOW = "on Sort, E shows those and N tags them nothing there."


@pytest.mark.parametrize(
    ("untagged", "empty", "words"),
    [
        (54, 3, f"57 pictures to sort. 3 are in visits that look empty all through: {HOW}"),
        (54, 1, f"55 pictures to sort. 1 is in visits that look empty all through: {HOW}"),
        (1, 0, "1 picture to sort."),
        (0, 1, f"1 picture to sort. All look empty: {HOW}"),
        (0, 0, "Every picture has a tag."),
    ],
)
def test_what_waits_is_said_in_a_line(untagged: int, empty: int, words: str) -> None:
    assert Counts(1, 1, 1, 1500, untagged, empty).left() == words


def test_what_is_in_the_logbook_is_said_in_a_line() -> None:
    held = Counts(7, 80, 13, 1500, 0, 0).held()
    assert held == "In the logbook: 7 camera spots, 80 pieces of sign, 13 cards with 1,500 pictures"
    empty = Counts(0, 0, 0, 0, 0, 0)
    assert empty.held() == "The logbook is empty: start with 1 or 2"
    assert empty.left().startswith("The pictures of your first card")
