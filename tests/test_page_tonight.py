"""The page of tonight: one sentence first, ranks that follow the wind, and what is missing."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import parse_qs, urlencode

import numpy as np
import pytest
from page_browser import Browser, browser, faults, printed
from page_land import BED, at, mornings, wait
from page_logbook import Book, new_book
from page_server import Running, running
from PIL import Image

from camsign.answers.result import Figure
from camsign.cli.app import run
from camsign.derive.opening import open_logbook
from camsign.formats.days import People
from camsign.formats.elevation import Elevation, elevation_bytes
from camsign.formats.kinds import Kind, sniff
from camsign.ground.grid import Grid
from camsign.logbook.edits import SetFields, Subject, TagFrames
from camsign.logbook.settings import Settings
from camsign.page.tonight import _plan
from camsign.page.tonight_words import day_words
from camsign.report.relief import levels
from camsign.sits.tonight import tonight
from camsign.sits.weather import typed_sky
from camsign.sits.words import clock, odds, span

if TYPE_CHECKING:
    from playwright.sync_api import Page, Route

DAY = date(2025, 10, 21)
STAND = "<b>Pine</b> ‮east"


def sit_book(root: Path) -> Book:
    """A bed, a buck of age who comes to it from the east, two stands, one way in, and a hill."""
    book = new_book(root)
    book.hang("CAM01", *at(90, 120), 45.0)
    shots = mornings(20, 1)
    frames = book.card("CAM01", shots, size=(320, 240))
    buck = book.buck("Split Brow")
    book.say("tagged", [TagFrames(Subject("animal", buck), frames, travel_deg=268.0)])
    book.say("age", [SetFields("buck", buck, {"age": 5.5, "age_year": 2025})])
    bed = {"name": "Bench", "kind": "bedding", "shape": {"circle": [*BED, 60.0]}}
    book.say("area", [SetFields("area", "a-bed", bed)])
    for name, place, turn in (("p-east", STAND, 90.0), ("p-west", "West rock", 270.0)):
        lat, lon = at(turn, 190)
        shape = {"type": "Point", "coordinates": [lon, lat]}
        book.say(
            "stand", [SetFields("place", name, {"name": place, "kind": "stand", "shape": shape})]
        )
    line = [[lon, lat] for lat, lon in (at(90, 600), at(90, 195))]
    way = {
        "name": "Tote road",
        "kind": "way in",
        "shape": {"type": "LineString", "coordinates": line},
    }
    book.say("way", [SetFields("place", "p-way", way)])
    x = np.arange(-1200, 1200, 20) + 10.0
    hill = 300 + 60 * np.exp(-(x[None] ** 2 + x[:, None] ** 2) / 4e5)
    (book.folder.root / "ground").mkdir()
    ground = elevation_bytes(Elevation(Grid(hill, -1200.0, 1200.0, 20.0), *BED, 20.0, 0.0))
    (book.folder.root / "ground" / "elevation.tif").write_bytes(ground)
    return book


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Book:
    return sit_book(tmp_path_factory.mktemp("sits") / "book")


@pytest.fixture(scope="module")
def server(book: Book, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running(book.folder.root, tmp_path_factory.mktemp("where")) as started:
        yield started


def asking(**more: object) -> str:
    return "/tonight/answer?" + urlencode({"day": DAY, "part": "morning", **more})


@pytest.mark.thorough
def test_it_says_what_the_command_says(book: Book, server: Running) -> None:
    with open_logbook(book.folder) as session:
        own = tonight(session, DAY, typed_sky("90", 6 * 0.44704, 0.5), morning=True)
    got = server.get(asking(**{"from": 90, "speed": 6, "cloud": 50}))
    assert got["verdict"] == own.headline and own.said.startswith(own.headline)
    assert got["verdict"].startswith(f"Sit {STAND} on an E wind: ")
    assert got["rivals"] == own.rivals
    assert len(got["stands"][0]["range"]) < 24  # it has one line beside the map
    assert [row["stand"] for row in got["stands"]] == [row.stand for row in own.stands]
    assert [row["scent"] for row in got["stands"]] == [row.scent for row in own.stands]
    first = got["stands"][0]
    assert first["why"] == People("imperial").lines(own.stands[0].why)
    assert first["who"] == "Split Brow, headed in to Bench"  # of a morning he comes home
    assert first["shade"] is None  # before sunrise all is in shade
    assert len(first["airs"]) == len(got["steps"])
    assert first["airs"][0]["toward"] == pytest.approx(270.0)
    assert any("harness" in line for line in got["cautions"])


@pytest.mark.thorough
def test_a_wind_along_his_way_costs_the_chance(server: Running) -> None:
    """He comes in from the east, past the stand: a west wind tells him before he is there."""
    scents = {}
    for bearing in (90, 270):
        rows = server.get(asking(**{"from": bearing, "speed": 8, "cloud": 50}))["stands"]
        scents[bearing] = next(row["scent"] for row in rows if row["id"] == "p-east")
    assert scents == {90: "clean", 270: "risky"}


def test_no_wind_is_one_sentence_with_what_to_do(server: Running) -> None:
    got = server.get(asking())
    assert got["state"] == "wind"
    assert got["verdict"].startswith("No wind is saved for Oct 21")
    assert "Turn the ring" in got["todo"] and "stands" not in got


class _Then(datetime):
    """The hour before dawn of DAY for now."""

    @classmethod
    def now(cls, tz: tzinfo | None = None) -> _Then:
        return cls(2025, 10, 21, 9, tzinfo=tz)


def test_the_page_keeps_a_sit_and_refuses_one_that_is_over(
    book: Book, server: Running, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Kept before it happens; of a day gone by nothing can be kept beforehand."""
    from camsign.logbook.moments import today

    wind = {"from": "90", "speed": "6", "cloud": "50", "part": "evening"}
    past = {"day": str(DAY), "stand": "p-east", **wind}
    gone = server.ask("POST", "/tonight/plan", json.dumps(past).encode())
    assert gone.status == 400 and "is over" in gone.json["what"]
    ahead = str(today("America/New_York") + timedelta(days=1))
    # A year after the last picture there are no odds, and so nothing that a review could check.
    plan = {"day": ahead, "stand": "p-west", **wind}
    bare = server.ask("POST", "/tonight/plan", json.dumps(plan).encode())
    told = "nothing to save: there are no odds for West rock that evening"
    assert (bare.status, bare.json["what"]) == (400, told)
    monkeypatch.setattr("camsign.sits.review.datetime", _Then)
    with open_logbook(book.folder) as session:
        assert _plan(session, {}, past | {"stand": "p-west", "part": "morning"})[0] == {
            "stand": "West rock"
        }
    sit = {"stand": "West rock", "on": str(DAY), "hours": "3-dark", "saw": "doe 30yd"}
    made = server.post("/say/sit/add", sit)
    assert made["kind"] == "sit"
    with open_logbook(book.folder) as session:
        assert session.con.execute("SELECT stand FROM plans").fetchall() == [("p-west",)]
        assert session.con.execute("SELECT what FROM encounters").fetchall() == [("doe",)]
    server.post("/say/sit/remove", {"sit": made["id"]})


