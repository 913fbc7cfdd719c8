"""The pages in a real browser: tagging by keyboard, hostile names, a killed server, axe-core."""

from __future__ import annotations

import json
import signal
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from page_browser import Browser, faults
from page_logbook import HOME, Book, new_book, season, small_book
from page_server import Running, running
from playwright.sync_api import Error

from camsign.derive.opening import open_logbook
from camsign.logbook import journal

DOC = Path(__file__).parents[1] / "docs" / "pages.md"
SMALL = (320, 240)
BUCKS = ("Split Brow", "Old Crooked", "Hollow Ten", "Kicker", "Slim")


def wait(page: Any, script: str, seconds: float = 20) -> None:
    """Wait until a script says yes. Playwright's own waiting uses eval, which is forbidden here."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        # A page that is just being left cannot be asked.
        with suppress(Error):
            if page.evaluate(script):
                return
        page.wait_for_timeout(20)
    pytest.fail(f"never: {script}")


def settle(page: Any) -> None:
    """Wait until all that was pressed is on the disk."""
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


def press_buck(page: Any, name: str, shift: bool = False) -> None:
    """Press the digit on which a buck stands."""
    ready(page)
    names = page.locator("#likely .buck").all_inner_texts()
    digit = page.locator("#likely kbd").nth(names.index(name)).inner_text()
    page.keyboard.press(f"Shift+{digit}" if shift else digit)


def here(page: Any) -> str:
    return str(page.evaluate("document.querySelector('.tile[aria-current]').dataset.frame"))


def standing(book: Book) -> dict[str, list[tuple[str, int, float | None, str | None]]]:
    """Give what stands on every frame, as the journal says it: subject, count, travel, sureness."""
    with open_logbook(book.folder) as s:
        rows = s.con.execute(
            'SELECT t.frame, coalesce(n.name, t.subject), t."count", t.travel_deg, t.sure'
            " FROM tags t LEFT JOIN bucks_now n ON n.buck = t.buck_id ORDER BY 1, 2"
        ).fetchall()
    out: dict[str, list[tuple[str, int, float | None, str | None]]] = {}
    for frame, *said in rows:
        out.setdefault(frame, []).append(tuple(said))  # type: ignore[arg-type]
    return out


def visits_of(server: Running, query: str = "") -> list[list[str]]:
    """Give the frames of every visit in the order of the page."""
    listed = server.get(f"/sort/list{query}")
    found = []
    for part in listed["parts"]:
        query = f"list={listed['list']}&part={part}&at=0&count=100"
        found += server.get(f"/sort/strips?{query}")["strips"]
    return [[f["frame"] for f in s["frames"]] for s in found]


@pytest.fixture
def forty(tmp_path: Path) -> Book:
    """Forty visits of 300 frames at four cameras."""
    return hollow(tmp_path, 10)


def hollow(tmp_path: Path, each: int) -> Book:
    """`each` visits at each of four cameras, of eight or seven frames in turn."""
    book = new_book(tmp_path / "hollow")
    for c in range(4):
        camera = f"CAM{c + 1:02d}"
        book.hang(camera, HOME[0] + 0.004 * c, HOME[1])
        shots = season(c, each, 8)
        drop = {8 * v + 7 for v in range(0, each, 2)}
        book.card(camera, [s for i, s in enumerate(shots) if i not in drop], size=SMALL)
    for name in BUCKS:
        book.buck(name)
    return book


@pytest.mark.parametrize(
    "each",
    [
        2,
        *(pytest.param(n, marks=m) for n, m in ((4, pytest.mark.thorough), (10, pytest.mark.long))),
    ],
)
def test_a_card_is_tagged_by_keyboard_alone(chromium: Browser, tmp_path: Path, each: int) -> None:
    book, n = hollow(tmp_path, each), 4 * each
    with running(book.folder.root, tmp_path) as server:
        visits = visits_of(server)
        frames_in_all = sum(map(len, visits))
        assert (len(visits), frames_in_all) == (n, 30 * each)
        expected: dict[str, str] = {}
        with chromium.window(server) as window:
            page = window.page
            second = window.open(f"http://{server.address}/sort")
            ready(page)
            for i, frames in enumerate(visits):
                assert here(page) == frames[0], i
                if i % 8 == 5:
                    page.keyboard.press("d")
                    who = "animal/deer/female/"
                elif i % 8 == 7:
                    page.keyboard.press("0")
                    who = "nothing///"
                else:
                    who = BUCKS[i % 5]
                    press_buck(page, who)
                expected |= dict.fromkeys(frames, who)
            nothing_is_left(page, sum(len(f) for f in visits[5::8]))
            assert {f: [s[0] for s in said] for f, said in standing(book).items()} == {
                f: [who] for f, who in expected.items()
            }
            assert Counter(len(line.edits) for line in _lines(book)[-n:]) == {1: n}

            # The second window saw it all without being touched.
            wait(second, f"document.querySelectorAll('.tile .told:not(:empty)').length > {n}")
            second.close()

            there_and_back(page, book, n, expected)

            # A reload shows what stands: nothing is left to do.
            page.reload()
            wait(page, "document.querySelector('.part.tagged .fold .quiet')")
            assert page.locator(".part.tagged .fold .quiet").inner_text() == (
                f"{n} visits, {frames_in_all} pictures"
            )
            assert page.locator(".part.untagged").count() == 0


def there_and_back(page: Any, book: Book, n: int, expected: dict[str, str]) -> None:
    """Undo to the very beginning and redo to the end."""
    for _ in range(n):
        page.keyboard.press("u")
    # What was said before the pages were opened could be taken back too, and stays.
    wait(page, "!document.querySelector('.tile .told:not(:empty)')", 60)
    assert not page.locator("#undo").is_disabled()
    settle(page)
    assert standing(book) == {}
    for _ in range(n):
        page.keyboard.press("r")
    wait(page, "document.querySelector('#redo').disabled", 60)
    assert {f: said[0][0] for f, said in standing(book).items()} == expected


def nothing_is_left(page: Any, does: int) -> None:
    """Assert that the page says that all is sorted, in the words in which it was said."""
    settle(page)
    assert page.locator(".part.untagged .fold .quiet").inner_text() == "none left"
    assert page.locator("#all-sorted").inner_text() == "All sorted. Go on to Areas"
    assert page.locator(".tile .told", has_text="doe").count() == does
    assert page.locator(".tile .told", has_text="female").count() == 0


def _lines(book: Book) -> list[journal.Line]:
    return journal.read(book.folder.journal / f"{book.folder.writer}.jsonl").lines


def on_a_key(name: str) -> str:
    """Give a script that says whether a buck stands on one of the digits."""
    return f"[...document.querySelectorAll('#likely .buck')].some(b => b.innerText === '{name}')"


@pytest.mark.thorough
def test_a_tag_reaches_a_frame_a_burst_or_a_visit(
    forty: Book, chromium: Browser, tmp_path: Path
) -> None:
    with running(forty.folder.root, tmp_path) as server, chromium.window(server) as window:
        visits = visits_of(server)
        page, keys = window.page, window.page.keyboard
        ready(page)
        keys.press("f")
        press_buck(page, "Slim")  # one frame, then on to the next without a tag
        assert here(page) == visits[0][1]
        keys.press("l")  # the filter takes the keys, and gives them back
        assert page.locator("#filter").is_visible()
        keys.press("d")
        keys.press("Escape")
        assert page.locator("#filter").is_hidden() and here(page) == visits[0][1]
        left = page.locator(".part.untagged .fold .quiet").inner_text()
        assert left == "40 visits, 299 pictures"
        keys.press("b")
        keys.press("d")  # the whole burst of three, that frame too
        settle(page)
        said = standing(forty)
        assert [s[0] for s in said[visits[0][0]]] == ["Slim", "animal/deer/female/"]
        assert [s[0] for s in said[visits[0][2]]] == ["animal/deer/female/"]
        assert visits[0][3] not in said
        keys.press("v")
        keys.press("Home")
        keys.press("Delete")  # everything off the visit
        settle(page)
        assert standing(forty) == {}


@pytest.mark.thorough
def test_a_visit_keeps_its_height_when_it_is_tagged(
    forty: Book, chromium: Browser, tmp_path: Path
) -> None:
    high = "document.querySelector('.strip').getBoundingClientRect().height"
    with running(forty.folder.root, tmp_path) as server:
        for wide, tall in ((1366, 768), (1920, 1080)):
            with chromium.window(server, wide, tall) as window:
                page = window.page
                ready(page)
                before = page.evaluate(high)
                page.keyboard.press("Home")
                page.keyboard.press("d")
                settle(page)
                page.keyboard.press("Home")  # back in sight, drawn for good
                page.wait_for_timeout(200)
                after = page.evaluate(high)
                page.keyboard.press("Delete")
                settle(page)
            assert before < tall / 2
            assert after <= before + 30, (wide, before, after)  # a line for the tag at most


@pytest.mark.thorough
def test_two_animals_in_a_visit_with_travel_number_and_doubt(
    forty: Book, chromium: Browser, tmp_path: Path
) -> None:
    with running(forty.folder.root, tmp_path) as server, chromium.window(server) as window:
        first = visits_of(server)[0]
        page, keys = window.page, window.page.keyboard
        ready(page)
        keys.press("t")
        assert "Tag something first" in page.locator("#alarm").inner_text()
        page.wait_for_timeout(1050)  # so long its words stay at least
        press_buck(page, "Kicker", shift=True)
        wait(page, "document.querySelector('#alarm').hidden")  # it was put right
        assert here(page) == first[0]
        keys.press("t")
        keys.press("ArrowRight")  # the camera looks east: to the right is south
        settle(page)
        keys.press("w")
        keys.type("3 doe")
        keys.press("Shift+Enter")
        wait(page, "!document.querySelector('dialog[open]')")
        keys.press("+")
        keys.press("s")
        settle(page)
        assert standing(forty)[first[4]] == [
            ("Kicker", 1, 180.0, None),
            ("animal/deer/female/", 4, None, "unsure"),
        ]


@pytest.mark.thorough
def test_a_selection_goes_to_a_buck_who_is_named_on_the_spot(
    forty: Book, chromium: Browser, tmp_path: Path
) -> None:
    with running(forty.folder.root, tmp_path) as server, chromium.window(server) as window:
        visits = visits_of(server)
        page, keys = window.page, window.page.keyboard
        ready(page)
        keys.press("ArrowDown")
        keys.press("Shift+ArrowDown")
        keys.press("Shift+ArrowRight")
        chosen = [*visits[1], *visits[2], visits[3][0]]
        words = f"Next tag: your selection, {len(chosen)} pictures"
        assert page.locator("#target").inner_text() == words
        keys.press("w")
        keys.type("Left Fork")
        keys.press("Enter")
        wait(page, "!document.querySelector('dialog[open]')")

        # Which way he goes, asked at once: the picture is of what was tagged, then it goes on.
        went_on = here(page)
        keys.press("t")
        assert here(page) == chosen[0] != went_on
        keys.press("ArrowRight")
        assert here(page) == went_on
        settle(page)
        wait(page, on_a_key("Left Fork"))
        said = standing(forty)
        assert said == {f: [("Left Fork", 1, 180.0, None)] for f in chosen}
        told = page.locator(f".tile[data-frame='{chosen[0]}'] .told").text_content()  # out of sight
        assert told == "Left Fork" and page.locator("#alarm").is_hidden()

        # One undo takes the way back, the next the tag and the new name; redo says all again.
        keys.press("u")
        keys.press("u")
        wait(page, "!" + on_a_key("Left Fork"))
        assert standing(forty) == {}
        keys.press("r")
        keys.press("r")
        wait(page, "document.querySelector('#redo').disabled")
        wait(page, on_a_key("Left Fork"))
        assert standing(forty) == said


@pytest.mark.thorough
def test_five_hundred_frames_in_one_keystroke(chromium: Browser, tmp_path: Path) -> None:
    book = new_book(tmp_path / "hollow")
    book.hang("CAM01", *HOME)
    book.card("CAM01", season(0, 100, 6), size=SMALL)
    book.buck("Split Brow")
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page = window.page
        ready(page)
        for _ in range(100):
            page.keyboard.press("End")
            if page.evaluate("document.querySelectorAll('.strip').length") == 100:
                break
            page.wait_for_timeout(100)
        page.keyboard.press("Control+a")
        wait(page, "document.querySelector('#target').innerText.includes('600 pictures')")
        page.keyboard.press("1")
        settle(page)
        assert len(standing(book)) == 600
        last = _lines(book)[-1]
        assert len(last.edits) == 1 and len(last.edits[0]["frames"]) == 600


@pytest.mark.thorough
def test_a_killed_server_loses_nothing_that_was_acknowledged(
    forty: Book, chromium: Browser, tmp_path: Path
) -> None:
    acknowledged: list[str] = []
    with running(forty.folder.root, tmp_path) as server, chromium.window(server) as window:
        page = window.page
        page.on("response", lambda r: _note(r, acknowledged))
        ready(page)
        for i in range(30):
            page.keyboard.press("d")
            if i == 20:
                server.process.send_signal(signal.SIGKILL)
        wait(page, "!document.querySelector('#alarm').hidden")
        assert "saved is safe" in page.locator("#alarm").inner_text()
        wait(page, "!document.querySelector('.tile.pending')")
        window.errors.clear()  # that nobody answers is what this is about
    said = {line.act: line for line in _lines(forty)}
    assert len(acknowledged) >= 1 and set(acknowledged) <= set(said)
    with running(forty.folder.root, tmp_path) as server:
        frames = [f for act in acknowledged for f in said[act].edits[0]["frames"]]
        tags = server.post("/sort/frames", {"frames": frames})["frames"]
        assert all([t["words"] for t in tags[f]] for f in frames)


def _note(response: Any, acknowledged: list[str]) -> None:
    if response.url.endswith("/sort/tag") and response.ok:
        acknowledged.extend(json.loads(response.body())["acts"])


HOSTILE = (
    "<img src=x onerror=\"document.body.dataset.hit='yes'\">",
    "A" * 10_000,
    '‮مرحبا "quoted" & עברית',
    "'; DROP TABLE bucks; --",
    "{{ 7*7 }}${alert(1)}",
)


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Book, Running]]:
    home = tmp_path_factory.mktemp("hostile")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CAMSIGN_CACHE", str(home / "cache"))
        patch.setenv("CAMSIGN_CONFIG", str(home / "config"))
        book = small_book(home / "hollow", cameras=1, visits=3, frames=3)
        camera = "<b onclick=alert(1)>CAM</b>"
        book.hang(camera, *HOME)
        book.card(camera, season(5, 3, 3))
        for name in HOSTILE:
            book.buck(name)
        with running(book.folder.root, home) as server:
            yield book, server


@pytest.mark.thorough
@pytest.mark.parametrize("width", [pytest.param(1440, marks=pytest.mark.long), 800])
def test_names_are_only_ever_text(
    hostile: tuple[Book, Running], chromium: Browser, width: int
) -> None:
    _, server = hostile
    bucks = {b["buck"]: b["buck_id"] for b in server.get("/sort/words")["bucks"]}
    assert set(HOSTILE) <= set(bucks)
    with chromium.window(server, width) as window:
        page = window.page
        ready(page)
        for name in HOSTILE:
            page.keyboard.press("w")
            page.keyboard.type(name[:12])
            page.keyboard.press("Enter")
            wait(page, "!document.querySelector('dialog[open]')")
        page.keyboard.press("w")
        page.wait_for_timeout(50)
        page.keyboard.press("Escape")
        settle(page)
        for path in ("/sort", "/bucks", *(f"/bucks/{bucks[name]}" for name in HOSTILE)):
            page = window.go(path)
            page.wait_for_timeout(60)  # a picture that is none errs in this time
            assert page.evaluate("document.body.dataset.hit") is None, path
            wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            assert wide <= 0, (path, wide)
            assert page.locator("h1 b, h4 b, option b").count() == 0


@pytest.mark.thorough
def test_axe_finds_no_serious_fault(hostile: tuple[Book, Running], chromium: Browser) -> None:
    _, server = hostile
    buck = id_of(server, "Kicker")
    with chromium.window(server) as window:
        page, found = window.page, {}
        ready(page)
        found["sort"] = faults(page)
        told = keys_shown(page)
        for key, name in (("?", "keys"), ("w", "box"), ("Enter", "closer")):
            page.keyboard.press(key)
            page.wait_for_timeout(150)
            if name == "closer":
                page.keyboard.press("m")
                page.keyboard.press("x")
                page.wait_for_timeout(150)
            found[name] = faults(page)
            page.keyboard.press("Escape")
        told |= keys_shown(window.go("/map"))
        found["/map"] = faults(window.page)
        for path in ("/bucks", f"/bucks/{buck}", "/nothing-here"):
            page = window.go(path)
            found[path] = faults(page)
        window.errors.clear()  # that /nothing-here is not there
    assert {where: what for where, what in found.items() if what} == {}
    text = DOC.read_text(encoding="utf-8")
    assert {"W", "Shift + 1 … 9", "C", "O", ","} <= told
    assert {key for key in told if f"`{key}`" not in text} == set(), "docs/pages.md lacks keys"


def keys_shown(page: Any) -> set[str]:
    """Give every key that the page's `?` shows, and those of looking closer."""
    said = page.evaluate(
        "[...document.querySelectorAll('dialog.keys kbd')].map(k => k.textContent)"
    )
    return {key for key in said if key != "Esc"}


