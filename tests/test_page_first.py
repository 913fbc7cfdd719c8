"""The first evening from an empty folder, in a browser: home, a handheld's file, a card."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import pytest
from made_cards import exif, with_exif
from page_browser import Browser, faults
from page_land import disk, wait
from page_logbook import picture, season
from page_server import running

from camsign.derive.opening import open_logbook
from camsign.logbook.folder import Folder

GPX = """<?xml version="1.0"?>
<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="44.1" lon="-71.5"><time>2025-08-01T12:00:00Z</time><name>CAM07 facing NE</name></wpt>
<wpt lat="44.102" lon="-71.501"><time>2025-08-01T12:00:00Z</time>
<name>stand &lt;b&gt;pine</name></wpt>
<wpt lat="44.1010" lon="-71.5020"><time>2025-11-01T12:00:00Z</time><name>rub NE</name></wpt>
<wpt lat="44.1030" lon="-71.5030"><time>2025-11-01T12:00:00Z</time><name>lunch rock</name></wpt>
</gpx>
"""


def card(root: Path, visits: int, timed: bool = True) -> Path:
    """Write a card's files as a camera does; its pictures carry no name, the folder does."""
    folder = root / "CAM07" / "DCIM" / "100MEDIA"
    folder.mkdir(parents=True)
    for n, shot in enumerate(season(0, visits, 3)):
        drawn = picture(shot, "CAM07", n, 640, 480)
        data = with_exif(drawn, exif(shot.shown)) if timed else drawn
        (folder / f"IMG_{n + 1:04d}.JPG").write_bytes(data)
    return root / "CAM07"


@pytest.mark.thorough
def test_the_first_evening(chromium: Browser, tmp_path: Path) -> None:
    where, given = tmp_path / "where", tmp_path / "given"
    where.mkdir()
    given.mkdir()
    (given / "woods.gpx").write_text(GPX, encoding="utf-8")
    put_in = card(given, 12)
    with running(None, where) as server, chromium.window(server) as window:
        page = window.page
        assert page.locator("h1").inner_text() == "Where do you hunt?"
        assert faults(page) == []
        page.locator("input[name=home]").fill("44.1, 71.5")
        page.locator("button.main").click()
        shown = page.locator("#shown")
        wait(page, "document.querySelector('#shown svg.world')")
        assert "Kazakhstan" in shown.inner_text() and "has a minus" in shown.inner_text()
        assert "Is this the place?" in shown.inner_text()
        assert not (where / "hollow").exists()
        shown.get_by_role("button", name="44.1, -71.5").click()
        wait(page, "document.querySelector('#shown').innerText.includes('America/New_York')")
        assert faults(page) == [] and "Did you mean" not in shown.inner_text()
        shown.get_by_role("button", name="Yes, start the logbook").click()
        wait(page, "document.querySelector('main.woods')?.dataset.ready === 'yes'")
        hand_in(page, given / "woods.gpx")
        refuse_words(page, tmp_path / "words")
        window.errors.clear()  # that it was refused is what this is about
        take_card(page, put_in)
        assert faults(page) == []
        page.locator("#sort").click()
        wait(page, "document.querySelectorAll('.tile').length > 0")
    with open_logbook(Folder(where / "hollow")) as s:
        (frames,) = s.con.execute(
            "SELECT count(*) FROM frame_times WHERE deployment IS NOT NULL"
        ).fetchone() or (0,)
        kinds = s.con.execute("SELECT kind, name FROM places").fetchall()
        (signs,) = s.con.execute("SELECT count(*) FROM made_windows").fetchone() or (0,)
        assert s.settings.tz == "America/New_York"
    assert (frames, kinds, signs) == (36, [("stand", "<b>pine")], 1)


def hand_in(page: Any, file: Path) -> None:
    """Give the handheld's file; it is sorted, shown, taken; again it holds nothing new."""
    page.locator("#file").set_input_files(str(file))
    wait(page, "document.querySelector('#sorted .takein')")
    words = page.locator("#sorted").inner_text()
    assert "Cameras: 1" in words and "Places: 1" in words and "Sign: 1" in words
    assert "<b>pine" in words and "Not understood: 1" in words
    page.locator("#sorted button.main").click()
    disk(page, "loaded woods.gpx")
    page.locator("#file").set_input_files(str(file))
    wait(page, "document.querySelector('#sorted')?.textContent.includes('nothing that')")


def refuse_words(page: Any, folder: Path) -> None:
    """Name a folder without pictures: it is refused in one line and is no card."""
    folder.mkdir()
    (folder / "note.md").write_text("No picture.", encoding="utf-8")
    page.locator("details:has(#folder) summary").click()
    page.locator("#folder input").fill(str(folder))
    page.locator("#folder button").click()
    wait(page, "document.querySelector('#alarm').textContent.includes('no trail-camera pictures')")
    assert page.locator("#found .card").count() == 0