def test_a_season_without_pictures_is_no_call(server: Running) -> None:
    got = server.get(f"/tonight/answer?{urlencode({'day': '2023-10-21', 'from': 270, 'speed': 6})}")
    assert got["state"] == "nobody" and got["verdict"].startswith("Can't call it")
    assert got["link"]["href"] == "/bucks"
    assert got["top"] is None  # none is picked out where nothing can be told


@pytest.mark.thorough
def test_stands_are_not_numbered_where_nothing_can_be_told(book: Book, tmp_path: Path) -> None:
    asked = urlencode({"day": "2023-10-21", "part": "morning", "from": 90, "speed": 6})
    with (
        browser() as chromium,
        running(book.folder.root, tmp_path) as server,
        chromium.window(server) as window,
    ):
        page = window.go(f"/tonight?{asked}")
        wait(page, "document.querySelectorAll('#stands > li').length === 2")
        assert "".join(page.locator("#stands .rank").all_inner_texts()) == ""
        assert page.locator("#ranks-title").inner_text() == "Your stands (not ranked)"
        assert page.locator("#land .stand.chosen").count() == 0
        assert page.locator("#hour").is_hidden()
        assert faults(page) == []


@pytest.mark.parametrize(
    "wrong",
    [
        {"from": "east", "speed": 6},
        {"from": 270},
        {"speed": 6},
        {"from": 270, "speed": 900},
        {"from": 270, "speed": 6, "cloud": 300},
        {"part": "noon"},
        {"day": "2025-13-40"},
    ],
)
def test_what_makes_no_sense_is_one_line(server: Running, wrong: dict[str, object]) -> None:
    answer = server.ask("GET", asking(**wrong))
    assert answer.status == 400 and answer.json["what"] and answer.json["remedy"] is not None


def mean(png: bytes) -> float:
    return float(np.asarray(Image.open(io.BytesIO(png)).convert("RGB")).mean())