IMAGE = "document.querySelector('.closer .panes > .pane img')"


def look_closer(page: Any) -> None:
    ready(page)
    page.keyboard.press("Enter")
    wait(page, f"{IMAGE}.naturalWidth === 1280 && {IMAGE}.style.transform")


@pytest.mark.thorough
def test_looking_closer_zooms_lights_and_compares(
    hostile: tuple[Book, Running], chromium: Browser
) -> None:
    _, server = hostile
    with chromium.window(server) as window:
        page, keys = window.page, window.page.keyboard
        look_closer(page)
        first = here(page)
        keys.press("o")
        assert "scale(1)" in page.evaluate(f"{IMAGE}.style.transform")
        keys.press("q")
        keys.press("c")
        lit = page.evaluate(f"{IMAGE}.style.filter")
        assert "brightness(1.1" in lit and "contrast(1.1" in lit
        keys.press("ArrowRight")
        wait(page, f"!{IMAGE}.src.endsWith('{first}')")
        assert "scale(1)" in page.evaluate(f"{IMAGE}.style.transform")  # it stays

        # A reference picture of Kicker, shown beside.
        page.select_option("#closer-buck", label="Kicker")
        page.locator(".closer .pane").first.focus()
        keys.press("k")
        wait(page, "document.querySelector('.closer .facts').innerText.includes('kept')")
        keys.press("x")
        wait(page, "document.querySelector('.beside strong')?.innerText === 'Kicker'")
        keys.press("Escape")
        assert here(page) != first


