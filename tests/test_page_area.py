"""The area page says what the answers say, each with its reasons; hostile names stay text."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from answers_world import World
from hypothesis import given
from hypothesis import strategies as st
from page_browser import Browser, faults
from page_land import BED, land_book, mornings, wait
from page_logbook import Book, new_book
from page_server import running
from said import shown

from camsign.answers.bedding import bedding
from camsign.answers.compare import compare
from camsign.answers.lately import Lately, LatelyRow
from camsign.answers.near import near
from camsign.answers.result import Figure, Watch
from camsign.answers.scope import scope_of
from camsign.answers.visits import visits
from camsign.derive.opening import open_logbook
from camsign.formats.days import People
from camsign.logbook.edits import SetFields, Subject, TagFrames
from camsign.page import area_parts
from camsign.page.charts import in_words, whiskers
from camsign.page.kept import AnswerCache
from camsign.page.routing import asking
from camsign.page.show import _environment

NAME = "<script>alert(1)</script> ‮knob"


def worked_out(page: Any) -> None:
    """Wait until every part has come."""
    wait(
        page, "document.querySelector('.part') && !document.querySelector('.part[aria-busy=true]')"
    )


def unfold(page: Any) -> None:
    """Open every part, and wait until each has come."""
    for fold in page.locator("details.fold > summary").all():
        fold.click()
    # A fold that was just clicked does not say at once that it is busy.
    wait(
        page,
        "[...document.querySelectorAll('details.fold .part')]"
        ".every(p => !p.innerText.startsWith('Working it out'))",
    )
    worked_out(page)


def inside_book(root: Path) -> Book:
    """Give a logbook with a camera in the bed and with sign of a season without pictures."""
    book = land_book(root, NAME)
    book.hang("CAM03", *BED)
    inside = book.card("CAM03", mornings(2, 3), size=(640, 480))
    who = Subject("animal", book.buck("Split Brow"))
    book.say("tagged", [TagFrames(who, inside, travel_deg=45.0)])
    late = {"sign": "s-00000", "seen_on": "2026-11-20"}
    book.say("sign", [SetFields("sighting", "g-late", late)])
    return book


def what_is_not_known(words: str) -> list[str]:
    """Give the reasons for not knowing that a page's words lack."""
    reasons = ("Split Brow came, but he has no age yet: give him one.",)
    return [reason for reason in reasons if reason not in words]


def first_screen(page: Any, verdict: str) -> None:
    """What is asked first is there before anything is opened, and nothing else was worked out."""
    short = page.locator(".short").inner_text()
    assert short.startswith(verdict) and what_is_not_known(short) == []
    asked = page.locator(".answers dt").all_inner_texts()
    assert asked == [
        "Who beds here", "When to be there", "Which way he leaves", "Which way he comes in",
        "How sure",
    ]  # fmt: skip
    assert page.locator("details.fold .part *").count() == page.locator("details.fold").count()