@pytest.mark.thorough
def test_the_ground_is_a_picture_of_the_box_asked_for(server: Running) -> None:
    relief = server.get(asking())["relief"]
    drawn = server.ask("GET", relief["href"])
    assert drawn.headers["content-type"] == "image/png" and sniff(drawn.body) is Kind.PNG
    light = server.ask("GET", relief["href"] + "&on=light")
    assert mean(light.body) > 180 > 100 > mean(drawn.body)
    whole = server.get("/map/ground")["relief"]
    assert whole["box"] == [-1200, -1200, 1200, 1200]  # all that was taken in
    assert mean(server.ask("GET", whole["href"] + "&on=light").body) > 180
    west, south, east, north = relief["box"]
    assert west < -190 and east > 600 and south < 0 < north
    for box in ("", "1,2,3", "0,0,1,1", "0,0,9e9,9e9", "nan,nan,nan,nan"):
        assert server.ask("GET", f"/map/relief?box={box}").status == 400


@pytest.mark.thorough
def test_the_map_zoomed_in_shows_ground_drawn_for_it(book: Book, tmp_path: Path) -> None:
    """2000 pixels lie on 2400 m: beyond that the whole picture is coarse."""
    with (
        browser() as chromium,
        running(book.folder.root, tmp_path) as server,
        chromium.window(server) as window,
    ):
        page = window.go("/map")
        ground = (
            "[...document.querySelectorAll('#map image')].map((one) => one.getAttribute('href'))"
        )
        wait(page, f"{ground}.length === 1")
        box = page.locator("#map").bounding_box()
        page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        page.mouse.wheel(0, -1600)
        wait(page, f"{ground}.length === 2")
        whole, near = page.evaluate(ground)
        west, south, east, north = [
            float(x) for x in parse_qs(near.partition("?")[2])["box"][0].split(",")
        ]
        assert "box=-1200,-1200,1200,1200" in whole and max(east - west, north - south) < 1200
        assert faults(page) == []


def test_only_the_own_browser_may_ask(server: Running) -> None:
    for path in ("/tonight", asking(), "/map/relief?box=0,0,100,100"):
        assert server.ask("GET", path, headers={"Cookie": None}).status == 403


def test_the_old_address_of_the_chores_leads_on(server: Running) -> None:
    moved = server.ask("GET", "/evening", headers={"Accept": "text/html"})
    assert (moved.status, moved.headers["location"]) == (308, "/woods")


@pytest.mark.thorough
def test_what_is_missing_leads_to_the_map(tmp_path: Path) -> None:
    bare = new_book(tmp_path / "bare")
    with running(bare.folder.root, tmp_path) as server:
        got = server.get(asking())
        assert (got["state"], got["link"]["href"]) == ("lacking", "/map")
        assert got["verdict"] == "No stand is on the map yet."


@pytest.mark.thorough
def test_the_wind_is_turned_by_hand(book: Book, tmp_path: Path) -> None:
    """The scent turns in the browser at once; the verdict follows when the server has answered."""
    with browser() as chromium, running(book.folder.root, tmp_path) as server:
        turn_it(chromium, server)


FLAT = """async (answer) => {
  const { pocketCard } = await import("/static/tonight/rows.js");
  const names = pocketCard(answer, answer.stands[0], "calm")[1].querySelectorAll("dt");
  return [...names].map((name) => `${name.textContent}: ${name.nextElementSibling.textContent}`);
}"""


def turn_it(chromium: Browser, server: Running) -> None:
    with chromium.window(server, 390, 844) as window:
        page = window.go(f"/tonight?{urlencode({'day': DAY, 'part': 'morning'})}")
        wait(page, "document.querySelector('#main').dataset.state === 'wind'")
        page.locator("#ring").focus()
        page.keyboard.press("PageDown")  # from nowhere said: a wind from the NW
        wait(page, "document.querySelectorAll('#stands li').length === 2")
        before = page.locator("#verdict").inner_text()
        shape = page.locator("#land .by-wind path").last.get_attribute("d")
        for _ in range(4):
            page.keyboard.press("PageUp")
        wait(page, f"document.querySelector('#verdict').textContent !== {before!r}")
        assert page.locator("#land .by-wind path").last.get_attribute("d") != shape
        assert page.locator("#ring").get_attribute("aria-valuenow") == "135"
        assert page.locator("#stands li.open").count() == 0  # no room for it here
        page.locator("#stands .head", has_text="east").click()
        assert STAND in page.locator("#stands li.open").inner_text()
        assert page.locator("#stands b").count() == 0
        page.evaluate("window.print = () => { window.printed = true; }")
        page.get_by_role("button", name="Print its card").click()
        page.emulate_media(media="print")
        assert page.evaluate("window.printed") is True
        card = page.locator("#pocket").inner_text()
        assert all(words in card for words in ("Be in by", STAND, "SE (135°)", "harness", "law"))
        assert "look for him around" in card and "not counted" not in card
        got = server.get(asking(**{"from": 90, "speed": 6, "cloud": 50}))
        assert got["ground"] is True
        bare = page.evaluate(FLAT, {**got, "ground": False})
        assert "Thermals: not counted (no elevation file)" in bare
        assert page.locator("#verdict").is_hidden()
        page.emulate_media(media="screen")
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert faults(page) == []


