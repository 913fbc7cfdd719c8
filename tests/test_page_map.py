"""The map: what is drawn lies where it is; what is said by click or form stands in the journal."""

from __future__ import annotations

from datetime import date, timedelta
from math import atan2, degrees, hypot
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from page_browser import Browser, faults
from page_land import BED, add_signs, at, disk, land_book, middle, wait
from page_logbook import Book
from page_server import running

from camsign.derive.opening import open_logbook
from camsign.geo import area_hectares, destination, distance_bearing
from camsign.logbook.edits import SetFields
from camsign.logbook.shapes import to_area
from camsign.sign.fresh import clusters
from camsign.sign.record import SignRow

NAME = "<img src=x onerror=alert(1)> Bench"


def opened(page: Any) -> Any:
    wait(page, "document.querySelector('#map')?.dataset.ready === 'yes'")
    return page


def rows(book: Book, sql: str) -> list[tuple[Any, ...]]:
    with open_logbook(book.folder) as s:
        return s.con.execute(sql).fetchall()


@pytest.mark.thorough
def test_mercator_agrees_with_proj_and_comes_back(chromium: Browser, tmp_path: Path) -> None:
    """Against PROJ's ellipsoidal Mercator (pyproj, EPSG:3395)."""
    import pyproj

    proj = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:3395", always_xy=True)
    book = land_book(tmp_path / "book", signs=0)
    points = [(44.12, -71.5), (-33.9, 151.2), (69.6, 18.9), (0.0, 0.0)]
    script = """async (points) => {
        const { toPlane, toLatLon } = await import('/static/map/plane.js');
        return points.map(([lat, lon]) => [toPlane(lat, lon), toLatLon(...toPlane(lat, lon))]);
    }"""
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        found = window.go("/map").evaluate(script, points)
    for (lat, lon), (plane, back) in zip(points, found, strict=True):
        assert plane == pytest.approx(proj.transform(lon, lat), abs=1e-3)
        assert back == pytest.approx([lat, lon], abs=1e-9)


@pytest.mark.thorough
def test_scale_bar_is_as_long_on_the_ground_as_it_says(chromium: Browser, tmp_path: Path) -> None:
    """Against the geodesic (Karney 2013) between the places under the bar's two ends."""
    book = land_book(tmp_path / "book")
    script = """async () => {
        const bar = document.querySelector('#bar');
        const map = document.querySelector('#map').getBoundingClientRect();
        const wide = bar.getBoundingClientRect().width;
        return [wide, map.width, map.height, Number(bar.dataset.meters)];
    }"""
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page = opened(window.go("/map"))
        page.keyboard.press("s")
        wide, width, height, meters = page.evaluate(script)
        ends = []
        box = page.locator("#map").bounding_box()
        for side in (-1, 1):
            page.mouse.click(box["x"] + width / 2 + side * wide / 2, box["y"] + height / 2)
            ends.append([float(v) for v in page.locator("input[name=at]").input_value().split(",")])
    distance, _ = distance_bearing(*ends[0], *ends[1])
    assert float(distance) == pytest.approx(meters, rel=0.01)


@pytest.mark.thorough
def test_sign_is_noted_by_click_and_form(chromium: Browser, tmp_path: Path) -> None:
    book = land_book(tmp_path / "book", signs=0)
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page = opened(window.go("/map"))
        page.keyboard.press("s")
        page.locator("#map").click(position={"x": 300, "y": 250})
        where = page.locator("input[name=at]").input_value()
        page.locator("input[name=seen]").fill("2025-11-03")
        page.locator("input[name=bare]").fill("SW")
        page.locator("input[name=measure]").fill("top=38in, diameter=4in")
        page.locator("#panel button[type=submit]").click()
        disk(page, "added a rub")
        wait(page, "document.querySelector('#panel').textContent.includes('Nov 3')")
        assert (
            "read as" in page.locator("#hint").inner_text()
            or "travel" in page.locator("#panel").inner_text()
        )
        assert "top 38 in, diameter 4 in" in page.locator("#panel").inner_text()
        page.locator("#panel .who-made summary").click()
        wait(page, "document.querySelector('#panel .who-made .part .why')")
        assert (
            "Can't tell yet: 18 of 18 nights aren't sorted"
            in page.locator("#panel .who-made").inner_text()
        )
        page.keyboard.press("Escape")
        page.keyboard.press("u")
        disk(page, "added a rub")
        wait(page, "!document.querySelector('#redo').disabled")
        assert rows(book, "SELECT count(*) FROM made_windows") == [(0,)]
        page.keyboard.press("r")
        wait(page, "document.querySelector('#redo').disabled")
        sign_of_another_season(page)
    ((lat, lon, travel, day),) = rows(
        book, "SELECT lat, lon, travel_deg, seen_on FROM made_windows"
    )
    assert (lat, lon) == pytest.approx([float(v) for v in where.split(",")], abs=1e-6)
    assert day == date(2025, 11, 3)
    assert travel == pytest.approx(45)  # the bare side looks back the way he came from


