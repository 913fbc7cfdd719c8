"""The take-in list in a browser: which way each rub goes is shown, and one key turns it around."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from page_browser import Browser, faults
from page_land import wait
from page_server import running

from camsign.derive.opening import open_logbook
from camsign.logbook.folder import Folder, create

NAMES = (
    "rub facing NE 3in alder", "rub going W top 38in", "bed facing SE", "scrape active",
    "cell cam 5 facing S", "stand north oak", "bedding spruce knob 60yd", "moose rub",
    "Gate 6 Trail Head", "lunch rock",
)  # fmt: skip


def woods(path: Path) -> Path:
    points = "".join(
        f'<wpt lat="{44.2 + n / 1000:.4f}" lon="-71.4"><time>2025-11-02T15:00:00Z</time>'
        f"<name>{name}</name></wpt>"
        for n, name in enumerate(NAMES)
    )
    head = '<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">'
    path.write_text(f"{head}{points}</gpx>", encoding="utf-8")
    return path


def shoot(page: Any, name: str) -> None:
    """Keep a picture to look at, if a folder for them is named."""
    if folder := os.environ.get("CAMSIGN_SHOTS"):
        page.screenshot(path=f"{folder}/{name}.png", full_page=True)


def ways(page: Any) -> list[str]:
    rows = page.locator("#sorted ul[aria-label=Sign] li")
    return [rows.nth(i).locator(".way").inner_text() for i in range(rows.count())]


@pytest.mark.thorough
def test_each_row_shows_its_way_and_is_turned_by_a_key(chromium: Browser, tmp_path: Path) -> None:
    folder = create(tmp_path / "hollow", "America/New_York", (44.2, -71.4), "imperial")
    file = woods(tmp_path / "woods.gpx")
    with running(folder.root, tmp_path) as server, chromium.window(server) as window:
        page = window.page
        page.goto(page.evaluate("location.origin") + "/woods")
        wait(page, "document.querySelector('main.woods')?.dataset.ready === 'yes'")
        page.locator("#file").set_input_files(str(file))
        wait(page, "document.querySelector('#sorted .takein')")
        assert ways(page)[:2] == ["↙ going SW", "← going W"]
        shoot(page, "takein-1440")
        page.set_viewport_size({"width": 390, "height": 800})
        shoot(page, "takein-390")
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
        assert faults(page) == []
        page.set_viewport_size({"width": 1440, "height": 900})
        first = page.locator("#sorted ul[aria-label=Sign] li").first
        first.focus()
        page.keyboard.press("t")
        wait(page, "document.querySelector('#sorted').innerText.includes('↗ going NE')")
        assert ways(page)[:2] == ["↗ going NE", "← going W"]
        page.keyboard.press("Shift+T")
        wait(page, "document.querySelector('#sorted').innerText.includes('→ going E')")
        assert ways(page)[:2] == ["↙ going SW", "→ going E"]
        moose = page.locator("#sorted li", has_text="moose rub").locator("select")
        moose.select_option("rub")
        wait(page, "document.querySelectorAll('#sorted ul[aria-label=Sign] li').length === 5")
        page.locator("#sorted button.main").click()
        wait(page, "document.querySelector('#sorted .result')")
        shoot(page, "takein-saved")
    with open_logbook(Folder(folder.root)) as session:
        kept = session.con.execute(
            "SELECT s.note, g.travel_deg FROM signs s JOIN sightings g USING (sign)"
            " WHERE s.kind = 'rub' ORDER BY s.note"
        ).fetchall()
        (notes,) = session.con.execute("SELECT count(*) FROM waypoints").fetchone() or (0,)
    assert [(n.split()[0], d) for n, d in kept] == [("moose", None), ("rub", 225.0), ("rub", 90.0)]
    assert notes == 2