@pytest.mark.thorough
def test_before_there_is_a_stand_the_map_shows_the_beds_and_no_scale_without_one(
    tmp_path: Path,
) -> None:
    """The scale's border alone was a black speck on an empty map."""
    book = tmp_path / "hollow"
    assert run(["init", str(book), "--home", "44.615,-71.235"]) == 0
    bed = ["area", "add", "Knob", "--at", "44.62,-71.235", "--radius", "80yd"]
    for shown, beds in ((False, 0), (True, 1)):
        if shown:
            assert run(["--logbook", str(book), *bed]) == 0
        with (
            running(book, tmp_path) as server,
            browser() as chromium,
            chromium.window(server, 1200, 760) as window,
        ):
            page = window.go("/tonight")
            wait(page, "document.querySelector('#main').dataset.ready === 'yes'")
            assert page.locator("#bar").is_visible() is shown
            assert page.locator("#land .bed").count() == beds


def test_the_reason_and_the_way_in_are_said_at_once(server: Running) -> None:
    """Who beds where, when and whence he comes, where the scent goes, and how to get in."""
    got = server.get(asking(**{"from": 90, "speed": 6, "cloud": 50}))
    first = got["stands"][0]
    assert first["stand"] == STAND and got["because"].startswith(
        "About 1 chance in 7 that Split Brow is bedded at Bench. If he's there, "
    )
    assert "Your scent drifts W: " in got["because"]
    assert "Go in by Tote road and be there by " in got["todo"]
    assert server.get("/tonight/answer?day=2023-10-21&from=270&speed=6")["because"] == ""


def text_of(server: Running, part: str) -> str:
    answer = server.ask("GET", f"/tonight/part/{part}", headers={"Accept": "text/html"})
    assert answer.status == 200, (part, answer.body[:300])
    return answer.body.decode()


def test_sits_pressure_a_next_camera_and_the_review_are_on_the_page(server: Running) -> None:
    sit = {"stand": "West rock", "on": str(DAY), "hours": "3-dark"}
    said = {"wind": "SW 6mph", "saw": "2 does 30yd E 4:05", "spooked": "doe 4:20"}
    made = server.post("/say/sit/add", {**sit, **said})
    words = " ".join(text_of(server, "sits").split())
    assert '<strong dir="auto">West rock</strong> Oct 21, 2025, 3:00 PM to' in words
    assert "wind SW 6 mph" in words and "2 does 30 yd from E at 4:05 PM" in words
    # As `sit list` says it: no rate from so few hours.
    assert "Too few hours on stand to give a rate (" in words and "an hour:" not in words
    assert "spooked <bdi>doe at 4:20 PM</bdi>" in words
    hang = text_of(server, f"next?day={DAY}&part=morning")
    assert "need another camera for this" in hang and "<ol" not in hang and "bump deer" not in hang
    pressed = text_of(server, "pressure")
    pressed = " ".join(pressed.split())
    assert "trip in: daylight pictures" in pressed or "trips in: daylight pictures" in pressed
    assert re.search(r"Last trip in by then: Oct \d+, 2025 ", pressed) and "(sit)" in pressed
    before = " ".join(text_of(server, f"pressure?day={DAY}").split())
    assert "(sit)" not in before  # the sit of that evening is not behind it yet
    assert "save the odds before any of your sits" in text_of(server, "review")
    server.post("/say/sit/remove", {"sit": made["id"]})
    assert "Oct 19" not in text_of(server, "sits")
    assert server.ask("GET", "/tonight/part/nonsense").status == 404