def sign_of_another_season(page: Any) -> None:
    """Note a sign outside the season shown: the map turns to its season and says so; then undo."""
    page.keyboard.press("s")
    page.locator("#map").click(position={"x": 400, "y": 250})
    page.locator("input[name=seen]").fill("2023-11-03")
    page.locator("#panel button[type=submit]").click()
    wait(page, "document.querySelector('#hint').textContent.includes('switched to season 2023')")
    assert page.locator("#season").input_value() == "2023"
    assert page.locator("#map path.sign.rub").count() == 1
    page.keyboard.press("Escape")
    page.keyboard.press("u")
    disk(page, "undone: added a rub")
    wait(page, "!document.querySelector('#redo').disabled")


@pytest.mark.thorough
def test_an_area_is_drawn_named_asked_and_changed(chromium: Browser, tmp_path: Path) -> None:
    book = land_book(tmp_path / "book", signs=0)
    corners = [(300, 200), (500, 200), (500, 400), (300, 400)]
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page = opened(window.go("/map"))
        page.keyboard.press("a")
        page.locator("input[name=name]").fill(NAME)
        for x, y in corners:
            page.locator("#map").click(position={"x": x, "y": y})
        assert page.locator(".corners li").count() == 4
        meters, wide = page.evaluate(
            "[Number(document.querySelector('#bar').dataset.meters),"
            " document.querySelector('#bar').getBoundingClientRect().width]"
        )
        page.locator("#panel button.main").click()
        disk(page, "added")
        page.locator("#panel a.button").click()
        assert page.locator("h1").inner_text() == NAME
        page.go_back()
        opened(page)
        ((area, shape),) = rows(
            book, "SELECT area_id, shape FROM areas_now WHERE area_id <> 'a-bed'"
        )
        side = 200 * meters / wide
        assert area_hectares(to_area(shape)) == pytest.approx(side * side / 1e4, rel=0.02)
        # A corner is dragged by its handle: the first one, 100 pixels to the left.
        page.goto(f"http://{server.address}/map?id={area}")
        opened(page)
        page.locator("#panel button", has_text="Change it").click()
        x, y = middle(page, "circle[data-handle='0,0']")
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x - 50, y)
        page.mouse.move(x - 100, y)
        page.mouse.up()
        page.locator("#panel button.main").click()
        disk(page, "changed")
    ((changed,),) = rows(book, f"SELECT shape FROM areas_now WHERE area_id = '{area}'")
    assert area_hectares(to_area(changed)) > area_hectares(to_area(shape)) * 1.05


@pytest.mark.thorough
def test_cameras_hang_come_down_and_are_corrected(chromium: Browser, tmp_path: Path) -> None:
    book = land_book(tmp_path / "book", signs=0)
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page = opened(window.go("/map"))
        page.keyboard.press("c")
        page.locator("input[name=camera]").fill("CAM09")
        page.locator("input[name=at]").fill("44.125,-71.495")
        page.locator("input[name=from-day]").fill("2025-09-01")
        page.locator("input[name=facing]").fill("NE")
        page.locator("#panel button[type=submit]").click()
        disk(page, "hung CAM09")
        page.locator("input[name=on-day]").fill("2025-10-15")
        page.locator("#panel form button[type=submit]").click()
        disk(page, "took down CAM09")
        page.locator("#panel button", has_text="Correct it").click()
        page.locator("input[name=at]").fill("44.126,-71.496")
        page.locator("#panel button[type=submit]").click()
        disk(page, "corrected where or when CAM09 hung")
        # What cannot be is refused in one line, and nothing is noted.
        page.keyboard.press("Escape")
        page.keyboard.press("c")
        page.locator("input[name=camera]").fill("CAM01")
        page.locator("input[name=at]").fill("44.2,-71.4")
        page.locator("input[name=from-day]").fill("2025-10-01")
        page.locator("#panel button[type=submit]").click()
        wait(page, "!document.querySelector('#alarm').hidden")
        assert "two places at once" in page.locator("#alarm").inner_text()
        window.errors.clear()  # the browser itself notes that the request was refused
    found = rows(
        book,
        "SELECT lat, lon, facing_deg, taken_down IS NULL FROM deployments WHERE camera = 'CAM09'",
    )
    assert found == [(44.126, -71.496, 45.0, False)]


