"""Cards and cameras: spells, whose a card is, outages, a wrong clock put right by a button."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest
from page_browser import Browser, faults
from page_land import disk, wait
from page_logbook import HOME, Book, Shot, new_book, season
from page_server import running

from camsign.clock.audit import Finding
from camsign.clock.verdicts import UNCLEAR
from camsign.derive.opening import open_logbook
from camsign.derive.watch import AFTER, OUTAGE, SILENT
from camsign.logbook.edits import SetFields
from camsign.page.cameras import NO_CARD, STATES, CameraShown, Spell, months, spells
from camsign.page.cards import _by_the_light
from camsign.stats.estimate import Estimate
from camsign.sun import sun_height


def fast_book(root: Path, fast: timedelta, also: Iterable[Shot] = ()) -> Book:
    """Give a logbook with a camera whose clock is `fast`, lit by the true sun (color from -1°)."""
    book = new_book(root)
    book.hang("CAM01", *HOME)
    shots = []
    for day in range(40):
        for hour in (5.2, 6.1, 6.6, 7.1, 8.0, 12.0, 16.9, 17.4, 17.9, 18.4, 19.2):
            minutes = 60 * hour + 9 * math.sin(day * 1.7 + hour)
            true = datetime(2025, 9, 1) + timedelta(days=day, minutes=minutes)
            # Eastern daylight time is four hours behind UTC until 2 November.
            utc = (true + timedelta(hours=4)).replace(tzinfo=UTC)
            height = float(sun_height(*HOME, utc.replace(tzinfo=None)))
            shots.append(Shot(true + fast, "colour" if height > -1 else "infrared"))
    book.card("CAM01", [*shots, *also], size=(640, 480))
    return book


def ready(page: Any) -> Any:
    wait(page, "document.querySelector('#main').dataset.ready === 'yes'")
    return page


def rows(book: Book, sql: str) -> list[tuple[Any, ...]]:
    with open_logbook(book.folder) as s:
        return s.con.execute(sql).fetchall()


def test_a_camera_hung_on_a_day_without_an_hour_is_shown(tmp_path: Path) -> None:
    """The night that it was up for the second half of only had no words: the page failed."""
    book = new_book(tmp_path / "book")
    fields = {"camera": "CAM01", "lat": HOME[0], "lon": HOME[1], "hung": "2025-08-10T04:00:00Z"}
    book.say("hung CAM01", [SetFields("deployment", "d-1", fields)])
    book.card("CAM01", [Shot(datetime(2025, 8, day, 7)) for day in range(11, 19)])
    waits = fields | {"camera": "CAM09", "hung": "2025-08-14T04:00:00Z"}
    book.say("hung CAM09", [SetFields("deployment", "d-9", waits)])
    with running(book.folder.root, tmp_path) as server:
        page = server.ask("GET", "/cards").body.decode()
    # The strip of a camera whose card is not loaded shows since when it is up.
    assert re.search(r'aria-label="Nights of CAM09: no card loaded [^"]*Aug 14', page)
    assert "worked 8 of 8 nights" in page and "not covered" not in page
    assert {SILENT, OUTAGE, AFTER} <= set(STATES)


@pytest.mark.thorough
def test_a_wrong_clock_is_shown_with_its_reason_and_put_right(
    chromium: Browser, tmp_path: Path
) -> None:
    book = fast_book(tmp_path / "book", timedelta(minutes=60))
    before = rows(book, "SELECT max(utc) FROM frame_times")[0][0]
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page = ready(window.go("/cards"))
        page.locator("#judge").click()
        wait(page, "document.querySelector('#findings .finding')")
        words = page.locator("#findings .finding").first.inner_text()
        assert "fast" in words
        page.locator("#findings button", has_text="chart").first.click()
        wait(page, "document.querySelectorAll('.plots svg').length === 2")
        page.locator("#findings button", has_text="Fix clock").first.click()
        disk(page, "put CAM01")
        wait(page, "!document.querySelector('#findings > .finding .main')")
        # It was left and is come back to: the work that was done is still there.
        page = window.go("/cards")
        wait(page, "document.querySelector('#findings .finding')")
        page.locator("#judge").click()
        wait(page, "document.querySelector('#findings').textContent.includes('after your fix')")
    after = rows(book, "SELECT max(utc) FROM frame_times")[0][0]
    assert abs((before - after) - timedelta(minutes=60)) <= timedelta(minutes=8)


@pytest.mark.thorough
def test_a_clock_is_set_by_hand_on_the_page(chromium: Browser, tmp_path: Path) -> None:
    """As `clock set` does it: one line, the same refusals, the same words."""
    book = fast_book(tmp_path / "book", timedelta(minutes=60))
    utc = "SELECT min(utc) FROM frame_times"
    before = rows(book, utc)[0][0]
    lines = "SELECT count(*) FROM acts"
    said = rows(book, lines)[0][0]
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page = ready(window.go("/cards"))
        page.locator("#judge").click()
        wait(page, "document.querySelector('#findings .finding')")
        page.locator("#findings summary", has_text="Set it by hand").first.click()
        form = page.locator("#findings form").first
        assert form.locator("[name=shown]").input_value() == "2025-09-01T06:04:02"
        form.locator("[name=true]").fill("2025-09-01T04:54:02")
        form.locator("button").click()
        disk(page, "Fixed CAM01's clock for 440 pictures")
        wait(page, "!document.querySelector('#findings').textContent.includes('1 h fast')")
        given = {"camera": "CAM01", "shown": "2025-09-01T06:12", "true": "2025-09-01T05:02"}
        for wrong in ({"shown": "noon"}, {"true": ""}, {"deployment": "d-none"}):
            body = json.dumps({**given, **wrong}).encode()
            assert server.ask("POST", "/cards/clocks/set", body).status == 400
    assert rows(book, lines) == [(said + 1,)]
    assert before - rows(book, utc)[0][0] == timedelta(minutes=70)


@pytest.mark.thorough
def test_a_late_hang_date_is_asked_about_and_no_clock_is_fixed(
    chromium: Browser, tmp_path: Path
) -> None:
    book = new_book(tmp_path / "book")
    fields = {"camera": "CAM01", "lat": HOME[0], "lon": HOME[1], "hung": "2025-09-20T04:00:00Z"}
    book.say("hung CAM01", [SetFields("deployment", "d-1", fields)])
    book.card("CAM01", [Shot(datetime(2025, 8, day, 7)) for day in range(11, 25)], size=(320, 240))
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page = ready(window.go("/cards"))
        page.locator("#judge").click()
        wait(page, "document.querySelector('#findings .finding')")
        words = page.locator("#findings .finding").first.inner_text()
        assert "14 pictures are older than the day you hung it (Sep 20, 2025)." in words
        assert "Was the camera up since then, or is the clock off? Its dates, on the map" in words
        assert "Fix clock" not in words and "camsign" not in words and "slow" not in words
        page.locator("#findings button", has_text="It was up since Aug 11, 2025").click()
        disk(page, "corrected where or when CAM01 hung")
    homeless = "SELECT count(*) FROM frame_times WHERE deployment IS NULL"
    assert rows(book, homeless) == [(0,)]


@pytest.mark.thorough
def test_outage_whose_and_undo(chromium: Browser, tmp_path: Path) -> None:
    book = new_book(tmp_path / "book")
    book.hang("CAM01", *HOME)
    book.hang("CAM02", HOME[0] + 0.01, HOME[1])
    book.card("CAM01", season(0, 40, 3, 12), size=(640, 480))
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page = ready(window.go("/cards"))
        assert page.locator(".cameras > li").count() == 2
        form = page.locator("li[data-camera=CAM01]")
        form.locator("summary").click()
        form.locator("input[name=from]").fill("2025-10-05")
        form.locator("input[name=to]").fill("2025-10-07")
        form.locator("button").click()
        disk(page, "marked CAM01 down")
        wait(
            page,
            "document.querySelector('main').textContent.includes('you marked it down:')",
        )
        assert rows(book, "SELECT count(*) FROM watch WHERE why = 'outage'")[0][0] >= 2
        page.keyboard.press("u")
        disk(page, "undone: marked CAM01 down")
        wait(page, "!document.querySelector('main').textContent.includes('you marked it down:')")
        page.locator(".fold-table tbody a").first.click()
        assert "SAFE TO WIPE" in page.locator("main").inner_text()
        ready(page).locator("#whose-form input").fill("CAM02")
        page.locator("#whose-form button").click()
        disk(page, "CAM02")
        wait(page, "document.querySelector('h1').textContent.includes('CAM02')")
        assert faults(page) == []
        page = window.go("/cards")
        assert faults(page) == []
    assert rows(book, "SELECT DISTINCT camera FROM frame_times") == [("CAM02",)]


def test_spells_join_nights_in_a_row_only() -> None:
    day = date(2025, 10, 1)
    states = ["watched", "watched", "silent", "silent", "watched"]
    nights = [(day + timedelta(days=i), state) for i, state in enumerate(states)]
    nights.append((day + timedelta(days=9), "watched"))
    found = spells(nights)
    assert [(s.state, s.nights) for s in found] == [
        ("watched", 2),
        ("silent", 2),
        ("watched", 1),
        ("watched", 1),
    ]
    assert spells([]) == []


def test_of_a_camera_without_a_card_no_nights_are_said_to_be_missed() -> None:
    """Of one that had hung at two spots it said `54 nights not covered`, of the others nothing."""
    day = date(2025, 8, 11)
    missed = [Spell(state, day, day, 54) for state in (NO_CARD, "outage")]
    none: dict[str, Any] = {
        "camera": "CAM06", "frames": 0, "untagged": 0, "homeless": 0, "doubtful": 0,
        "last_local": None, "last_utc": None, "last": None, "nights": 54, "watched": 0,
        "spells": missed, "hung": [], "outages": [],
    }  # fmt: skip
    bare = CameraShown(**none)
    assert (bare.bad, bare.flags, bare.since) == ([], "", None)
    loaded = CameraShown(**none | {"frames": 3})
    none_from = "54 nights without pictures (a card not loaded?)"
    assert loaded.flags == f"54 nights down or quiet, {none_from}"
    assert [spell.state for spell in loaded.nothing] == [NO_CARD]


def test_a_month_without_room_for_its_name_has_none() -> None:
    days = date(2025, 8, 10), date(2025, 12, 5)
    names = [name for _, name in months(*days)]
    assert names == ["Aug", "Sep", "Oct", "Nov"]
    assert [name for _, name in months(date(2025, 8, 1), date(2025, 9, 30))] == ["Aug", "Sep"]


def test_a_clock_of_a_camera_without_a_place_names_the_maps_button_and_no_command() -> None:
    why = "it isn't on the map yet; hang it first: camsign hang 'CAM 1' --at LAT,LON --from DAY"
    unknown = Estimate(None, None, None)
    found = SimpleNamespace(verdict=UNCLEAR, why=why, offset_minutes=unknown)
    told = _by_the_light(cast("Finding", found))
    assert told == "it isn't on the map yet; hang it first: on the map, Hang a camera"