def follows_the_wind(page: Page) -> None:
    """As the wind turns, what is open is the stand to sit, until one is chosen by hand."""
    named, other = (row.get_attribute("data-id") for row in page.locator("#stands > li").all())

    def turned(route: Route) -> None:
        answer = route.fetch()
        route.fulfill(response=answer, json=answer.json() | {"top": other})

    page.route("**/tonight/answer**", turned)
    page.locator("#ring").focus()
    page.keyboard.press("PageUp")
    wait(page, f"document.querySelector('#stands li.open')?.dataset.id === {other!r}")
    page.locator(f"#stands li[data-id='{named}'] .head").click()
    page.keyboard.press("PageDown")
    page.locator("#ring").focus()
    with page.expect_response("**/tonight/answer**"):
        page.keyboard.press("PageUp")
    page.wait_for_timeout(200)
    assert page.locator("#stands li.open").get_attribute("data-id") == named
    page.unroute("**/tonight/answer**")
    with page.expect_response("**/tonight/answer**"):
        page.keyboard.press("PageDown")


@pytest.mark.thorough
def test_a_sit_is_added_and_removed_and_the_card_printed_by_one_tap(
    book: Book, tmp_path: Path
) -> None:
    asked = urlencode({"day": DAY, "part": "morning", "from": 90, "speed": 6, "cloud": 50})
    with (
        browser() as chromium,
        running(book.folder.root, tmp_path) as server,
        chromium.window(server) as window,
    ):
        page = window.go(f"/tonight?{asked}")
        wait(page, "document.querySelectorAll('#stands > li').length === 2")
        assert STAND in page.locator("#stands li.open").inner_text()  # the best one's why
        assert "Sit here" in page.locator("#stands li.open .marks").inner_text()
        bed = page.locator("#land text[data-bed]", has_text="Bench")
        assert bed.get_attribute("visibility") == "visible"  # the headline's bed keeps its name
        follows_the_wind(page)
        page.evaluate("dispatchEvent(new Event('beforeprint'))")  # the browser's own menu
        assert STAND in page.locator("#pocket").text_content()
        page.evaluate("window.print = () => { window.printed = true; }")
        page.locator("#card").click()
        assert page.evaluate("window.printed") is True
        page.emulate_media(media="print")
        assert "Tote road" in page.locator("#pocket").inner_text()
        assert printed(page) == 1
        page.emulate_media(media="screen")
        page.locator("#fold-sits > summary").click()
        wait(page, "document.querySelector('#fold-sits [aria-busy=false]')")
        before = page.locator("#fold-sits .cards > li").count()
        page.locator(".journal > summary").click()
        wait(page, f"document.querySelector('.journal [name=stand]').value === {STAND!r}")
        page.fill(".journal [name=on]", "2025-10-20")
        page.fill(".journal [name=hours]", "light-9:30")
        page.fill(".journal [name=saw]", "8pt 40yd E 7:10")
        page.get_by_role("button", name="Save sit").click()
        rows = "document.querySelectorAll('#fold-sits .cards > li').length"
        wait(page, f"{rows} === {before + 1}")
        assert "8 pt 40 yd from E at 7:10 AM" in page.locator("#fold-sits").inner_text()
        assert faults(page) == []
        page.locator("#fold-sits [data-remove]").first.click()
        wait(page, f"{rows} === {before}")


# ---------------------------------------------------------------- words


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (None, "next to none"), (0.0, "next to none"), (0.0625, "about 1 in 16"),
        (0.34, "about 1 in 3"), (0.5, "about 1 in 2"), (0.66, "about 2 in 3"),
        (0.76, "about 3 in 4"), (0.9, "about 9 in 10"), (1.0, "nearly certain"),
    ],
)  # fmt: skip
def test_odds_are_said_as_people_say_them(chance: float | None, words: str) -> None:
    assert odds(chance) == words


def test_an_interval_is_said_low_to_high() -> None:
    assert span(Figure(0.1, 0.05, 0.34)) == "anywhere from 1 in 20 to 1 in 3"
    assert span(Figure(0.0, 0.0, None)).startswith("can't tell")


def test_hours_and_days_follow_the_logbook() -> None:
    utc = datetime(2025, 11, 4, 21, 7, tzinfo=UTC)
    imperial = Settings(id="i", tz="America/New_York", units="imperial")
    metric = Settings(id="m", tz="America/New_York", units="metric")
    assert (clock(utc, imperial), clock(utc, metric)) == ("4:07 PM", "16:07")
    assert day_words(DAY, DAY + timedelta(days=3)) == "Oct 21"
    assert day_words(DAY, DAY + timedelta(days=300)) == "Oct 21, 2025"


def test_contours_are_round_and_not_too_many() -> None:
    thin, heavy = levels(1003.0, 1399.0, metric=False)
    assert heavy == [1100.0, 1200.0, 1300.0] and 1020.0 in thin
    assert len(thin) + len(heavy) <= 22
