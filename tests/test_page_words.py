"""Pages speak as their readers do: days, hours, lengths, bearings, in the logbook's own units."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from page_land import at, land_book
from page_server import Running, running

from camsign.answers.result import Figure, Watch
from camsign.answers.rivals import Rivals
from camsign.logbook.edits import SetFields
from camsign.page.area_parts import PARTS, _span_words, shared_words
from camsign.page.tonight_parts import PARTS as TONIGHT
from camsign.page.words import People, day, span

IMPERIAL, METRIC = People("imperial"), People("metric")
SCRIPT = re.compile(r"<(script|style|code)\b.*?</\1>", re.S)
"""What is no prose; a path keeps the spelling that the disk has."""
SHAPE = re.compile(
    r' (?:d|viewBox|transform|points|href|src|data-[\w-]+|id|value|placeholder)="[^"]*"'
)
ISO = re.compile(r"\b\d{4}-\d\d-\d\d\b")
CLOCK_24 = re.compile(r"\b(?:[01]\d|2[0-3]):[0-5]\d\b(?! [AP]M)")
CLOCK_12 = re.compile(r"\b\d{1,2}:\d\d [AP]M\b")
METRIC_UNITS = re.compile(r"\d(?:&nbsp;|\s)?(?:m|cm|km|mm|ha|meters?|hectares?|kilometers?)\b")
IMPERIAL_UNITS = re.compile(r"\d(?:&nbsp;|\s)?(?:yd|ft|mi|acres?|yards?|miles?|inches)\b")
BARE_BEARING = re.compile(r"(?<![(\d])(?<!°, )(?<!to )\b\d{1,3}°(?!\d|'| [NSEW]\b)")


def shown(html: str) -> str:
    """Give what a page's reader, or a screen reader, is told."""
    return re.sub(r"<[a-z/!][^>]*>", " ", SHAPE.sub("", SCRIPT.sub(" ", html)))


def faults(text: str, imperial: bool) -> list[str]:
    """Give each place at which a page does not speak its reader's language."""
    rules = [ISO, BARE_BEARING]
    rules += [CLOCK_24, METRIC_UNITS] if imperial else [CLOCK_12, IMPERIAL_UNITS]
    found = (text[max(0, m.start() - 40) : m.end() + 20] for r in rules for m in r.finditer(text))
    return [" ".join(one.split()) for one in found]


def addresses(server: Running) -> Iterator[str]:
    """Give the address of every page and of every part of one."""
    buck = server.get("/sort/words")["bucks"][0]["buck_id"]
    yield from ("/woods", "/tonight", "/sort", "/map", "/areas", "/bucks", "/cards")
    yield from ("/compared/which", "/compared/hot", f"/bucks/{buck}", "/areas/a-bed")
    yield from (f"/areas/a-bed/{part}" for part in ("short", *dict(PARTS)))
    yield from (f"/tonight/part/{part}" for part, _ in TONIGHT)
    cards = server.ask("GET", "/cards", headers={"Accept": "text/html"}).body.decode()
    yield re.findall(r'href="(/cards/[^"]+)"', cards)[0]


@pytest.fixture(scope="module", params=["imperial", "metric"])
def served(request: Any, tmp_path_factory: Any) -> Iterator[tuple[str, Running]]:
    units: str = request.param
    root: Path = tmp_path_factory.mktemp(units)
    book = land_book(root / "book")
    lat, lon = at(90, 190)
    place = {"name": "Oak", "kind": "stand", "shape": {"type": "Point", "coordinates": [lon, lat]}}
    book.say("stand", [SetFields("place", "p-oak", place)])
    settings = root / "book" / "logbook.toml"
    text = re.sub(r'units = "\w+"', f'units = "{units}"', settings.read_text())
    assert f'units = "{units}"' in text
    settings.write_text(text)
    with running(book.folder.root, root) as server:
        sit = {"stand": "Oak", "on": "2025-10-12", "hours": "3-dark", "wind": "SW 3 m/s"}
        server.post("/say/sit/add", {**sit, "saw": "2 does 30m E", "spooked": "doe 16:20"})
        yield units, server