@pytest.mark.thorough
def test_the_page_says_what_the_answers_say(chromium: Browser, tmp_path: Path) -> None:
    book = inside_book(tmp_path / "book")
    with open_logbook(book.folder) as s:
        scope = scope_of(s, areas=["a-bed"])
        seen, bed = visits(s, scope), bedding(s, scope)
        table = near(s, scope).table
        table = table[table["buck"] == "Split Brow"]
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page = window.go("/areas")
        assert page.locator("select[name=season]").input_value() == "2025"
        # No camera watched a whole night here, so areas are named and not ranked.
        assert page.locator("ol.ranked").count() == 0
        page.locator("#main .ranked a").first.click()
        worked_out(page)
        assert page.locator("h1").inner_text() == NAME
        first_screen(page, bed.said)
        unfold(page)
        words = page.locator("main").inner_text()
        assert page.locator("main script").count() == 0
        (row,) = seen.rows
        assert row.days_said == "20 days (none of them fully covered)" and row.days_said in words
        assert in_words(row.per_100_nights) in words
        signs, frames = table["sign"].nunique(), table["frame"].nunique()
        row_of = page.locator("#fold-near .part tbody tr").first
        beside = row_of.locator("th, td").all_inner_texts()
        assert beside[:4] == ["Split Brow", "rub", str(signs), str(frames)]
        headings = ("Who comes", "When", "Is it a bed?", "mature bucks", "Sign near it")
        for heading in (*headings, "Who was pictured near sign"):
            assert heading in words
        # No night is covered whole, so there is no rate to draw.
        assert "Can't tell yet how often they come:" in words, words
        assert page.locator("svg[role=img]").count() == 3
        # Every part has its reasons.
        assert page.locator("main details.why").count() >= 6
        page.locator("#fold-bed .part .why summary").click()
        why = People("imperial").prose(bed.why[0])
        assert f"{why[:1].upper()}{why[1:]}" in page.locator("main").inner_text()
        assert faults(page) == []
        page.set_viewport_size({"width": 800, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth") <= 800


@pytest.mark.thorough
def test_no_area_leads_to_the_map(chromium: Browser, tmp_path: Path) -> None:
    book = new_book(tmp_path / "book")
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page = window.go("/areas")
        page.locator("main a", has_text="Draw one").click()
        assert page.url.endswith("/map")
        assert server.ask("GET", "/areas/nowhere").status == 400


def _which(session: Any, ranked: Any) -> str:
    """What the areas' page shows of which is best."""
    html: str = _environment.get_template("areas_parts.html").render(
        part="which", ranked=ranked, told=ranked.ranked, watched=True,
        span=SimpleNamespace(query=str, when="in the 2025 season"), reach="219 yd",
        people=People("imperial"), **area_parts.shared(session),
    )  # fmt: skip
    return html


def test_areas_that_nobody_can_rank_get_no_number() -> None:
    """Under `Can't tell yet` in the terminal the page gave a first place, and a rate of –."""
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Hemlock Bench", (0, 0), 80)
    first, last = date(2025, 9, 1), date(2025, 9, 30)
    hung = world.camera("CAM01", (150, 0), first, last)
    world.seen("b-split-brow", hung, "2025-09-28 12:00", "2025-09-29 12:00")
    for night in (first + timedelta(days=i) for i in range(20)):
        world.add("unsorted", deployment=hung, day=night, night=night, bursts=2)
    session = world.session()
    ranked = compare(session, scope_of(session))
    assert ranked.said.startswith("Can't tell yet")
    html = _which(session, ranked)
    words = " ".join(shown(html).split())
    assert "<ol" not in html and words.startswith("Can&#39;t tell yet: 20 of ")
    assert (
        "caught 2 visits in shooting light in the 2025 season (2 by day, 0 in gray light). Can't "
        "tell yet how often." in words
    )


def test_the_areas_are_ranked_under_a_sentence_that_says_which_is_best() -> None:
    """The page went straight to the list; a rate stood where a count was meant."""
    world = World()
    world.buck("Split Brow", 5.5)
    first, last = date(2025, 9, 1), date(2025, 9, 30)
    for i, name in enumerate(("Hemlock Bench", "Alder Fork")):
        world.area(name, (2000 * i, 0), 80)
        hung = world.camera(f"CAM0{i}", (2000 * i + 150, 0), first, last)
        for night in range(2, 2 + 14 * (1 - i), 2):
            world.seen("b-split-brow", hung, f"2025-09-{night:02} 12:00")
    session = world.session()
    ranked = compare(session, scope_of(session))
    html = _which(session, ranked)
    words = " ".join(shown(html).split())
    assert words.startswith(ranked.headline) and ranked.said.startswith(ranked.headline[:-1])
    assert "Hemlock Bench" in ranked.headline
    assert "Evenings are the 10 after Sep 30, 2025, the last night covered" in words
    assert f"Expect a mature buck out in shooting light on {ranked.rows[0].evenings} (" in words
    assert "caught 7 visits in shooting light in the 2025 season (7 by day, 0 in gray" in words
    assert " per 10 days (" in words


def test_how_many_nights_wait_is_said_once() -> None:
    waits = "17 of 55 nights aren't sorted, so they don't count yet"
    told = f"Can't tell yet how many use Bench: {waits}. Sort them first."
    short = "Can't tell yet how many use Bench: too many nights aren't sorted."
    assert area_parts._once(waits, told) == short
    assert area_parts._once(waits, f"2 cameras close enough, 38 nights covered; {waits}") == (
        "2 cameras close enough, 38 nights covered"
    )
    assert area_parts._once(None, told) == told


def test_fresh_sign_without_a_buck_says_so_in_words() -> None:
    """It counted 0 visits of mature bucks, and gave the sign's newest day as the last one."""
    day = date(2025, 11, 2)
    row = LatelyRow("Bench", "a-1", day, 0, 0, 0, 0, (), None, 9, 0, 3, day)
    watch = Watch(("CAM1",), 9, 9, date(2025, 10, 25), day)
    lately = Lately((row,), date(2025, 10, 25), day, {"Bench": watch}, "counted", ())
    html = _environment.get_template("areas_parts.html").render(
        part="hot", lately=lately, people=People("imperial")
    )
    words = " ".join(shown(html).split())
    assert ": 3 bright rubs, newest Nov 2, 2025; no mature buck in shooting light in 9 nig" in words


def test_fresh_sign_where_no_night_is_covered_cannot_tell_of_bucks() -> None:
    """It said "no mature buck in 0 nights covered", as if somebody had looked."""
    day = date(2025, 11, 2)
    row = LatelyRow("Bench", "a-1", day, 0, 0, 0, 0, (), None, 0, 0, 3, day)
    watch = Watch((), 0, 0, date(2025, 10, 25), day)
    lately = Lately((row,), date(2025, 10, 25), day, {"Bench": watch}, "counted", ())
    html = _environment.get_template("areas_parts.html").render(
        part="hot", lately=lately, people=People("imperial")
    )
    words = " ".join(shown(html).split())
    assert "can't tell if a mature buck came: no night covered" in words
    assert "no mature buck" not in words


def test_who_has_no_name_is_folded_away_near_sign() -> None:
    """Does and squirrels by kind of sign made the list thirty rows long."""
    last = datetime(2025, 11, 2, 7)
    brow = area_parts.NearRow("Split Brow", "b-1", "rub", 2, 3, "17 yd", last)
    doe = area_parts.NearRow("a doe", None, "rub", 4, 9, "17 yd", last)

    def near_part(*rows: area_parts.NearRow) -> str:
        near = SimpleNamespace(why=(), method="counted", said="None")
        return _environment.get_template("area_parts.html").render(
            part="near", rows=rows, near=near, people=People("imperial")
        )

    named, _, rest = near_part(brow, doe).partition("<details><summary>Everything else")
    assert "Split Brow" in named and "a doe" not in named
    assert "a doe" in rest and "Split Brow" not in rest
    assert "Everything else" not in near_part(brow)
    assert "<p>No buck with a name.</p>" in near_part(doe)


figures = st.builds(
    lambda low, a, b: Figure(low + a, low, low + a + b),
    *(st.floats(0, 1e4, allow_nan=False) for _ in range(3)),
)


@pytest.mark.thorough
@given(st.lists(figures, min_size=1, max_size=12))
def test_whiskers_stay_on_their_axis_and_in_order(found: list[Figure]) -> None:
    chart = whiskers([("x", f) for f in found])
    if max(f.high or 0.0 for f in found) < 1e-6:
        assert chart is None
        return
    assert chart is not None
    left, right = chart.ticks[0].x, chart.ticks[-1].x
    for row in chart.rows:
        assert row.x is not None and row.low is not None and row.high is not None
        assert left - 0.1 <= row.low <= row.x + 0.1 <= row.high + 0.2 <= right + 0.3
    assert 2 <= len(chart.ticks) <= 7


def test_nothing_is_drawn_of_what_nobody_can_tell() -> None:
    """It drew an axis to 0.000001, and arrows without an end."""
    unknown = Figure(None, 0.0, None)
    assert whiskers([("Split Brow", unknown), ("Twig", unknown)]) is None
    assert whiskers([("Split Brow", unknown), ("Twig", Figure(3.0, 1.0, 8.0))]) is not None


def test_figures_in_words() -> None:
    assert in_words(Figure(30.75, 12.7, 55.9)) == "31 (13–56)"
    assert in_words(Figure(0.0, 0.0, None)) == "0 (0–no limit)"
    assert in_words(Figure(None, None, None)) == "–"
    assert in_words(Figure(0.1563, 0.0477, 0.304), 100, "%") == "16% (4.8–30)"
    assert in_words(Figure(2.0, 2.0, 3.0)) == "2 (2–3)"


def test_an_answer_is_computed_once_until_the_logbook_says_something_new() -> None:
    kept, asked, begun = AnswerCache(), [], threading.Event()

    def slow() -> str:
        asked.append(1)
        begun.set()
        time.sleep(0.1)
        return "bed"

    with ThreadPoolExecutor(4) as pool:
        found = [pool.submit(kept.give, 1, "a", slow) for _ in range(4)]
        assert begun.wait(5)
        assert [one.result() for one in found] == ["bed"] * 4
    assert len(asked) == 1
    assert kept.give(1, "b", lambda: "other") == "other"
    assert kept.give(2, "a", slow) == "bed" and len(asked) == 2


def test_what_was_read_before_a_change_does_not_pass_for_what_is_so_after_it() -> None:
    desk = SimpleNamespace(version=1)

    @contextmanager
    def reading(settled: bool) -> Iterator[None]:
        desk.version += 1  # something is said while the page waits for its session
        yield None

    desk.reading = reading
    state = SimpleNamespace(opened=SimpleNamespace(desk=desk, answered=AnswerCache()))
    app = SimpleNamespace(state=state)
    request: Any = SimpleNamespace(app=app, path_params={}, query_params={})
    with asking(request) as early, asking(request) as late:
        assert early.once("visits", lambda: "old") == "old"
        assert late.once("visits", lambda: "new") == "new"


def test_what_failed_is_asked_again() -> None:
    kept = AnswerCache()
    with pytest.raises(ZeroDivisionError):
        kept.give(1, "a", lambda: 1 // 0)
    assert kept.give(1, "a", lambda: 3) == 3
