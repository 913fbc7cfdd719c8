"""A camera was moved, and the card of its first spot was never loaded: nothing of it counts."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import made_cards as made
import pytest
from page_server import running

from camsign.answers.scope import scope_of
from camsign.answers.visits import visits
from camsign.derive.opening import open_logbook
from camsign.flows.intake import ingest
from camsign.flows.intake.result import IngestResult
from camsign.logbook.edits import SetFields, Subject, TagFrames
from camsign.logbook.folder import Folder

HERE, THERE = (44.1, -71.5), (44.2, -71.5)
DAYS = 24


def daily(root: Path, first: datetime, seed: int) -> Path:
    """A card with a picture each day."""
    days = (made.jpeg(seed + n, made.exif(first + timedelta(days=n))) for n in range(DAYS))
    return made.fill(root, {f"DCIM/100MEDIA/IMG_{n:04d}.JPG": d for n, d in enumerate(days, 1)})


@pytest.fixture
def book(tmp_path: Path) -> Folder:
    """CAM03 hung at Bench, then elsewhere; CAM07 hangs at Bench all the while."""
    book = made.logbook(tmp_path / "book")
    spots = (
        ("CAM03", HERE, "2025-09-01T16:00:00Z", "2025-09-20T16:00:00Z"),
        ("CAM03", THERE, "2025-09-20T16:00:00Z", None),
        ("CAM07", HERE, "2025-09-01T16:00:00Z", None),
    )
    edits = [
        SetFields("deployment", f"d-{n}", {"camera": camera, "lat": at[0], "lon": at[1],
                                           "hung": hung, "taken_down": down})
        for n, (camera, at, hung, down) in enumerate(spots)
    ]  # fmt: skip
    shape = {"circle": [*HERE, 60.0]}
    edits.append(SetFields("area", "a-1", {"name": "Bench", "kind": "bedding", "shape": shape}))
    edits.append(SetFields("buck", "b-1", {"name": "Fork"}))
    with open_logbook(book) as session:
        session.say("hung", edits)
    return book


def loaded(book: Folder, tmp_path: Path) -> IngestResult:
    moved = daily(tmp_path / "CAM03", datetime(2025, 9, 21, 12), 0)
    return ingest(book, [moved, daily(tmp_path / "CAM07", datetime(2025, 9, 2, 12), 50)])


def test_visits_name_the_camera_whose_card_is_missing(book: Folder, tmp_path: Path) -> None:
    loaded(book, tmp_path)
    with open_logbook(book) as session:
        frames = [f for (f,) in session.con.execute("SELECT frame FROM frames").fetchall()]
        session.say("doe", [TagFrames(Subject("animal", sex="female"), frames)])
    with open_logbook(book) as session:
        answer = visits(session, scope_of(session, areas=["Bench"]))
    watch = answer.watch["Bench"]
    assert (watch.no_card, watch.nights_watched) == (("CAM03",), DAYS)
    assert "2 cameras close enough (no card from CAM03), 24 nights covered" in watch.in_words()
    assert "no card from CAM03 at Bench: load it, if you have it" in answer.why
    assert answer.to_json()["watch"]["Bench"]["no_card"] == ["CAM03"]


def test_the_card_of_the_second_spot_counts_no_night_of_the_first(
    book: Folder, tmp_path: Path
) -> None:
    since = {one.camera: (one.nights_watched, one.nights) for one in loaded(book, tmp_path).since}
    assert since["CAM03"] == (DAYS, DAYS)


@pytest.mark.thorough
def test_the_page_after_the_woods_tells_of_it(book: Folder, tmp_path: Path) -> None:
    with running(book.root, tmp_path) as server:  # no card at all: it may wait its turn
        assert server.get("/woods/counts")["no_card"] == []
    loaded(book, tmp_path)
    with running(book.root, tmp_path) as server:
        missing = server.get("/woods/counts")["no_card"]
    assert missing == [
        {
            "camera": "CAM03", "first": "2025-09-01", "last": "2025-09-20", "down": "2025-09-20",
            "moved": True, "is_first": True,
        }
    ]  # fmt: skip
