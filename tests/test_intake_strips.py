"""The strip that a camera prints into its pictures: read where nothing else says whose, or when."""

from __future__ import annotations

import socket
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import made_cards as made
import pytest
from hypothesis import given
from hypothesis import strategies as st
from printed_strips import printed

from camsign.derive.opening import open_logbook
from camsign.errors import InputRefused
from camsign.flows.intake import cards_in, ingest
from camsign.flows.intake.strips import _longest_rise
from camsign.formats.kinds import Kind
from camsign.formats.written import read_written
from camsign.logbook.folder import Folder
from camsign.pixels import strip_words as printer

AT = datetime(2025, 10, 1, 19, 31, 46)
NOTHING = made.exif(None, model="")


@pytest.fixture
def book(tmp_path: Path) -> Folder:
    return made.logbook(tmp_path / "book", "CAM03", "CAM07")


@pytest.fixture(autouse=True)
def nothing_is_compared(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cards_in, "compared", lambda folder, *_, **__: open_logbook(folder))


def words(at: datetime, camera: str = "CAM03") -> tuple[str, ...]:
    return camera, at.strftime("%m/%d/%Y"), at.strftime("%I:%M:%S %p"), "41°F"


def strips(*times: datetime, camera: str = "CAM03") -> dict[str, bytes]:
    return {
        f"DCIM/100MEDIA/IMG_{n:04d}.JPG": printed(*words(at, camera), seed=n, exif=NOTHING)
        for n, at in enumerate(times, 1)
    }


def rows(book: Folder) -> list[tuple[Any, ...]]:
    with open_logbook(book) as session:
        sql = (
            "SELECT f.shown, t.time_from, t.weak FROM frames f JOIN frame_times t USING (frame)"
            " ORDER BY f.card_path"
        )
        return session.con.execute(sql).fetchall()


needs_reader = pytest.mark.skipif(not printer.reads_strips(), reason="camsign[strip] is missing")


@needs_reader
@pytest.mark.parametrize("size", [(1280, 960), (1920, 1080), (4000, 3000), (6000, 4500)])
def test_the_words_on_a_strip(size: tuple[int, int]) -> None:
    data = printed("CAM03", "10/01/2025", "07:31:46 PM", "41°F", size=size)
    assert printer.strip_words(Kind.JPEG, data, Path()) == "CAM03  10/01/2025  07:31:46 PM  41°F"
    assert printer.strip_words(Kind.JPEG, made.jpeg(1, size=(640, 480)), Path()) == ""
    assert printer.strip_words(Kind.JPEG, data[:300], Path()) == ""


@needs_reader
def test_a_clips_first_picture_is_read(tmp_path: Path) -> None:
    import cv2
    import numpy as np

    picture = cv2.imdecode(np.frombuffer(printed(*words(AT)), np.uint8), cv2.IMREAD_COLOR)
    clip = cv2.VideoWriter(
        str(tmp_path / "C.AVI"), cv2.VideoWriter.fourcc(*"MJPG"), 10, (1280, 960)
    )
    for _ in range(3):
        clip.write(picture)
    clip.release()
    assert printer.strip_words(Kind.AVI, None, tmp_path / "C.AVI").startswith("CAM03  10/01/2025")


@needs_reader
def test_nothing_is_fetched(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: Any) -> None:
        raise AssertionError("it asked the network")

    monkeypatch.setattr(socket.socket, "connect", refused)
    monkeypatch.setattr(socket, "getaddrinfo", refused)
    printer._reader.cache_clear()
    assert "CAM03" in printer.strip_words(Kind.JPEG, printed(*words(AT)), Path())


@needs_reader
def test_printed_times_that_fit_the_order_of_the_files_are_believed(
    book: Folder, tmp_path: Path
) -> None:
    times = [AT + timedelta(minutes=3 * n) for n in range(4)]
    card = made.fill(tmp_path / "CAM03", strips(*times))
    assert ingest(book, [card]).safe_to_wipe
    assert rows(book) == [(t.isoformat(), "strip", None) for t in times]


