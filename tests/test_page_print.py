"""Pages worth a pocket in print: one sheet, black on white, without anything to press."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from page_browser import browser, printed
from page_land import land_book, wait
from page_server import running

pytestmark = pytest.mark.thorough
# The map's lists are rows of text in print.
PRESSED = """[...document.querySelectorAll('button, select, input, nav, dialog, kbd')]
    .filter(e => !e.matches('.row') && e.checkVisibility() && e.getClientRects().length)
    .map(e => e.outerHTML)"""
INK = """() => {
    const body = getComputedStyle(document.body), box = document.querySelector('h1, h2');
    return [body.backgroundColor, getComputedStyle(box).color];
}"""


def look(page: Any) -> None:
    """Assert that what is printed is one sheet, black on white, and holds nothing to press."""
    page.emulate_media(media="print")
    assert page.evaluate(PRESSED) == []
    assert page.evaluate(INK) == ["rgb(255, 255, 255)", "rgb(0, 0, 0)"]
    assert printed(page) == 1
    page.emulate_media(media="screen")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_an_area_the_map_and_a_buck_are_one_sheet_each(scheme: str, tmp_path: Path) -> None:
    book = land_book(tmp_path / "book")
    with (
        running(book.folder.root, tmp_path) as server,
        browser() as chromium,
        chromium.window(server) as window,
    ):
        window.page.emulate_media(color_scheme=scheme)
        buck = server.get("/sort/words")["bucks"][0]["buck_id"]
        page = window.go("/areas/a-bed")
        wait(page, "document.querySelector('.short .part[aria-busy=false]')")
        page.emulate_media(media="print", color_scheme=scheme)
        assert page.locator(".short .verdict").inner_text()
        look(page)
        page = window.go(f"/bucks/{buck}")
        assert page.locator("h1").inner_text() == "Split Brow"
        look(page)
        page = window.go("/tonight")  # no stand: what it says instead is printed, no empty card
        wait(page, "!document.querySelector('#verdict').textContent.includes('Working')")
        page.emulate_media(media="print")
        assert page.locator("#verdict").is_visible() and not page.locator("#pocket").is_visible()
        page = window.go("/map")
        wait(page, "document.querySelectorAll('#map path.sign.rub').length === 1")
        look(page)


def test_the_count_of_sheets_counts(tmp_path: Path) -> None:
    book = land_book(tmp_path / "book", signs=0)
    with (
        running(book.folder.root, tmp_path) as server,
        browser() as chromium,
        chromium.window(server) as window,
    ):
        page = window.go("/bucks")
        page.evaluate("document.querySelector('main').append('a long page '.repeat(9000))")
        assert printed(page) > 1