def test_no_page_speaks_another_language(served: tuple[str, Running]) -> None:
    units, server = served
    found: dict[str, list[str]] = {}
    for address in addresses(server):
        answer = server.ask("GET", address, headers={"Accept": "text/html"})
        assert answer.status == 200, address
        words = shown(answer.body.decode())
        if wrong := faults(words, units == "imperial"):
            found[address] = wrong
    assert found == {}


@pytest.mark.parametrize("units", ["imperial", "metric"])
def test_the_rules_find_what_they_are_for(units: str) -> None:
    said = "in reach of 200 m, at 18:42 on 2025-12-05, heading 217° past it, or 4:07 PM, 219 yd"
    assert len(faults(said, units == "imperial")) == 4
    fine = {
        "imperial": "SW (217°), 219 yd, 4:07 PM",
        "metric": "SW (217°, 214° to 221°), 200 m, 16:07",
    }
    assert faults(fine[units], units == "imperial") == []


def test_hours_and_days() -> None:
    at = datetime(2025, 12, 5, 16, 7)
    assert (IMPERIAL.clock(at), METRIC.clock(at)) == ("4:07 PM", "16:07")
    midnight, noon = datetime(2025, 1, 1, 0, 5), datetime(2025, 1, 1, 12, 5)
    assert (IMPERIAL.clock(midnight), IMPERIAL.clock(noon)) == ("12:05 AM", "12:05 PM")
    assert IMPERIAL.at(at) == "Dec 5, 2025, 4:07 PM" and IMPERIAL.at(None) == "–"
    assert span(date(2025, 11, 3), date(2025, 12, 5)) == "Nov 3 to Dec 5, 2025"
    assert span(date(2025, 11, 3), date(2026, 1, 5)) == "Nov 3, 2025 to Jan 5, 2026"
    assert span(date(2025, 11, 3), date(2025, 11, 3)) == "Nov 3, 2025" and day(None) == "–"


@given(st.datetimes(datetime(1990, 1, 1), datetime(2100, 1, 1)))
def test_a_moment_in_words_is_the_same_moment(at: datetime) -> None:
    back = datetime.strptime(IMPERIAL.at(at), "%b %d, %Y, %I:%M %p")
    assert back == at.replace(second=0, microsecond=0)


def test_prose_changes_days_and_nothing_else() -> None:
    assert IMPERIAL.prose("from 2025-08-01 06:30 to 2025-12-05") == (
        "from Aug 1, 2025, 6:30 AM to Dec 5, 2025"
    )
    for kept in ("card 2025-13-45", "file 2025-10-04-a", "x2025-10-04", "12025-10-04"):
        assert IMPERIAL.prose(kept) == kept


def few(minimum: int, value: float | None, low: float, high: float, nights: int = 30) -> Rivals:
    bed = Figure(value, None if value is None else low, None if value is None else high, n=4)
    none = Figure(None, None, None)
    watch = Watch(("CAM01",), nights, nights, None, None)
    return Rivals("A", "a", (), minimum, bed, none, None, none, (), watch, "", ())


def test_two_counts_of_mature_bucks_do_not_contradict_each_other() -> None:
    assert shared_words(few(2, 2, 2, 3)) == (
        "2 mature bucks in pictures here; likely 2 (2 to 3) bedded here at least once"
    )
    more = shared_words(few(1, 2, 1, 2))
    assert more.startswith("1 mature buck in pictures here, but likely 2 (1 to 2) bedded here")
    assert "slip by your cameras" in more
    assert shared_words(few(0, None, 0, 0)).startswith("No mature buck in pictures here; how many")
    assert shared_words(replace(few(3, 3, 3, 3), watch=Watch((), 0, 0, None, None))).startswith(
        "Can’t tell"
    )


@pytest.mark.parametrize(
    ("span_of", "words"),
    [
        ((-30, 30), "sunset −½ to +½ h"),
        ((-90, -30), "sunset −1½ to −½ h"),
        ((-60, 0), "sunset −1 to 0 h"),
        ((0, 60), "sunset 0 to +1 h"),
        ((-45, 15), "sunset −¾ to +¼ h"),
        ((-80, 10), "sunset −1:20 to +0:10 h"),
    ],
)
def test_a_span_beside_a_chart_is_short(span_of: tuple[int, int], words: str) -> None:
    assert _span_words("sunset", *span_of) == words
