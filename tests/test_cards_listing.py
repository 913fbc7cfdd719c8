"""Cards listed, shown file by file, and put right when they went to the wrong camera."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import made_cards as made
import pytest
from derive_world import Shot, book, hang, put_card, say

from camsign.cards.listing import list_cards, set_camera, show_card
from camsign.cards.resting import fixes_resting, rests_on
from camsign.clock.verbs import set_clock
from camsign.derive.opening import open_logbook
from camsign.errors import UsageError
from camsign.flows.intake import ingest
from camsign.logbook.edits import SetFields, TakeBack
from camsign.logbook.folder import Folder
from camsign.logbook.session import Session


@pytest.fixture(scope="module")
def taken(tmp_path_factory: pytest.TempPathFactory) -> tuple[Folder, str, str]:
    """A logbook with two cards: CAM03's, and a later one that holds a picture of it again."""
    home = tmp_path_factory.mktemp("listing")
    patch = pytest.MonkeyPatch()
    patch.setenv("CAMSIGN_CACHE", str(home / "cache"))
    patch.setenv("CAMSIGN_CONFIG", str(home / "config"))
    book = made.logbook(home / "book", "CAM03", "CAM07")
    deployment = {"camera": "CAM03", "lat": 40.0, "lon": -75.0, "hung": "2025-09-01T12:00:00Z"}
    with open_logbook(book) as session:
        session.say("hung", [SetFields("deployment", "d-1", deployment)])
    one = made.card(home / "CAM03", 3)
    first = ingest(book, [one]).cards[0].card
    made.fill(one, made.frames(2, 40, "DCIM/101MEDIA"))
    made.fill(one, {"DCIM/101MEDIA/EMPTY.JPG": b"", "DCIM/101MEDIA/Thumbs.db": b"x"})
    second = ingest(book, [one]).cards[0].card
    yield book, first, second
    patch.undo()


@pytest.fixture(autouse=True)
def _same_homes(taken, monkeypatch: pytest.MonkeyPatch) -> None:
    home = taken[0].root.parent
    monkeypatch.setenv("CAMSIGN_CACHE", str(home / "cache"))
    monkeypatch.setenv("CAMSIGN_CONFIG", str(home / "config"))


@pytest.mark.thorough
def test_cards_are_listed_with_right_times(taken) -> None:
    book, first, second = taken
    with open_logbook(book) as session:
        rows = list_cards(session)
    assert {r.card for r in rows} == {first, second}
    one = next(r for r in rows if r.card == first)
    assert (one.camera, one.frames, one.new, one.refused, one.safe_to_wipe) == (
        "CAM03",
        3,
        3,
        0,
        True,
    )
    assert one.first == datetime.fromisoformat("2025-10-01T06:30:00-04:00")
    two = next(r for r in rows if r.card == second)
    assert (two.frames, two.new, two.refused, two.safe_to_wipe) == (5, 2, 1, False)


def test_a_card_is_shown_file_by_file(taken) -> None:
    book, first, second = taken
    with open_logbook(book) as session:
        shown = show_card(session, second[:6])
    assert [f.card_path for f in shown.files] == [
        *(f"DCIM/100MEDIA/IMG_000{i}.JPG" for i in (1, 2, 3)),
        *(f"DCIM/101MEDIA/IMG_000{i}.JPG" for i in (1, 2)),
    ]
    assert [f.from_card for f in shown.files] == [first] * 3 + [None] * 2
    assert all((book.root / f.file).is_file() for f in shown.files if f.file)
    assert [x.file for x in shown.refused] == ["DCIM/101MEDIA/EMPTY.JPG"]
    assert [x.file for x in shown.companions] == ["DCIM/101MEDIA/Thumbs.db"]
    assert shown.evidence[0]["pictures"] == 3


def test_a_wrong_camera_is_put_right_and_the_word_taken_back(taken) -> None:
    book, first, _ = taken
    with open_logbook(book) as session:
        done = set_camera(session, first, "cam07")
    assert (done.camera, done.was, done.frames) == ("CAM07", "CAM03", 3)
    with open_logbook(book) as session:
        row = next(r for r in list_cards(session) if r.card == first)
        assert (row.camera, row.taken_as, row.folder.split("-")[3]) == ("CAM07", "CAM03", "CAM03")
        assert [r.card for r in list_cards(session, "CAM07")] == [first]
        times = "SELECT count(*) FROM frame_times WHERE camera = 'CAM07'"
        assert session.con.execute(times).fetchall() == [(3,)]
        act = session.con.execute("SELECT act FROM acts ORDER BY said DESC LIMIT 1").fetchall()
        session.say("undo", [TakeBack([act[0][0]])])
    with open_logbook(book) as session:
        assert list_cards(session, "CAM07") == []


@pytest.mark.parametrize("said", ["ffff", "CAM03", "", "zz"])
def test_a_card_that_is_not_there_is_named(taken, said: str) -> None:
    with open_logbook(taken[0]) as session, pytest.raises(UsageError, match="card"):
        show_card(session, said)


def test_saying_the_same_camera_again_says_nothing(taken) -> None:
    with open_logbook(taken[0]) as session, pytest.raises(UsageError, match="already"):
        set_camera(session, taken[1], "CAM03")


def _two_cameras(home: Path) -> Folder:
    """CAM1 with two cards of one serial number, CAM2 with one of another; both hang."""
    home_book = book(home / "book")
    for card, camera, day, serial in (
        ("aaaa", "CAM1", 1, "S-1"), ("bbbb", "CAM1", 11, "S-1"), ("cccc", "CAM2", 1, "S-2")
    ):  # fmt: skip
        shots = [Shot(f"2025-10-{day + d:02d}T12:00:00") for d in (0, 1, 2)]
        put_card(home_book, card, camera, shots, "2025-12-01T12:00:00Z", serial)
    for camera in ("CAM1", "CAM2"):
        say(home_book, hang(camera, "2025-09-20T12:00:00Z", "2025-11-20T12:00:00Z"))
    return home_book


def test_a_card_moved_against_its_serial_number_is_told(tmp_path: Path) -> None:
    home = _two_cameras(tmp_path)
    with open_logbook(home) as session:
        (told,) = set_camera(session, "bbbb", "CAM2").doubts
        assert told.startswith("Serial number S-1 is on other cards of CAM1, none of CAM2")
        assert "camsign undo" in told
    with open_logbook(home) as session:
        assert set_camera(session, "bbbb", "CAM1").doubts == ()


def test_clock_fixes_worked_out_with_pictures_that_leave_are_told(tmp_path: Path) -> None:
    home = _two_cameras(tmp_path)

    def fix(session: Session, camera: str) -> str:
        said = set_clock(session, camera, shift_s=-3600.0, deployment=f"d-{camera}")
        return said.clock_fix

    with open_logbook(home) as session:
        before = fix(session, "CAM2")
        set_camera(session, "bbbb", "CAM2")
    with open_logbook(home) as session:
        since = fix(session, "CAM2")
    with open_logbook(home) as session:
        act = session.con.execute("SELECT max_by(act, said) FROM acts WHERE what LIKE 'card%'")
        (undone,) = rests_on(session, act.fetchall()[0][0])
        (told,) = set_camera(session, "bbbb", "CAM1").doubts
    assert undone == told
    assert f"camsign clock remove {since}" in told and "camsign clock audit CAM2" in told
    assert before not in told
    with open_logbook(home) as session:
        assert fixes_resting(session, ["cccc"]) == {"CAM2": (since,)}
