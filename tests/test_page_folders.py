"""A folder with pictures is chosen or dropped; cards without a question load by one button."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from made_cards import exif, fill, frames, with_exif
from page_browser import Browser, browser, faults
from page_land import wait
from page_logbook import HOME, new_book, picture, season
from page_server import running

from camsign.derive.opening import open_logbook
from camsign.page.folders import find_dropped, inside


def test_a_dropped_folder_is_found_by_its_files(tmp_path: Path) -> None:
    for where, size in (("one", 5), ("two/deep", 7)):
        folder = tmp_path / where / "DCIM"
        folder.mkdir(parents=True)
        (folder / "IMG_1.JPG").write_bytes(b"x" * size)
    roots = [tmp_path / "one", tmp_path / "two", tmp_path / "none"]
    assert find_dropped("DCIM", [("IMG_1.JPG", 7)], roots) == tmp_path / "two" / "deep" / "DCIM"
    assert find_dropped("DCIM", [("IMG_1.JPG", 5)], roots) == tmp_path / "one" / "DCIM"
    assert find_dropped("DCIM", [("IMG_1.JPG", 6)], roots) is None
    assert find_dropped("dcim2", [("IMG_1.JPG", 5)], roots) is None


def test_the_list_holds_folders_only_and_no_hidden_ones(tmp_path: Path) -> None:
    for name in ("b", "A", ".hidden"):
        (tmp_path / name).mkdir()
    (tmp_path / "file.txt").write_text("x")
    assert [one.name for one in inside(tmp_path)] == ["A", "b"]
    assert inside(tmp_path / "file.txt") == [] == inside(tmp_path / "none")


def cards(root: Path) -> Path:
    """Write copies of two cards whose folders name their cameras."""
    for n, camera in enumerate(("CAM07", "CAM08")):
        folder = root / "pulled" / camera / "DCIM" / "100MEDIA"
        folder.mkdir(parents=True)
        for i, shot in enumerate(season(n, 2, 3)):
            data = with_exif(picture(shot, camera, i, 320, 240), exif(shot.shown))
            (folder / f"IMG_{i + 1:04d}.JPG").write_bytes(data)
    return root / "pulled"


# A browser makes no folder out of nothing, so what it would tell of one is handed in.
DROP = """(told) => {
    const entry = (one, path) => one.bytes !== undefined
        ? { name: one.name, isDirectory: false, fullPath: `${path}/${one.name}`, file: (done) => done({ size: one.bytes }) }
        : { name: one.name, isDirectory: true, fullPath: `${path}/${one.name}`,
            createReader: () => ({ readEntries: (done) => done(one.inside.map((x) => entry(x, `${path}/${one.name}`))) }) };
    const event = new Event('drop', { bubbles: true, cancelable: true });
    event.dataTransfer = { files: [{}], items: [{ webkitGetAsEntry: () => entry(told, '') }] };
    document.querySelector('#drop').dispatchEvent(event);
}"""  # noqa: E501


def told_of(path: Path) -> dict[str, Any]:
    if path.is_file():
        return {"name": path.name, "bytes": path.stat().st_size}
    return {"name": path.name, "inside": [told_of(one) for one in sorted(path.iterdir())]}


@pytest.mark.thorough
def test_a_folder_is_chosen_dropped_and_all_its_cards_are_loaded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    (tmp_path / "home" / "Pictures").mkdir(parents=True)
    pulled = cards(tmp_path / "home" / "Pictures")
    book = new_book(tmp_path / "where" / "hollow")
    for n, camera in enumerate(("CAM07", "CAM08")):
        book.hang(camera, HOME[0] + 0.01 * n, HOME[1])
    with (
        running(book.folder.root, tmp_path / "where") as server,
        browser() as chromium,
        chromium.window(server) as window,
    ):
        page = window.go("/woods")
        wait(page, "document.querySelector('main.woods')?.dataset.ready === 'yes'")
        page.evaluate(DROP, {"name": "elsewhere", "inside": [{"name": "a.jpg", "bytes": 3}]})
        wait(page, "document.querySelector('#alarm').innerText.includes('no folder elsewhere')")
        window.errors.clear()  # that it was refused is what this is about
        page.evaluate(DROP, told_of(pulled / "CAM08"))
        wait(page, "document.querySelectorAll('#found .card').length === 1")
        assert "Looks like CAM08" in page.locator("#found .card h3").inner_text()

        page.locator("details:has(#folder) summary").click()
        page.locator("#choose-folder").click()
        page.locator(".chooser .buttons button", has_text="Pictures").click()
        page.locator(".folders button", has_text="pulled").click()
        wait(page, "document.querySelector('.chooser .where').innerText.endsWith('pulled')")
        assert faults(page) == []
        page.get_by_role("button", name="Look in this folder").click()
        wait(page, "document.querySelector('#all-cards')")
        assert page.locator("#all-cards").inner_text() == "Load all 2 cards"
        page.locator("#all-cards").click()
        wait(page, "document.querySelectorAll('.result h3').length === 2", 60)
        told = page.locator(".result h3").all_inner_texts()
        assert [line.split(" (")[0] for line in told] == [
            f"{camera}'s card: SAFE TO WIPE" for camera in ("CAM07", "CAM08")
        ]
        # The first one's was folded when the second began to be copied.
        folds = "[...document.querySelectorAll('details.result')].map(d => d.open)"
        assert page.evaluate(folds) == [False, True]
    with open_logbook(book.folder) as session:
        taken = session.con.execute(
            "SELECT camera, count(*) FROM frame_times GROUP BY 1 ORDER BY 1"
        ).fetchall()
    assert taken == [("CAM07", 6), ("CAM08", 6)]


@pytest.mark.thorough
def test_a_folder_of_two_cameras_goes_in_as_two(chromium: Browser, tmp_path: Path) -> None:
    """It is asked of no camera for the whole folder: one button gives each its own pictures."""
    book = new_book(tmp_path / "where" / "hollow")
    for n, camera in enumerate(("CAM07", "CAM08")):
        book.hang(camera, HOME[0] + 0.01 * n, HOME[1])
    mixed = fill(tmp_path / "mixed", frames(2, 0, "oct-CAM07"))
    fill(mixed, frames(3, 20, "oct-CAM08"))
    with (
        running(book.folder.root, tmp_path / "where") as server,
        chromium.window(server) as window,
    ):
        page = window.go("/woods")
        wait(page, "document.querySelector('main.woods')?.dataset.ready === 'yes'")
        page.locator("details:has(#folder) summary").click()
        page.locator("#folder input").fill(str(mixed))
        page.keyboard.press("Enter")
        wait(page, "document.querySelectorAll('#found .card').length === 1")
        assert page.locator("#found h3").inner_text() == "More than one camera's pictures"
        assert page.locator("#found .card input[name=camera]").count() == 0
        page.get_by_role("button", name="Load each as its own camera").click()
        wait(page, "document.querySelectorAll('.result h3').length === 1", 60)
        told = page.locator(".result").inner_text()
        assert told.startswith("CAM07 and CAM08's cards: SAFE TO WIPE")
        assert "CAM07: 2 pictures, 2 new, Oct 1, 2025\n" in told
    with open_logbook(book.folder) as session:
        taken = session.con.execute(
            "SELECT camera, count(*) FROM frame_times GROUP BY 1 ORDER BY 1"
        ).fetchall()
    assert taken == [("CAM07", 2), ("CAM08", 3)]
