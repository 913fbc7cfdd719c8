"""Times that rest on less than the camera's own word stay weak, from the card to the detections."""

from __future__ import annotations

import os
from datetime import datetime, timedelta
from pathlib import Path

import made_cards as made
import pytest

from camsign.answers.frames import Wanted, frames
from camsign.cards.listing import confirm_file_times, list_cards
from camsign.derive.opening import open_logbook
from camsign.errors import UsageError
from camsign.flows.intake import ingest
from camsign.logbook.edits import SetFields, Subject, TagFrames
from camsign.logbook.folder import Folder
from camsign.logbook.history import undo

CLIP = b"\0\0\0\x18ftypmp42\0\0\0\0mp42isom" + bytes(900)  # a container without a time
HUNG = {"camera": "CAM03", "lat": 44.6, "lon": -71.2, "hung": "2025-09-01T12:00:00Z"}


@pytest.fixture
def book(tmp_path: Path) -> Folder:
    """CAM03 hangs; its card holds a picture, one timed by name, and a clip with only a stamp."""
    book = made.logbook(tmp_path / "book", "CAM03")
    with open_logbook(book) as session:
        session.say("hung", [SetFields("deployment", "d1", HUNG)])
    files = {"A.JPG": made.jpeg(1), "IMG_20251001_070000.JPG": made.jpeg(2, b""), "C.MP4": CLIP}
    card = made.fill(tmp_path / "CAM03", files)
    stamp = (made.START + timedelta(hours=2)).timestamp()
    os.utime(card / "C.MP4", (stamp, stamp))
    assert ingest(book, [card]).safe_to_wipe
    with open_logbook(book) as session:
        ids = [f.frame for f in frames(session, Wanted())]
        session.say("tagged", [TagFrames(Subject("animal", species="deer", sex="male"), ids)])
    return book


def by_source(book: Folder, doubtful: bool = False) -> dict[str | None, tuple[object, str | None]]:
    with open_logbook(book) as session:
        rows = frames(session, Wanted(doubtful=doubtful))
    return {r.time_from: (r.local and r.local.replace(tzinfo=None), r.doubt) for r in rows}


def seen(book: Folder) -> list[tuple[str | None, str | None]]:
    with open_logbook(book) as session:
        sql = "SELECT local::VARCHAR, weak FROM detections ORDER BY utc"
        return session.con.execute(sql).fetchall()


@pytest.mark.thorough
def test_where_a_time_came_from_is_told_with_its_doubt(book: Folder) -> None:
    found = by_source(book)
    assert found["camera"] == (made.START, None)
    assert found["name"] == (datetime(2025, 10, 1, 7), "its time is taken from the file's name")
    local, doubt = found["file"]
    assert local is None and doubt is not None and "--file-times" in doubt
    assert set(by_source(book, doubtful=True)) == {"name", "file"}


@pytest.mark.thorough
def test_a_files_stamp_enters_nothing_until_somebody_confirms_it(book: Folder) -> None:
    assert seen(book) == [
        ("2025-10-01 06:30:00", None),
        ("2025-10-01 07:00:00", "its time is taken from the file's name"),
    ]
    with open_logbook(book) as session:
        (card,) = list_cards(session)
        assert card.last is not None and card.last.hour == 7
        done = confirm_file_times(session, card.card)
        assert (done.frames, done.camera) == (1, "CAM03")
    assert seen(book)[-1] == ("2025-10-01 08:30:00", None)
    assert by_source(book)["file"] == (datetime(2025, 10, 1, 8, 30), None)
    with open_logbook(book) as session:
        undo(session)
    assert len(seen(book)) == 2


@pytest.mark.thorough
def test_the_word_about_stamps_leaves_whose_card_it_is(book: Folder) -> None:
    with open_logbook(book) as session:
        (card,) = list_cards(session)
        confirm_file_times(session, card.card)
    with open_logbook(book) as session:
        assert [(c.camera, c.taken_as) for c in list_cards(session)] == [("CAM03", None)]


@pytest.mark.thorough
def test_a_card_without_such_times_has_nothing_to_confirm(book: Folder, tmp_path: Path) -> None:
    ingest(book, [made.card(tmp_path / "b" / "CAM03", 1, first=9)])
    with open_logbook(book) as session:
        other = next(c for c in list_cards(session) if c.frames == 1)
        with pytest.raises(UsageError, match="no time of card"):
            confirm_file_times(session, other.card)


@pytest.mark.thorough
def test_a_cameras_software_is_no_editor_and_an_editor_is(book: Folder, tmp_path: Path) -> None:
    from PIL import Image

    blocks = {}
    for name, software in (("F.JPG", "Ver 1.04"), ("P.JPG", "Adobe Photoshop CS6 (Windows)")):
        block = Image.Exif()
        block[0x0131], block[0x0132] = software, "2025:10:03 09:00:00"
        blocks[name] = made.jpeg(len(name + software), block.tobytes())
    ingest(book, [made.fill(tmp_path / "b" / "CAM03", blocks)])
    with open_logbook(book) as session:
        rows = session.con.execute(
            "SELECT software, time_from, weak FROM frame_times JOIN frames USING (frame)"
            " WHERE software IS NOT NULL ORDER BY software"
        ).fetchall()
    assert rows == [
        (
            "Adobe Photoshop CS6 (Windows)",
            "editor",
            "its time is when Adobe Photoshop CS6 (Windows) saved it",
        ),
        ("Ver 1.04", "camera", None),
    ]


@pytest.mark.thorough
def test_answers_say_how_many_visits_rest_on_weak_times(book: Folder) -> None:
    from camsign.answers.scope import scope_of
    from camsign.answers.visits import visits
    from camsign.tags.bucks import add_buck

    with open_logbook(book) as session:
        buck = add_buck(session, "Pinecone").buck_id
        ids = [f.frame for f in frames(session, Wanted()) if f.time_from == "name"]
        session.say("tagged", [TagFrames(Subject("animal", buck_id=buck), ids)])
    with open_logbook(book) as session:
        (row,) = visits(session, scope_of(session), by="camera").rows
    assert (row.visits, row.weak_times) == (1, 1)