@pytest.mark.thorough
def test_a_cell_camera_follows_the_clock_of_its_place(tmp_path: Path) -> None:
    book = land_book(tmp_path / "book", signs=0)
    where = {"at": "44.125,-71.495", "from": "2025-09-01"}
    with running(book.folder.root, tmp_path) as server:
        server.post("/say/deployment/hang", where | {"camera": "CELL1", "clock": "local"})
        server.post("/say/deployment/hang", where | {"camera": "CAM08", "clock": ""})
        server.post("/say/deployment/hang", where | {"camera": "CAM09"})
    mine = "d.camera IN ('CELL1', 'CAM08', 'CAM09')"
    found = rows(book, f"SELECT camera, clock FROM deployments d WHERE {mine} ORDER BY 1")
    assert found == [("CAM08", "hung"), ("CAM09", "hung"), ("CELL1", "local")]
    # After November 2, 2025, when the clocks go back there, only the cell camera does too.
    pieces = rows(
        book,
        "SELECT d.camera, p.offset_s / 3600"
        " FROM clock_pieces p JOIN deployments d USING (deployment)"
        f" WHERE {mine} AND TIMESTAMP '2025-11-20 12:00' >= p.shown_from"
        " AND TIMESTAMP '2025-11-20 12:00' < p.shown_until ORDER BY 1",
    )
    assert pieces == [("CAM08", -4), ("CAM09", -4), ("CELL1", -5)]


_TEXTS = """() => {
    const map = document.querySelector('#map');
    const texts = [...map.querySelectorAll('text:not([visibility=hidden])')];
    const boxes = texts.map((t) => t.getBoundingClientRect());
    const frame = map.getBoundingClientRect();
    const meet = (a, b) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1
        && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 2;
    const over = boxes.flatMap((a, i) => boxes.slice(i + 1).filter((b) => meet(a, b)));
    const cut = boxes.filter((b) => b.left < frame.left - 1 || b.right > frame.right + 1);
    return [texts.length, over.length, cut.length];
}"""


@pytest.mark.thorough
def test_no_name_lies_on_another_where_places_and_cameras_crowd(
    chromium: Browser, tmp_path: Path
) -> None:
    """With many names none was moved aside, and all lay on one another."""
    book = land_book(tmp_path / "book", signs=60)
    edits = []
    for i in range(220):
        lat, lon = at(i * 47.0, 25 + 3 * i)
        point = {"type": "Point", "coordinates": [lon, lat]}
        place = {"name": f"Wide Maple Stand {i}", "kind": "stand", "shape": point}
        edits.append(SetFields("place", f"p-{i:03d}", place))
    book.say("stands", edits)
    with running(book.folder.root, tmp_path) as server:
        for width, height in ((1440, 900), (390, 844)):
            with chromium.window(server, width, height) as window:
                page = opened(window.go("/map"))
                for key in ("0", "-", "-", "+", "+", "+"):
                    page.locator("#map").focus()
                    page.keyboard.press(key)
                    page.wait_for_timeout(300)
                    names, over, cut = page.evaluate(_TEXTS)
                    assert (over, cut) == (0, 0), (width, key, names)
                    assert names


@pytest.mark.thorough
def test_time_slider_and_kinds(chromium: Browser, tmp_path: Path) -> None:
    book = land_book(tmp_path / "book", look="fresh")
    words = "document.querySelector('#span').textContent.includes('{}')"
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page = opened(window.go("/map"))
        wait(page, words.format("12 pieces of sign"))
        wait(page, words.format("2 cameras"))
        # Before the rubbing season began, none of these rubs can have been made.
        page.evaluate(
            "() => { const last = document.querySelector('#last');"
            " last.value = Number(last.min) + 40; last.dispatchEvent(new Event('input')); }"
        )
        wait(page, words.format("no sign"))
        page.locator("#season").select_option("all")
        wait(page, words.format("12 pieces of sign"))
        wait(page, "document.querySelectorAll('#map path.sign.rub').length === 1")
        page.locator("label.row", has_text="rubs").locator("input").uncheck()
        wait(page, "!document.querySelector('#map path.sign.rub')")
        # The cluster of fresh sign.
        wait(page, "document.querySelector('#panel').textContent.includes('12 rubs')")