@needs_reader
def test_one_that_does_not_fit_stays_in_doubt(book: Folder, tmp_path: Path) -> None:
    times = [AT + timedelta(minutes=3 * n) for n in range(5)]
    times[2] += timedelta(days=31)  # as if a digit of the month were misread
    ingest(book, [made.fill(tmp_path / "CAM03", strips(*times))])
    found = rows(book)
    assert [f[1] for f in found] == ["strip", "strip", "strip alone", "strip", "strip"]
    assert found[2][2] == "its time is read off the strip printed in the picture"


@needs_reader
@pytest.mark.parametrize("n", [1, 2])
def test_few_readings_bear_one_another_out_in_nothing(book: Folder, tmp_path: Path, n: int) -> None:
    times = [AT + timedelta(minutes=k) for k in range(n)]
    ingest(book, [made.fill(tmp_path / "CAM03", strips(*times))])
    assert {f[1] for f in rows(book)} == {"strip alone"}


@needs_reader
def test_a_picture_with_a_time_of_its_own_is_not_read(
    book: Folder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(printer, "strip_words", lambda *_: pytest.fail("it was read"))
    ingest(book, [made.fill(tmp_path / "CAM03", {"A.JPG": printed(*words(AT), exif=made.exif())})])
    assert rows(book) == [("2025-10-01T06:30:00", "camera", None)]


@needs_reader
def test_strips_say_whose_card_it_is_where_nothing_else_does(book: Folder, tmp_path: Path) -> None:
    times = [AT + timedelta(minutes=n) for n in range(5)]
    (card,) = ingest(book, [made.fill(tmp_path / "dump", strips(*times))]).cards
    assert (card.camera, card.new) == ("CAM03", 5)
    assert card.known_by == "the strip in its pictures says CAM03"


@needs_reader
@pytest.mark.parametrize("others", [{}, {2: "CAM07"}], ids=["one picture", "two cameras"])
def test_strips_that_nothing_bears_out_name_nobody(
    book: Folder, tmp_path: Path, others: dict[int, str]
) -> None:
    n = 3 if others else 1
    files = {
        name: data
        for k in range(1, n + 1)
        for name, data in strips(
            *[AT + timedelta(minutes=i) for i in range(k)], camera=others.get(k, "CAM03")
        ).items()
        if f"{k:04d}" in name
    }
    with pytest.raises(InputRefused, match="can't tell which camera"):
        ingest(book, [made.fill(tmp_path / "dump", files)])


@needs_reader
def test_a_folders_name_goes_before_its_strips(book: Folder, tmp_path: Path) -> None:
    times = [AT + timedelta(minutes=n) for n in range(3)]
    card = made.fill(tmp_path / "CAM07", strips(*times, camera="CAM03"))
    assert [c.camera for c in ingest(book, [card]).cards] == ["CAM07"]


def test_without_the_packages_a_line_says_what_would_help(
    book: Folder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(printer, "find_spec", lambda name: None)
    card = made.fill(tmp_path / "CAM03", {"A.JPG": printed(*words(AT))})
    result = ingest(book, [card])
    assert any('pip install "camsign[strip]"' in line for line in result.warnings)
    assert rows(book) == [(None, None, None)]


@given(st.lists(st.integers(0, 9).map(str), max_size=9))
def test_the_longest_rise_is_as_long_as_any(values: list[str]) -> None:
    places = _longest_rise(values)
    kept = [values[n] for n in places]
    assert places == sorted(set(places)) and kept == sorted(kept)
    subsets = ([v for k, v in enumerate(values) if m >> k & 1] for m in range(1 << len(values)))
    assert len(kept) == max(len(s) for s in subsets if s == sorted(s))


@needs_reader
@pytest.mark.parametrize(
    ("name", "at", "says"),
    [  # what exiftool 12.57 reads in their notes: DateTimeOriginal, and the words in UserLabel
        ("exif-samples/trail-1.jpg", "2020-03-16T10:00:00", "HYPERFIRE"),
        ("mei/trail-2.jpg", "2016-04-19T15:03:00", "HC500  HYPERFIRE"),
    ],
)
def test_real_strips_are_what_exiftool_reads_in_the_notes(
    samples: Path, name: str, at: str, says: str
) -> None:
    data = (samples / "exif" / name).read_bytes()
    found = printer.strip_words(Kind.JPEG, data, Path())
    shown = read_written(found)
    assert shown is not None and shown.iso() == at and says in found
