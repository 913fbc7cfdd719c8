"""After an ingest: how many frames were set aside as likely empty, said once and never lost."""

from __future__ import annotations

import json
import shutil
import threading
import time
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path
from typing import Any

import cv2
import made_cards as made
import numpy as np
import pytest
from derive_world import book, rows
from duckdb import DuckDBPyConnection
from pixels_world import few, put_shots
from scenes import Shot, Weather, Woods, shoot

from camsign.cli.app import run
from camsign.derive.comparing import compare, compared
from camsign.derive.opening import open_logbook
from camsign.flows.intake import ingest
from camsign.flows.intake.result import words_of
from camsign.logbook.edits import Subject, TagFrames
from camsign.logbook.folder import Folder
from camsign.page import jobs
from camsign.page.app_state import AppState
from camsign.page.desk import Desk
from camsign.page.events import Hub
from camsign.page.jobs import Comparer
from camsign.pixels import scoring
from camsign.pixels.changes import Change
from camsign.pixels.scores import Aside

# `how` is noted when frames are compared, not when a tag moves a threshold.
SCORES = "SELECT empty_score, * EXCLUDE (empty_score, how) FROM empty_scores ORDER BY frame"


@pytest.fixture(scope="module")
def shots() -> list[Shot]:
    return few(81, 24, animals=0.2)


@pytest.fixture
def placed(tmp_path: Path, shots: list[Shot]) -> Folder:
    """A logbook with a card whose frames were not compared yet."""
    folder = book(tmp_path / "book")
    put_shots(folder, "c1", "CAM01", shots)
    return folder


@pytest.mark.thorough
def test_changed_settings_are_told_behind_a_comparing_that_had_something_to_do(
    placed: Folder,
) -> None:
    with open_logbook(placed):
        pass
    file = placed.root / "logbook.toml"
    file.write_text(file.read_text().replace("burst_gap_s = 10 ", "burst_gap_s = 12 "))
    with compared(Folder(placed.root)) as session:
        assert session.con.execute("SELECT count(*) > 0 FROM changes").fetchone() == (True,)
        assert session.changed == ("burst_gap_s 10 -> 12",)


def card(root: Path, n: int) -> Path:
    """A still view, one picture an hour; in the last two a pale post stands where none stood."""
    rng, woods = np.random.default_rng(5), Woods(5)
    for i in range(n):
        pixels = shoot(woods, rng, Weather(sun=0.0, sway=0.2), jpeg=None)[0].astype(np.uint8)
        if i >= n - 2:
            pixels[100:190, 150:165] = 225
        data = cv2.imencode(".jpg", pixels)[1].tobytes()
        block = made.exif(made.START + i * timedelta(hours=1))
        made.fill(root, {f"DCIM/100MEDIA/IMG_{i + 1:04d}.JPG": made.with_exif(data, block)})
    return root


