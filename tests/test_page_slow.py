"""Keys pressed faster than a slow server answers: each still tags the visit it was meant for."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from page_browser import SLOW, Browser
from page_keys import listed, told
from page_land import wait
from page_logbook import HOME, Book, new_book, season
from page_server import Running, running

pytestmark = pytest.mark.thorough
VISITS = 30
"""Of each of two cameras: more than the list loads at once."""


@pytest.fixture
def book(tmp_path: Path) -> Book:
    book = new_book(tmp_path / "hollow")
    for n, camera in enumerate(("CAM01", "CAM02")):
        book.hang(camera, HOME[0] + 0.02 * n, HOME[1])
        book.card(camera, season(n, VISITS, 1), size=(320, 240))
    return book


@pytest.fixture
def server(book: Book, tmp_path: Path) -> Iterator[Running]:
    with running(book.folder.root, tmp_path) as started:
        yield started


def slowly(window: Any) -> Any:
    """The sorting page, whose questions take their time, as soon as it shows a picture."""
    window.page.add_init_script(SLOW)
    page = window.go("/sort")
    wait(page, "!!document.querySelector('.tile[aria-current]')")
    return page


def came_to(page: Any, server: Running, visits: list[list[str]], said: dict[int, str]) -> None:
    """Wait until these visits, by their places, and no others stand tagged so."""
    stands: dict[int, str] = {}
    end = time.monotonic() + 120
    while stands != said and time.monotonic() < end:
        page.wait_for_timeout(500)
        tags = told(server, [visit[0] for visit in visits])
        stands = {n: ", ".join(tags[v[0]]) for n, v in enumerate(visits) if tags[v[0]]}
    assert stands == said


def test_a_whole_season_at_one_go(chromium: Browser, server: Running) -> None:
    visits = listed(server)
    assert len(visits) == 2 * VISITS
    keys = {"doe": "d", "nothing": "0", "fawn": "y"}
    said = dict(enumerate(list(keys)[n % 3] for n in range(len(visits))))
    with chromium.window(server) as window:
        page = slowly(window)
        for word in said.values():
            page.keyboard.press(keys[word])
        came_to(page, server, visits, said)


def test_a_step_down_past_what_is_loaded(chromium: Browser, server: Running) -> None:
    visits = listed(server)
    with chromium.window(server) as window:
        page = slowly(window)
        for _ in range(len(visits) - 1):
            page.keyboard.press("ArrowDown")
        page.keyboard.press("d")
        came_to(page, server, visits, {len(visits) - 1: "doe"})


def test_a_digit_waits_for_its_buck(chromium: Browser, book: Book, server: Running) -> None:
    book.buck("Split Brow")
    visits = listed(server)
    with chromium.window(server) as window:
        wait(window.page, "document.querySelector('#likely button')")  # the server knows him
        page = slowly(window)
        page.keyboard.press("1")
        page.keyboard.press("5")
        came_to(page, server, visits, {0: "Split Brow"})
        wait(page, "document.body.innerText.includes('No buck is on 5 here')")


def test_after_undo_the_next_key_goes_where_undo_leads(chromium: Browser, server: Running) -> None:
    visits = listed(server)
    with chromium.window(server) as window:
        page = slowly(window)
        for key in "0ud":
            page.keyboard.press(key)
        came_to(page, server, visits, {0: "doe"})
