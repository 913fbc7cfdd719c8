"""Sorting in a real browser: same as last, likely-empty at once, a day, filters, digits, undo."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from page_browser import SLOW, Browser, Window
from page_land import wait
from page_logbook import HOME, Book, new_book, season
from page_server import Running, running

from camsign.derive.opening import open_logbook
from camsign.logbook.edits import SetFields
from camsign.pixels.scores import score

pytestmark = pytest.mark.thorough
SMALL = (320, 240)
BUCKS = ("Split Brow", "Old Crooked", "Hollow Ten", "Kicker", "Slim")
HEADS = "[...document.querySelectorAll('.strip h4')].map(h => h.innerText)"
EMPTY = 3
"""So many visits show nothing new, the newest of all."""


@pytest.fixture
def book(tmp_path: Path) -> Book:
    """Two cameras far apart, six visits of three frames each; three of them likely empty."""
    book = new_book(tmp_path / "hollow")
    for n, camera in enumerate(("CAM01", "CAM02")):
        book.hang(camera, HOME[0] + 0.02 * n, HOME[1])
        book.card(camera, season(n, 6, 3), size=SMALL)
    for name in BUCKS:
        book.buck(name)
    shape = {"circle": [HOME[0], HOME[1], 60.0]}
    fields = {"name": "Knob", "kind": "bedding", "shape": shape}
    book.say("area", [SetFields("area", "a-knob", fields)])
    _compared(book)
    return book


def _compared(book: Book) -> None:
    """Say of each frame how much is new in it, as the comparing of frames does."""
    with open_logbook(book.folder) as session:
        con = session.con
        con.execute("UPDATE looks SET light = 'colour'")
        con.execute(
            "INSERT INTO changes (frame, camera, card, light, news)"
            " SELECT frame, camera, card, 'colour', CASE WHEN camera = 'CAM01'"
            " AND local >= (SELECT max(local) FROM frame_times WHERE camera ="
            " 'CAM01') - INTERVAL 11 HOUR THEN 0.1 ELSE 40 END"
            " FROM frame_times JOIN frames USING (frame)"
        )
        score(session)


def settle(page: Any) -> None:
    wait(page, "!document.querySelector('.tile.pending') && document.querySelector('#sign.done')")


def ready(page: Any) -> None:
    """Wait until the digits belong to the visit that the user is at."""
    wait(
        page,
        """() => {
            const tile = document.querySelector('.tile[aria-current]');
            const strip = tile?.closest('.strip').querySelector('.tile').dataset.frame;
            return strip && document.querySelector('#likely').dataset.strip === strip;
        }""",
    )


@contextmanager
def sorting(
    book: Book, chromium: Browser, where: Path, compares: bool = True
) -> Iterator[tuple[Running, Window]]:
    """The sorting page, ready for keys, with its server."""
    with (
        running(book.folder.root, where, compares) as server,
        chromium.window(server) as window,
    ):
        ready(window.page)
        yield server, window


def digits(page: Any) -> dict[str, str]:
    """Give the digit of every buck who has one."""
    ready(page)
    names = page.locator("#likely .buck").all_inner_texts()
    return dict(zip(names, page.locator("#likely kbd").all_inner_texts(), strict=True))


def told(page: Any) -> list[str]:
    """Give what stands on each tile that is shown, in the order of the list."""
    found = page.evaluate("[...document.querySelectorAll('.tile .told')].map(t => t.textContent)")
    return [str(one) for one in found]


def said(book: Book) -> list[tuple[str, int]]:
    with open_logbook(book.folder) as session:
        return session.con.execute(
            "SELECT coalesce(n.name, t.subject), count(*) FROM tags t"
            " LEFT JOIN bucks_now n ON n.buck = t.buck_id GROUP BY 1 ORDER BY 1"
        ).fetchall()


def here(page: Any) -> str:
    return str(page.evaluate("document.querySelector('.tile[aria-current]').dataset.frame"))


def test_same_as_last_tags_the_next_one_the_same(
    book: Book, chromium: Browser, tmp_path: Path
) -> None:
    with sorting(book, chromium, tmp_path) as (_, window):
        page, keys = window.page, window.page.keyboard
        keys.press("a")
        assert "Tag something first" in page.locator("#alarm").inner_text()
        page.wait_for_timeout(1050)  # so long its words stay at least
        first = here(page)
        keys.press(digits(page)["Kicker"])
        settle(page)
        second = here(page)
        keys.press("Shift+a")
        settle(page)
        assert here(page) == second != first
        keys.press("ArrowDown")
        keys.press("a")
        settle(page)
        assert here(page) not in {first, second}
    assert said(book) == [("Kicker", 9)]


def test_odds_are_said_of_place_and_date_and_not_of_what_looks_empty(
    book: Book, chromium: Browser, tmp_path: Path
) -> None:
    """`1 in 2: seen 0.8 mi off` beside an empty picture read as if he was recognized in it."""
    with sorting(book, chromium, tmp_path, compares=False) as (_, window):
        page, keys = window.page, window.page.keyboard
        assert any(page.locator("#likely .why").all_inner_texts())
        keys.press("e")
        wait(page, "document.querySelector('.part.empty .tile[aria-current]')")
        ready(page)
        assert page.locator("#odds").is_hidden()
        assert not any(page.locator("#likely .why").all_inner_texts())
        keys.press("e")
        wait(page, "document.querySelector('.part.untagged .tile[aria-current]')")
        keys.press(digits(page)["Kicker"])
        settle(page)
        window.go("/sort")
        ready(page)
        wait(page, "!document.querySelector('#odds').hidden")
        assert "not from the picture" in page.locator("#odds").inner_text()


def test_a_second_buck_is_told_with_how_to_replace_the_first(
    book: Book, chromium: Browser, tmp_path: Path
) -> None:
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page, keys = window.page, window.page.keyboard
        at = digits(page)
        keys.press(f"Shift+{at['Kicker']}")
        settle(page)
        assert not page.locator("#alarm").is_visible()
        keys.press(digits(page)["Slim"])
        settle(page)
        told = page.locator("#alarm").inner_text()
        assert "Now Kicker and Slim are both on 3 pictures. Only Slim there? Press U" in told
        keys.press("u")
        settle(page)
        page.wait_for_timeout(300)
        keys.press("Delete")
        settle(page)
        keys.press(digits(page)["Slim"])
        settle(page)
    assert said(book) == [("Slim", 3)]


def test_the_box_offers_first_what_was_taken_from_it_last(
    book: Book, chromium: Browser, tmp_path: Path
) -> None:
    offered = "document.querySelector('.box[open] [aria-selected=true]')?.innerText"
    with sorting(book, chromium, tmp_path) as (_, window):
        page, keys = window.page, window.page.keyboard
        keys.press("w")
        keys.type("coyo")
        wait(page, f"{offered} === 'coyote'")
        keys.press("Enter")
        settle(page)
        keys.press("w")
        wait(page, f"{offered} === 'coyote'")
        keys.press("Enter")
        wait(page, "!document.querySelector('.box[open]')")
        settle(page)
    assert [n for _, n in said(book)] == [6]


def test_a_misspelled_name_takes_the_buck_it_is_near(
    book: Book, chromium: Browser, tmp_path: Path
) -> None:
    """ "Split Brw" and Enter made a second buck."""
    options = "[...document.querySelectorAll('.box[open] [role=option]')].map((o) => o.textContent)"
    with sorting(book, chromium, tmp_path) as (_, window):
        page, keys = window.page, window.page.keyboard
        keys.press("w")
        keys.type("Split Brw")
        near = ["did you mean Split Brow", "a new buck: Split Brw"]
        wait(page, f"JSON.stringify({options}) === JSON.stringify({near!r})")
        keys.press("Enter")
        settle(page)
        keys.press("w")
        keys.type("Ferrous")
        wait(page, f"JSON.stringify({options}) === JSON.stringify(['a new buck: Ferrous'])")
        keys.press("Escape")
    assert [name for name, _ in said(book)] == ["Split Brow"]


def test_one_key_says_nothing_of_all_likely_empty_in_sight_and_undo_takes_it_back(
    book: Book, chromium: Browser, tmp_path: Path
) -> None:
    with sorting(book, chromium, tmp_path, compares=False) as (_, window):
        page, keys = window.page, window.page.keyboard
        keys.press("n")  # what is folded was not looked over
        assert "Show the visits that look empty" in page.locator("#alarm").inner_text()
        keys.press("e")
        wait(page, f"document.querySelectorAll('.part.empty .strip').length === {EMPTY}")
        bulk = page.locator(".part.empty .bulk")
        assert f"Tag these {EMPTY} visits as nothing there" in bulk.inner_text()
        keys.press("n")
        settle(page)
        assert said(book) == [("nothing///", 3 * EMPTY)]
        assert bulk.is_hidden()  # nothing is left to tag
        keys.press("u")
        wait(page, "!document.querySelector('.part.empty .tile .told:not(:empty)')")
        wait(page, "!document.querySelector('.part.empty .bulk').hidden")
        assert said(book) == []
        keys.press("r")
        settle(page)
        assert said(book) == [("nothing///", 3 * EMPTY)]


@pytest.mark.thorough
def test_the_next_key_waits_for_what_it_unfolds(
    book: Book, chromium: Browser, tmp_path: Path
) -> None:
    """`N` right after `E`, on a slow server, found the visits still folded and said nothing."""
    still = running(book.folder.root, tmp_path, compares=False)
    with still as server, chromium.window(server) as window:
        window.page.add_init_script(SLOW)
        page = window.go("/sort")
        wait(page, "!!document.querySelector('.tile[aria-current]')")
        page.keyboard.press("e")
        page.keyboard.press("n")
        wait(page, f"document.querySelectorAll('.part.empty .strip').length === {EMPTY}")
        settle(page)
        page.wait_for_timeout(1500)
        assert said(book) == [("nothing///", 3 * EMPTY)]
        assert page.locator("#alarm").inner_text() == ""


def test_a_day_is_jumped_to(book: Book, chromium: Browser, tmp_path: Path) -> None:
    with sorting(book, chromium, tmp_path) as (_, window):
        page, keys = window.page, window.page.keyboard
        assert "Oct 4" in page.locator("#facts").inner_text()
        keys.press("j")
        day = page.locator("dialog[open] input[name=day]")
        assert day.input_value() == "2025-10-04"
        day.fill("2025-10-03")
        keys.press("Enter")
        wait(page, "document.querySelector('#facts').innerText.includes('Oct 3')")
        assert page.locator("dialog[open]").count() == 0
        keys.press("0")  # the keys are the visits' again
        settle(page)
    assert said(book) == [("nothing///", 3)]


def test_filters_act_at_once_also_by_buck_and_area(
    book: Book, chromium: Browser, tmp_path: Path
) -> None:
    with sorting(book, chromium, tmp_path) as (_, window):
        page, keys = window.page, window.page.keyboard
        keys.press(digits(page)["Slim"])
        settle(page)
        page.reload()
        ready(page)
        keys.press("l")
        page.select_option("#filter select[name=buck]", label="Slim")
        wait(page, "document.querySelectorAll('.strip').length === 1")
        assert "Slim" in page.locator("#filter-words").inner_text()
        assert "buck=" in page.url
        page.select_option("#filter select[name=buck]", value="")
        page.select_option("#filter select[name=area]", label="Knob")
        wait(page, "document.querySelector('#filter-words').innerText.includes('Knob')")
        wait(page, f"{HEADS}.length > 1 && {HEADS}.every(h => h.startsWith('CAM01'))")
        keys.press("Escape")
        assert page.locator("#filter").is_hidden()


def test_a_digit_keeps_its_buck_through_reloads_and_new_starts(
    book: Book, chromium: Browser, tmp_path: Path
) -> None:
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page, keys = window.page, window.page.keyboard
        before = digits(page)
        assert sorted(before) == sorted(BUCKS)
        # The last one's tags make him the likeliest, and leave him where he is.
        last = max(before, key=lambda name: before[name])
        for _ in range(2):
            keys.press(digits(page)[last])
        settle(page)
        assert digits(page) == before
        page.reload()
        assert digits(page) == before
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        assert digits(window.page) == before


def test_undo_and_what_was_said_outlive_the_pages(
    book: Book, chromium: Browser, tmp_path: Path
) -> None:
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        ready(window.page)
        window.page.keyboard.press("d")
        settle(window.page)
    assert said(book) == [("animal/deer/female/", 3)]
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page = window.page
        ready(page)
        page.keyboard.press("u")
        wait(page, "document.querySelector('#sign').textContent.includes('undone: tagged 3 ')")
        assert said(book) == []
        page.keyboard.press("r")
        wait(page, "document.querySelector('#sign').textContent.includes('redone: tagged 3 ')")
    assert said(book) == [("animal/deer/female/", 3)]


def test_a_refused_tag_is_taken_off_where_it_was_shown(
    book: Book, chromium: Browser, tmp_path: Path
) -> None:
    """The server is gone: what it never wrote must not look as if it stood."""
    with sorting(book, chromium, tmp_path) as (server, window):
        page, keys = window.page, window.page.keyboard
        keys.press("d")
        settle(page)
        tagged, first = told(page), left(page)
        assert tagged.count("doe") == 3
        server.process.kill()
        server.process.wait()
        keys.press("0")
        wait(page, "document.querySelector('#alarm').innerText.includes('Not saved')")
        wait(page, "!document.querySelector('.tile.pending')")
        assert told(page) == tagged and left(page) == first
        assert "nothing there" not in told(page)
        assert "taken off again" in page.locator("#alarm").inner_text()
        window.context.close()  # the page goes on asking
        window.errors.clear()  # that nobody answers is what this is about
    assert said(book) == [("animal/deer/female/", 3)]


def left(page: Any) -> str:
    return str(page.locator(".part.untagged .fold .quiet").inner_text())


def test_an_old_address_says_how_to_get_back_in(
    book: Book, chromium: Browser, tmp_path: Path
) -> None:
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        stale = window.context.browser.new_context().new_page()
        for path in ("/sort", "/?token=of-yesterday"):
            answer = stale.goto(f"http://{server.address}{path}")
            assert answer.status == 403
            words = stale.locator("body").inner_text()
            assert "old one" in words and "Run camsign again" in words
            assert stale.evaluate("document.documentElement.scrollWidth <= innerWidth")
        stale.context.close()


def test_g_behind_the_last_visit_goes_on_at_the_top(
    book: Book, chromium: Browser, tmp_path: Path
) -> None:
    """With one visit left above, it did nothing, and the next key tagged the wrong picture."""
    with sorting(book, chromium, tmp_path) as (_, window):
        page, keys = window.page, window.page.keyboard
        first = here(page)
        keys.press("ArrowDown")
        keys.press("End")
        wait(page, f"document.querySelector('.tile[aria-current]').dataset.frame !== '{first}'")
        last = here(page)
        keys.press("Shift+D")
        settle(page)
        keys.press("g")
        wait(page, f"document.querySelector('.tile[aria-current]').dataset.frame !== '{last}'")
        assert here(page) == first