def take_card(page: Any, put_in: Path) -> None:
    """Name a card's folder, see whose it is, take it in, be told that it is safe to wipe."""
    page.locator("#folder input").fill(str(put_in))
    page.locator("#folder button").click()
    wait(page, "document.querySelector('.card h3')?.textContent.includes('Looks like CAM07: yes?')")
    wait(page, "document.querySelector('.card img')?.naturalWidth > 0")
    told = page.locator(".card .words-of").inner_text()
    assert f"{put_in}, Fri, Oct 3, 2025 to Sun, Oct 5, 2025 by its clock" in told
    assert page.locator("#alarm").is_hidden()
    page.locator(".card button.main").click()
    title = "document.querySelector('#found .result h3')?.textContent"
    wait(page, f"/^CAM07's card: SAFE TO WIPE .[0-9]+:[0-9][0-9] [AP]M.$/.test({title})")
    words = page.locator("#found .result").inner_text()
    assert "36 pictures, 36 new" in words and str(put_in) in words
    assert page.locator("#found .card").count() == 0
    wait(page, "document.querySelector('#clocks')?.textContent.includes('CAM07')")
    wait(page, "document.querySelector('#left').textContent.startsWith('36 pictures')")


@pytest.mark.thorough
def test_what_is_refused_is_one_line(tmp_path: Path) -> None:
    with running(None, tmp_path) as server:
        refused = server.ask("POST", "/first", b'{"folder": "a", "home": "95, 10"}')
        assert refused.status == 400 and "atitude" in refused.json["what"]
        assert server.ask("POST", "/woods/take", b'{"token": "x"}').status == 400
        server.post("/first", {"folder": "a", "home": "44.1,-71.5"})
        assert server.ask("POST", "/first", b'{"folder": "b", "home": "44,-71"}').status == 400
        assert server.ask("POST", "/woods/take", b'{"token": "x"}').status == 400
        assert server.ask("GET", "/woods/peek/../../etc").status in (403, 404)
        assert server.ask("GET", "/woods/peek/x").status == 404
        assert server.ask("POST", "/woods/file?name=x.gpx", b"\x00\xff nothing").status == 400
        assert server.ask("POST", "/woods/folder", b'{"path": "/no/where"}').status in (400, 422)
        hostile = b"<gpx><wpt lat='1' lon='1'><name>" + b"A" * 200000 + b"</name></wpt></gpx>"
        assert server.ask("POST", "/woods/file?name=../../x.gpx", hostile).status == 400


def test_a_point_without_its_minus_is_refused_on_a_page_too(tmp_path: Path) -> None:
    """It was saved, in Asia, and the map showed half the world."""
    said = {
        "deployment/hang": {"camera": "CAM07", "from": "2025-08-01"},
        "place/add": {"kind": "stand", "name": "Oak"},
        "sign/add": {"kind": "rub", "seen": "2025-11-01"},
    }
    with running(None, tmp_path) as server:
        server.post("/first", {"folder": "a", "home": "44.1,-71.5"})
        for act, fields in said.items():
            at: Any = [[44.1, 71.5]] if act == "place/add" else "44.1, 71.5"
            body = json.dumps(fields | {"at": at}).encode()
            answer = server.ask("POST", f"/say/{act}", body)
            told = answer.body.decode()
            assert answer.status == 400 and "a minus may be missing" in told, (act, told)
            assert "write 44.1,-71.5, or if it really is that far, add it in a terminal" in told
        land = server.get("/map/ground")
        assert land["cameras"] == land["sign"] == land["places"] == []


@pytest.mark.thorough
def test_a_card_without_times_is_taken_in_too(tmp_path: Path) -> None:
    put_in = card(tmp_path / "given", 2, timed=False)
    with running(None, tmp_path) as server:
        server.post("/first", {"folder": "a", "home": "44.1,-71.5"})
        server.post(
            "/say/deployment/hang", {"camera": "CAM07", "at": "44.1,-71.5", "from": "2025-08-01"}
        )
        (found,) = server.post("/woods/folder", {"path": str(put_in)})["cards"]
        job = server.post("/woods/take", {"token": found["token"]})["job"]
        done = finished(server, job)
    assert done["state"] == "done", done["words"]
    assert done["result"]["safe_to_wipe"] and done["result"]["new"] == 6
    assert done["result"]["second_copy"].startswith("This logbook has no backup")


def finished(server: Any, job: str) -> dict[str, Any]:
    """Wait for a job."""
    for _ in range(300):
        (one,) = [j for j in server.get("/jobs")["jobs"] if j["job"] == job]
        if one["state"] != "running":
            return dict(one)
        time.sleep(0.1)
    pytest.fail(f"{job} never ended")