@pytest.mark.thorough
def test_a_picture_beneath_lies_where_it_is_pinned(chromium: Browser, tmp_path: Path) -> None:
    """Pins of a picture that was made at a known place and scale put it there to a pixel."""
    book = land_book(tmp_path / "book", signs=0)
    cv2.imwrite(str(tmp_path / "sheet.png"), np.full((400, 600, 3), 180, np.uint8))
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page = opened(window.go("/map"))
        page.keyboard.press("b")
        page.locator("#panel input[type=file]").set_input_files(str(tmp_path / "sheet.png"))
        wait(page, "document.querySelector('#source image')")
        (picture,) = server.get("/map/pictures")["pictures"]
        # 2 m a pixel, north up, pixel 300, 200 on the middle of the bed.
        pins = [
            [300 + e / 2, 200 - n / 2, *offset(e, n)] for e, n in ((-400, 0), (400, 300), (0, -300))
        ]
        server.post("/say/underlay/pin", {"underlay": picture["id"], "pin": pins})
        page = opened(window.go("/map"))
        wait(page, "document.querySelector('image[data-underlay]')")
        script = """async ([lat, lon]) => {
            const image = document.querySelector('image[data-underlay]');
            const at = new DOMPoint(300, 200).matrixTransform(image.getScreenCTM());
            return [at.x, at.y];
        }"""
        x, y = page.evaluate(script, list(BED))
        page.keyboard.press("s")
        page.mouse.click(x, y)
        lat, lon = (float(v) for v in page.locator("input[name=at]").input_value().split(","))
        assert float(distance_bearing(lat, lon, *BED)[0]) < 3
        refused = server.ask("POST", "/map/pictures?name=x", b"<svg onload=alert(1)>")
        assert refused.status == 400
        assert server.ask("GET", "/map/pictures/nobody/file").status == 404


def offset(east: float, north: float) -> tuple[float, float]:
    lat, lon = destination(*BED, degrees(atan2(east, north)) % 360, hypot(east, north))
    return float(lat), float(lon)


@pytest.mark.bench
def test_five_thousand_signs_pan_smoothly(chromium: Browser, tmp_path: Path) -> None:
    """Frames drawn while panning, against the same panning with no sign at all."""
    book = land_book(tmp_path / "book", signs=0)
    add_signs(book, 5000)
    script = """async (off) => {
        if (off) { document.querySelector('label.row input').click(); }
        const map = document.querySelector('#map');
        const times = [];
        let last = performance.now();
        for (let i = 0; i < 40; i += 1) {
            const key = i % 2 ? 'ArrowLeft' : 'ArrowRight';
            map.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true }));
            await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
            times.push(performance.now() - last);
            last = performance.now();
        }
        return times.sort((a, b) => a - b)[20] / 2;
    }"""
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page = opened(window.go("/map"))
        full = page.evaluate(script, False)
        bare = page.evaluate(script, True)
    print(f"a frame while panning: {full:.1f} ms with 5,000 signs, {bare:.1f} ms without")
    assert full < max(3 * bare, 50)


@pytest.mark.thorough
def test_axe_finds_no_serious_fault(chromium: Browser, tmp_path: Path) -> None:
    book = land_book(tmp_path / "book", NAME)
    with running(book.folder.root, tmp_path) as server, chromium.window(server) as window:
        page = opened(window.go("/map"))
        assert faults(page) == []
        page.keyboard.press("a")
        assert faults(page) == []


def test_clusters_join_chains() -> None:
    day = date(2025, 11, 20)

    def sign(name: str, meters: float) -> SignRow:
        lat, lon = at(0, meters)
        return SignRow(name, f"g{name}", "rub", lat, lon, day, day - timedelta(5), day, None, 2025)

    chain = [sign(f"a{i}", 60.0 * i) for i in range(4)]
    far = [sign("b0", 2000), sign("b1", 2010)]
    same_spot = [sign(f"d{i}", 3000) for i in range(3)]
    found = clusters([*chain, *far, *same_spot, *chain])
    assert sorted(c.signs for c in found) == [3, 4]
    widest = max(found, key=lambda c: c.signs)
    assert widest.radius_m == pytest.approx(90, abs=0.5)
    assert clusters([]) == []
