"""Times that only file names give: a phone's are local, a cell camera's are and say so."""

from __future__ import annotations

from pathlib import Path

import made_cards as made
import pytest

from camsign.answers.frames import Wanted, frames
from camsign.cli import app
from camsign.clock.by_names import open_hours
from camsign.derive.opening import open_logbook
from camsign.flows.intake import ingest
from camsign.logbook.folder import Folder
from camsign.places.deployments import correct_deployment, hang
from camsign.units import parse_when

AT = (44.62, -71.235)
NAME = "CAM03_20251104_064512.jpg"


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Folder:
    made.logbook(tmp_path / "book", "CAM09")
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(tmp_path / "book"))
    book = Folder(tmp_path / "book")
    with open_logbook(book) as session:
        hang(session, "cell cam 3", AT, parse_when("2025-08-10"))
    return book


def local(book: Folder) -> dict[str, tuple[str, str | None]]:
    """The local time and its basis of every picture by its name on the card."""
    with open_logbook(book) as session:
        rows = session.con.execute(
            "SELECT card_path, local, basis FROM frame_times JOIN frames USING (frame)"
        ).fetchall()
    return {path.rpartition("/")[2]: (f"{at:%d %H:%M}", basis) for path, at, basis in rows}


def take(book: Folder, names: dict[str, bytes]) -> list[str]:
    card = made.fill(book.root.parent / f"in{len(names)}{min(names)[:4]}", names)
    return [line for s in ingest(book, [card], camera="cell cam 3").since for line in s.clock]


@pytest.mark.thorough
def test_names_alone_are_read_as_local_time_and_the_hour_is_told(
    book: Folder, capsys: pytest.CaptureFixture[str]
) -> None:
    told = take(book, {NAME: made.jpeg(1, b""), "CAM03_20251004_064512.jpg": made.jpeg(2, b"")})
    assert local(book)[NAME] == ("04 06:45", "local, as names say")
    with open_logbook(book) as session:
        ((deployment, line),) = open_hours(session).items()
    assert told[-1] == line
    assert line == (
        "cell cam 3: only file names give its times, and the hour of 1 of them depends on daylight"
        " saving; we read them as if its clock switches by itself, as a cell camera's does. If it"
        f" switches: camsign hang correct {deployment} --clock local. If it never does: camsign"
        f" hang correct {deployment} --clock -04:00"
    )
    for words in (["deployments"], ["clock", "list"], ["clock", "audit"]):
        app.run(words)
        assert line in " ".join(capsys.readouterr().err.split()), words
    # Each of the two words settles it.
    for rule, hour in (("-04:00", "05:45"), ("local", "06:45")):
        assert app.run(["hang", "correct", deployment, "--clock", rule]) == 0
        assert local(book)[NAME] == (f"04 {hour}", rule)
        with open_logbook(book) as session:
            assert open_hours(session) == {}


def test_before_the_clocks_change_nothing_is_told(book: Folder) -> None:
    assert not any(
        "file names" in line for line in take(book, {"C_20251004_064512.jpg": made.jpeg(1, b"")})
    )


def test_a_card_that_brings_the_cameras_own_clock_says_how_names_are_read_now(book: Folder) -> None:
    take(book, {NAME: made.jpeg(1, b"")})
    (line,) = [x for x in take(book, {"A.JPG": made.jpeg(2)}) if "file names" in x]
    assert "as if its clock never switches" in line
    assert local(book)[NAME] == ("04 05:45", "hung")


def test_clips_named_by_a_card_camera_keep_its_clock(book: Folder) -> None:
    take(book, {"A.JPG": made.jpeg(2), NAME: made.jpeg(1, b"")})
    assert local(book)[NAME] == ("04 05:45", "hung")
    with open_logbook(book) as session:
        assert open_hours(session) == {}


WHATSAPP = "WhatsApp Image 2025-11-04 at 11.31.46 PM.jpeg"
SHOT = "Screenshot 2025-11-02 at 1.31.46 AM.png"


@pytest.mark.thorough
@pytest.mark.parametrize("rule", ["hung", "local", "-05:00", "+01:00"])
def test_a_phones_name_is_local_time_whatever_the_camera_keeps(book: Folder, rule: str) -> None:
    with open_logbook(book) as session:
        ((deployment,),) = session.con.execute("SELECT deployment FROM deployments").fetchall()
        correct_deployment(session, deployment, clock=rule, start=parse_when("2025-08-11"))
    pictures = {WHATSAPP: made.jpeg(1, b""), "A.JPG": made.jpeg(2), SHOT: made.jpeg(3, b"")}
    take(book, pictures)
    times = local(book)
    assert times[WHATSAPP] == ("04 23:31", "a phone's name, local")
    assert times[SHOT][0] == "02 01:31"
    with open_logbook(book) as session:
        doubts = {f.local: f.doubt for f in frames(session, Wanted()) if f.time_from == "name"}
        assert open_hours(session) == {}
    assert ["fall-back repeats" in str(doubts[at]) for at in sorted(doubts)] == [True, False]


def test_what_a_person_puts_right_moves_a_phones_picture_too(book: Folder) -> None:
    take(book, {WHATSAPP: made.jpeg(1, b""), "A.JPG": made.jpeg(2)})
    assert app.run(["clock", "set", "cell cam 3", "--utc-offset", "-04:00"]) == 0
    assert local(book)[WHATSAPP][0] == "04 22:31"


def test_a_camera_called_a_cell_camera_is_asked_about(
    book: Folder, capsys: pytest.CaptureFixture[str]
) -> None:
    for name, asked in (("Cell 4", True), ("CAM07", False), ("excellent", False)):
        app.run(["hang", name, "--at", "44.63,-71.2", "--from", "2025-08-10"])
        assert ("--clock local" in " ".join(capsys.readouterr().out.split())) is asked