@pytest.mark.thorough
def test_the_ruler_measures_by_mouse_and_by_keyboard(
    hostile: tuple[Book, Running], chromium: Browser
) -> None:
    book, server = hostile
    with chromium.window(server) as window:
        page, keys = window.page, window.page.keyboard
        look_closer(page)
        page.select_option("#closer-buck", label="Kicker")
        page.locator(".closer .pane").first.focus()
        keys.press("m")
        wait(page, "document.querySelector('#ears-low').value === '13'")
        box = page.evaluate(f"{IMAGE}.getBoundingClientRect().toJSON()")
        scale = box["width"] / 1280
        for x, y in ((400, 300), (560, 300), (370, 250), (590, 250)):  # ears 160, beams 220 apart
            page.mouse.click(box["x"] + x * scale, box["y"] + y * scale)
        wait(page, "document.querySelector('.ruler .result').innerText.startsWith('Spread about')")
        words = page.locator(".ruler .result").inner_text()
        assert words == "Spread about 20 in; between 17 in and 23 in"
        page.get_by_role("button", name="Keep this spread").click()
        wait(page, "document.querySelector('.ruler .result').innerText.startsWith('Kept for')")
        with open_logbook(book.folder) as s:
            rows = s.con.execute("SELECT kind, value_m, low_m, high_m FROM measurements").fetchall()
        # 220/160 * 14.5 in, 216/164 * 13 in, 224/156 * 16 in; the mouse marks within a pixel.
        assert rows[0][0] == "spread"
        for got, inches in zip(rows[0][1:], (19.94, 17.12, 22.97), strict=True):
            assert got / 0.0254 == pytest.approx(inches, abs=0.3)

        page.get_by_role("button", name="Mark anew").click()
        page.locator(".closer .pane").first.focus()
        for way in ("ArrowLeft", "ArrowRight", "ArrowUp", "ArrowRight"):
            for _ in range(4):
                keys.press(f"Shift+{way}")
            keys.press("Enter")
        wait(page, "document.querySelector('.ruler .ask').innerText.startsWith('All four')")


