"""Pages speak as their readers do: days, hours, lengths, bearings, in the logbook's own units."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from page_land import book_in
from page_server import Running, running
from said import faults, shown

from camsign.answers.odds import about
from camsign.answers.result import Figure, Watch
from camsign.answers.rivals import Rivals
from camsign.answers.ways import Way, Ways, shares_of
from camsign.page.area_parts import PARTS, _span_words
from camsign.page.show import _environment
from camsign.page.tonight_parts import PARTS as TONIGHT


def addresses(server: Running) -> Iterator[str]:
    """Give the address of every page and of every part of one."""
    buck = server.get("/sort/words")["bucks"][0]["buck_id"]
    yield from ("/woods", "/tonight", "/sort", "/map", "/areas", "/bucks", "/cards")
    yield from ("/compared/which", "/compared/hot", f"/bucks/{buck}", "/areas/a-bed")
    yield from (f"/areas/a-bed/{part}" for part in ("short", *dict(PARTS)))
    yield from (f"/tonight/part/{part}" for part, _ in TONIGHT)
    yield from ("/map/signs/s-00000/makers", f"/bucks/{buck}/where")
    cards = server.ask("GET", "/cards", headers={"Accept": "text/html"}).body.decode()
    yield re.findall(r'href="(/cards/[^"]+)"', cards)[0]


@pytest.fixture(
    scope="module", params=["imperial", pytest.param("metric", marks=pytest.mark.thorough)]
)
def served(request: Any, tmp_path_factory: Any) -> Iterator[tuple[str, Running]]:
    units: str = request.param
    root: Path = tmp_path_factory.mktemp(units)
    book = book_in(units, root / "book")
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


def few(minimum: int, value: float | None, low: float, high: float, nights: int = 30) -> Rivals:
    bed = Figure(value, None if value is None else low, None if value is None else high, n=4)
    none = Figure(None, None, None)
    watch = Watch(("CAM01",), nights, nights, None, None)
    return Rivals("A", "a", (), minimum, bed, none, None, none, (), watch, "", ())


def test_two_counts_of_mature_bucks_do_not_contradict_each_other() -> None:
    assert few(2, 2, 2, 3).said == (
        "At least 2 mature bucks use A. Likely 2, maybe 3, bedded here at least once."
    )
    assert few(3, 1, 0, 3).said.endswith(
        "Maybe 1, anywhere from 0 to 3, bedded here at least once."
    )
    assert few(2, 2, 2, 2).said.endswith(" 2 bedded here at least once.")
    more = few(1, 2, 1, 2).said
    assert more == (
        "At least 1 mature buck uses A. Likely 2, anywhere from 1 to 2, bedded here at least "
        "once: 1 more than your pictures show."
    )
    assert few(0, 1, 0, 2).said == (
        "No mature buck in pictures at A. Maybe 1, anywhere from 0 to 2, bedded here at least "
        "once: 1 more than your pictures show."
    )
    assert few(0, None, 0, 0).said == (
        "No mature buck in pictures at A. Can't tell yet how many bed here."
    )
    assert replace(few(3, 3, 3, 3), watch=Watch((), 0, 0, None, None)).said.startswith("Can't tell")


def test_one_known_buck_hints_at_nothing_of_others() -> None:
    """It said that it can't tell, and then told."""
    one: Any = ("Old Crook",)
    told = replace(few(1, 1, 0, 1), known=one)
    assert told.missed == "Only one mature buck known here: no telling if there are others."
    nameless = replace(told, unidentified=Figure(0.25, 0.0, 0.5))
    assert nameless.missed.endswith("if there are others; 25% (0–50) of visits have no name.")
    assert "You may have them all" in replace(told, known=one * 2).missed


def ways_told(ways: Ways, out: bool, times: int) -> str:
    """Give what an area's page says of his ways out by evening, or in by morning."""
    told = _environment.get_template("area_parts.html").make_module(
        {"part": "", "about": about, "width": 0, "curve_tall": 0}
    )
    end = ("Which way", "Out", "evening") if out else ("Which way", "In", "morning")
    html = told.ways_of(*end, *shares_of(ways, 30, out), times)  # type: ignore[attr-defined]
    return " ".join(shown(html).split())


def test_a_way_out_that_nobody_saw_has_no_odds() -> None:
    way = Way("CAM01", Figure(35.0, 0.0, 70.0), 1, 1.0)
    told = ways_told(Ways((way,), ()), True, 0)
    assert told.startswith(
        "Which way Not seen leaving. If he goes out the way he came in: SW (215°"
    )
    assert told.endswith("past CAM01") and "1 in" not in told and "evening in" not in told
    marked = ways_told(Ways((way,), ()), True, 3)
    assert "You haven't tagged a direction on any of his evening pictures." in marked
    assert "Not seen" not in marked
    seen = ways_told(Ways((way,), ()), False, 1)
    assert "In past CAM01, headed NE (35°" in seen and "about 1 morning in" in seen
    assert "If he" not in seen


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
