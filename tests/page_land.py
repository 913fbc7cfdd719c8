"""A logbook with ground to look at: cameras, areas, sign and a buck who comes to a bed by light."""

from __future__ import annotations

import re
import time
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from page_logbook import Book, Shot, new_book
from playwright.sync_api import Error

from camsign.geo import destination
from camsign.logbook.edits import SetFields, Subject, TagFrames

BED = (44.12, -71.50)


def land_book(
    root: Path, name: str = "Thorn Bench", signs: int = 12, look: str | None = None
) -> Book:
    """Give a logbook with one bed, two cameras by it, sign around it and a tagged buck."""
    book = new_book(root)
    for n, bearing in ((1, 90.0), (2, 200.0)):
        lat, lon = at(bearing, 120)
        book.hang(f"CAM{n:02d}", lat, lon, 45.0)
        frames = book.card(f"CAM{n:02d}", mornings(20, n), size=(640, 480))
        if n == 1:
            buck = book.buck("Split Brow")
            book.say("tagged", [TagFrames(Subject("animal", buck), frames[::2])])
    shape = {"circle": [BED[0], BED[1], 100.0]}
    book.say(
        "area", [SetFields("area", "a-bed", {"name": name, "kind": "bedding", "shape": shape})]
    )
    add_signs(book, signs, look)
    return book


def book_in(units: str, root: Path) -> Book:
    """Give a logbook with a stand as well, in the units of its people."""
    book = land_book(root)
    lat, lon = at(90, 190)
    place = {"name": "Oak", "kind": "stand", "shape": {"type": "Point", "coordinates": [lon, lat]}}
    book.say("stand", [SetFields("place", "p-oak", place)])
    settings = root / "logbook.toml"
    text = re.sub(r'units = "\w+"', f'units = "{units}"', settings.read_text())
    assert f'units = "{units}"' in text
    settings.write_text(text)
    return book


def mornings(days: int, camera: int) -> list[Shot]:
    """Shots just after sunrise, one visit a day."""
    start = datetime(2025, 10, 1, 7, 5 + camera)
    return [
        Shot(start + timedelta(days=d, seconds=2 * i), "colour", 0.5)
        for d in range(days)
        for i in range(2)
    ]


def at(bearing: float, meters: float) -> tuple[float, float]:
    lat, lon = destination(BED[0], BED[1], bearing, meters)
    return float(lat), float(lon)


def add_signs(book: Book, count: int, look: str | None = None) -> None:
    """Add rubs around the bed that head outward, seen in November 2025."""
    edits = []
    for i in range(count):
        bearing = 360.0 * i / max(count, 1)
        lat, lon = at(bearing, 60 + 5 * (i % 5) + i // 12 * 0.4)
        edits.append(SetFields("sign", f"s-{i:05d}", {"kind": "rub", "lat": lat, "lon": lon}))
        seen = {"sign": f"s-{i:05d}", "seen_on": "2025-11-20", "travel_deg": bearing, "state": look}
        edits.append(SetFields("sighting", f"g-{i:05d}", seen))
    if edits:
        book.say("signs", edits)


def wait(page: Any, script: str, seconds: float = 20) -> None:
    """Wait until a script says yes. Playwright's own waiting uses eval, which is forbidden here."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        # A page that is just being left cannot be asked.
        with suppress(Error):
            if page.evaluate(script):
                return
        page.wait_for_timeout(30)
    pytest.fail(f"never: {script}; the page says {page.evaluate(_SAYS)}")


def middle(page: Any, selector: str) -> tuple[float, float]:
    """Give where the middle of a drawn mark is [pixels], read in one go.

    A redraw puts a new mark in the place of the old one: between finding and measuring it is gone.
    """
    wait(page, f"document.querySelector({selector!r}) !== null")
    x, y = page.evaluate(
        "(selector) => { const b = document.querySelector(selector).getBoundingClientRect();"
        " return [b.x + b.width / 2, b.y + b.height / 2]; }",
        selector,
    )
    return x, y


_SAYS = (
    "document.querySelector('#alarm')?.innerText + ' ' + document.querySelector('#sign')?.innerText"
)


def disk(page: Any, words: str) -> None:
    """Wait until the quiet sign says that something is on the disk."""
    wait(page, f"document.querySelector('#sign.done')?.textContent.includes({words!r})")