@pytest.mark.thorough
def test_an_ingest_says_how_many_were_set_aside_and_how_to_see_them(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = made.logbook(tmp_path / "book", "CAM01")
    first, second = card(tmp_path / "a" / "CAM01", 20), tmp_path / "b" / "CAM01"
    done = ingest(folder, [first])
    assert done.set_aside == (Aside("CAM01", 20, 20, 0, look_first=18),)
    assert done.warnings == ()
    shutil.copytree(first, second)
    block = made.exif(made.START + timedelta(days=1))
    same = np.asarray(cv2.imread(str(first / "DCIM/100MEDIA/IMG_0003.JPG")))
    again = made.with_exif(cv2.imencode(".jpg", same)[1].tobytes(), block)
    made.fill(second, {"DCIM/100MEDIA/IMG_0099.JPG": again})
    capsys.readouterr()
    assert run(["--logbook", str(folder.root), "ingest", str(second)]) == 0
    told = capsys.readouterr().out
    assert "None of 1 new pictures set aside as likely empty: all are shown" in told
    assert "1 picture looks empty but waits for your check (camsign frames --look-first)" in told
    assert "camsign frames --look-first): CAM01 1" in told
    assert run(["--logbook", str(folder.root), "ingest", str(second), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["set_aside"] == []  # nothing was new


def test_words_add_up_the_cameras_and_nothing_is_said_where_nothing_can_be() -> None:
    both = [Aside("A", 4000, 3990, 3500), Aside("B", 1000, 900, 12)]
    assert words_of(both).startswith("3,512 of 5,000 new pictures set aside as likely empty")
    assert words_of([Aside("A", 3, 0, 0)]) == ""
    assert words_of([]) == ""


@pytest.mark.thorough
def test_scores_come_back_the_same_without_the_cache_and_follow_the_tags(placed: Folder) -> None:
    assert compare(placed) == len(rows(placed, "SELECT frame FROM frames"))
    weak = rows(
        placed,
        "SELECT frame FROM changes WHERE light = 'infrared' "
        "AND news < 1.4 ORDER BY news DESC LIMIT 6",
    )
    with open_logbook(placed) as session:
        session.say("tagged", [TagFrames(Subject("animal"), [f for (f,) in weak])])
    before = rows(placed, SCORES)
    assert [score for score, *_ in before if score > 0.5]
    assert rows(placed, "SELECT 1 FROM empty_thresholds WHERE camera = 'CAM01'")
    shutil.rmtree(placed.cache)
    placed.cache.mkdir()
    assert compare(placed) == len(before)
    assert rows(placed, SCORES) == before
    assert compare(placed) == 0


@pytest.mark.thorough
def test_an_open_page_takes_in_what_another_program_compared(placed: Folder) -> None:
    desk = Desk(placed, Hub(), lambda _: None)
    try:
        with desk.reading() as session:
            assert session.con.execute("SELECT count(*) FROM changes").fetchone() == (0,)
        done = compare(placed)
        desk.catch_up()
        with desk.reading() as session:
            assert session.con.execute("SELECT count(*) FROM changes").fetchone() == (done,)
    finally:
        desk.close()


@pytest.mark.thorough
def test_pages_compare_in_the_background(placed: Folder) -> None:
    opened, until = AppState(placed, Hub()), time.monotonic() + 60
    try:
        found, every = 0, len(rows(placed, "SELECT frame FROM frames"))
        while found < every and time.monotonic() < until:
            time.sleep(0.05)
            with opened.desk.reading() as session:
                row = session.con.execute("SELECT count(*) FROM changes").fetchone()
                found = row[0] if row else 0
        assert found == every
    finally:
        opened.close()


def test_the_background_goes_on_after_any_trouble(
    placed: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A thread that died would leave all later frames of an open page without a score."""
    tried, told = threading.Semaphore(0), list[str]()

    def fails(*_: Any, **__: Any) -> None:
        tried.release()
        raise ValueError

    monkeypatch.setattr(jobs, "compare", fails)
    hub = Hub()
    monkeypatch.setattr(hub, "tell", lambda kind, what: told.append(f"{kind}: {what}"))
    comparer = Comparer(hub)
    for n in (1, 2):
        comparer.want(placed)
        assert tried.acquire(timeout=10)
        until = time.monotonic() + 10
        while len(told) < n and time.monotonic() < until:
            time.sleep(0.01)
    comparer.close()
    assert told == ["trouble: frames could not be compared: ValueError"] * 2


@pytest.mark.thorough
@pytest.mark.parametrize("in_duckdb", [False, True])
def test_a_card_stands_though_its_frames_cannot_be_compared(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, in_duckdb: bool
) -> None:
    def full(*_: Any) -> None:
        raise OSError(28, "No space left on device")

    folder = made.logbook(tmp_path / "book", "CAM01")
    keep = scoring._keep

    def lost(con: DuckDBPyConnection, path: Path, rows: Sequence[Change]) -> None:
        keep(con, path.parent / "lost" / path.name, rows)  # DuckDB says this as it says a full disk

    monkeypatch.setattr(scoring, "_keep", lost if in_duckdb else full)
    done = ingest(folder, [card(tmp_path / "CAM01", 12)])
    assert done.safe_to_wipe
    assert done.new == 12
    assert done.set_aside == (Aside("CAM01", 12, 0, 0),)
    assert any("no picture was compared yet" in line for line in done.warnings)
    monkeypatch.undo()
    assert compare(folder) == 12