@pytest.mark.thorough
def test_a_buck_is_described_on_his_page(hostile: tuple[Book, Running], chromium: Browser) -> None:
    book, server = hostile
    slim = id_of(server, "Slim")
    with chromium.window(server) as window:
        page = window.go(f"/bucks/{slim}")
        page.fill("textarea[name=traits]", "split left brow\nwhite throat <b>")
        page.get_by_role("button", name="Save looks").click()
        wait(page, "document.querySelector('.traits').innerText.includes('white throat <b>')")
        for name, value in (("age", "4.5"), ("age_low", "3.5"), ("age_high", "6.5")):
            page.fill(f"input[name={name}]", value)
        page.fill("input[name=basis]", "body in October")
        page.get_by_role("button", name="Save age").click()
        wait(page, "document.querySelector('.figure')?.innerText.startsWith('4.5 years')")
    with open_logbook(book.folder) as s:
        row = s.con.execute(
            "SELECT age, age_low, age_high, age_basis, traits FROM bucks WHERE buck = ?", [slim]
        ).fetchone()
    assert row == (4.5, 3.5, 6.5, "body in October", "split left brow\nwhite throat <b>")


@pytest.mark.thorough
def test_a_buck_is_parted_and_made_one_again(
    hostile: tuple[Book, Running], chromium: Browser
) -> None:
    book, server = hostile

    def who() -> Counter[str]:
        return Counter(s[0] for said in standing(book).values() for s in said)

    for frames in visits_of(server)[:2]:
        server.post("/sort/tag", {"frames": frames, "said": "Slim"})
    both = who()["Slim"]
    with chromium.window(server) as window:
        page = window.go(f"/bucks/{id_of(server, 'Slim')}")
        page.get_by_text("Some of these pictures show another buck").click()
        page.locator("#split input[type=checkbox]").first.check()
        page.fill("#split input[name=name]", "Slim Two")
        page.get_by_role("button", name="Split them").click()
        wait(page, "document.querySelector('h1').innerText === 'Slim Two'")
        assert who()["Slim"] + who()["Slim Two"] == both and who()["Slim Two"] > 0
        page.get_by_text("Name, or same buck as another").click()
        page.select_option("select[name=into]", label="Slim")
        page.get_by_role("button", name="Same buck").click()
        wait(page, "document.querySelector('h1').innerText === 'Slim'")
        assert who()["Slim"] == both and who()["Slim Two"] == 0
        for _ in range(2):  # the merging, then the parting
            wait(page, "document.readyState === 'complete'")
            with page.expect_navigation():
                page.keyboard.press("u")
        assert who()["Slim"] == both and who()["Slim Two"] == 0
        assert page.locator("select[name=into] option", has_text="Slim Two").count() == 0


def id_of(server: Running, name: str) -> str:
    bucks = server.get("/sort/words")["bucks"]
    return next(str(b["buck_id"]) for b in bucks if b["buck"] == name)
