"""A card comes in: placed whole, known the second time; bad files cost one line each."""

from __future__ import annotations

import struct
import subprocess
from datetime import datetime
from pathlib import Path

import made_cards as made
import pytest

from camsign.derive.opening import open_logbook
from camsign.errors import REFUSED, InputRefused, UsageError
from camsign.flows.intake import ingest
from camsign.logbook import receipts


@pytest.fixture
def book(tmp_path: Path):
    return made.logbook(tmp_path / "book", "CAM03", "CAM07")


def why(result, name: str) -> str:
    return next(x.why for x in result.refused if x.file.endswith(name))


def test_a_card_is_taken_in_whole(book, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 5)
    result = ingest(book, [card])
    assert (result.files, result.new, result.known, result.refused) == (5, 5, 0, ())
    assert result.safe_to_wipe and result.reasons == () and result.warnings == ()
    (taken,) = result.cards
    assert taken.camera == "CAM03" and "CAM03" in taken.known_by
    assert (taken.first_shown, taken.last_shown) == ("2025-10-01T06:30:00", "2025-10-01T06:34:00")
    assert taken.first == "2025-10-01T06:30:00-04:00"  # daylight-saving time in New York
    assert [(c.camera, c.frames) for c in result.by_camera] == [("CAM03", 5)]
    folder = book.cards / taken.folder
    for path in card.rglob("*.JPG"):
        copy = folder / "files" / path.relative_to(card)
        assert copy.read_bytes() == path.read_bytes()
        assert not copy.stat().st_mode & 0o222
    assert [p.name for p in book.cards.iterdir()] == [taken.folder]


def test_rows_are_in_the_database_at_once(book, tmp_path: Path) -> None:
    ingest(book, [made.card(tmp_path / "CAM03", 4)])
    with open_logbook(book) as session:
        con = session.con
        assert con.execute("SELECT count(*) FROM frames WHERE shown IS NOT NULL").fetchall() == [
            (4,)
        ]
        assert con.execute("SELECT count(*) FROM looks").fetchall() == [(4,)]
        files = [f for (f,) in con.execute("SELECT file FROM frames").fetchall()]
    assert all((book.root / f).is_file() for f in files)


def test_any_machine_can_check_the_sums(book, tmp_path: Path) -> None:
    result = ingest(book, [made.card(tmp_path / "CAM03", 3)])
    moved = book.root.rename(tmp_path / "elsewhere")
    folder = moved / "cards" / result.cards[0].folder
    check = ["sha256sum", "-c", "--strict", "SHA256SUMS"]
    done = subprocess.run(check, cwd=folder, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert len(done.stdout.splitlines()) == 4  # three pictures and frames.parquet


@pytest.mark.thorough
def test_the_same_card_twice_adds_nothing(book, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 4)
    first = ingest(book, [card])
    before = made.dump(book)
    again = ingest(book, [card])
    assert (again.new, again.known) == (0, 4) and again.safe_to_wipe
    assert again.cards[0].card == first.cards[0].card
    assert again.cards[0].folder == first.cards[0].folder
    assert made.dump(book) == before


@pytest.mark.thorough
def test_equal_names_with_different_pictures_lose_nothing(book, tmp_path: Path) -> None:
    one = made.card(tmp_path / "a" / "CAM03", 3, first=0)
    two = made.card(tmp_path / "b" / "CAM03", 3, first=100)
    assert ingest(book, [one]).new == 3
    assert ingest(book, [two]).new == 3
    placed = {p.read_bytes() for p in book.cards.rglob("*.JPG")}
    assert placed == {p.read_bytes() for c in (one, two) for p in c.rglob("*.JPG")}


@pytest.mark.thorough
def test_a_card_that_was_not_wiped_brings_only_what_is_new(book, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 3)
    ingest(book, [card])
    made.fill(card, made.frames(2, 50, "DCIM/101MEDIA"))
    result = ingest(book, [card])
    assert (result.new, result.known, result.safe_to_wipe) == (2, 3, True)
    receipt = receipts.read(book.cards / result.cards[0].folder / receipts.FILE)
    assert (receipt.files, receipt.new, receipt.known) == (5, 2, 3)
    assert len(list(book.cards.rglob("*.JPG"))) == 5


def test_bytes_that_stand_twice_on_a_card_are_kept_once(book, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 2)
    made.fill(card, {"DCIM/101MEDIA/COPY.JPG": made.jpeg(0, made.exif(made.START))})
    result = ingest(book, [card])
    assert (result.files, result.new, result.known) == (3, 2, 1)
    assert sorted(p.name for p in book.cards.rglob("*.JPG")) == ["IMG_0001.JPG", "IMG_0002.JPG"]
    with open_logbook(book) as session:
        assert session.con.execute("SELECT count(*) FROM card_files").fetchall() == [(3,)]


@pytest.mark.thorough
def test_bad_files_cost_one_line_each_and_the_rest_comes_in(book, tmp_path: Path) -> None:
    good = made.jpeg(1, made.exif(datetime(2025, 10, 1, 7, 0)))
    card = made.fill(
        tmp_path / "CAM03",
        {
            "DCIM/100MEDIA/GOOD.JPG": good,
            "DCIM/100MEDIA/CUT.JPG": made.jpeg(2)[:-300],
            "DCIM/100MEDIA/STUB.JPG": made.jpeg(3)[:60],
            "DCIM/100MEDIA/TEXT.JPG": b"these are words, not pixels\n" * 30,
            "DCIM/100MEDIA/EMPTY.JPG": b"",
            "DCIM/100MEDIA/BARE.JPG": made.jpeg(4, b""),
            "DCIM/100MEDIA/ZERO.JPG": made.jpeg(5, made.exif("0000:00:00 00:00:00")),
            "DCIM/100MEDIA/OLD.JPG": made.jpeg(6, made.exif("1970:01:01 00:00:09")),
            "DCIM/100MEDIA/LATE.JPG": made.jpeg(7, made.exif("2099:12:31 23:59:59")),
            "DCIM/100MEDIA/NOTES.TXT": b"battery changed",
        },
    )
    result = ingest(book, [card])
    assert result.new == 6
    assert {x.file.rpartition("/")[2] for x in result.refused} == {
        "STUB.JPG",
        "TEXT.JPG",
        "EMPTY.JPG",
        "NOTES.TXT",
    }
    assert why(result, "STUB.JPG").startswith("cut short")
    assert why(result, "TEXT.JPG") == "not a picture, whatever its name says"
    assert why(result, "EMPTY.JPG") == "the file is empty"
    assert not result.safe_to_wipe and "EMPTY.JPG" in result.reasons[0]
    doubts = {d.file.rpartition("/")[2]: d.why for d in result.doubts}
    assert "the end of the picture is missing" in doubts["CUT.JPG"]
    assert "wrote no details" in doubts["BARE.JPG"]
    assert "blank or zero" in doubts["ZERO.JPG"]
    assert "1970" in doubts["OLD.JPG"] and "still to come" in doubts["LATE.JPG"]
    # what cannot be right does not stretch the card's span
    assert result.cards[0].first_shown == "2025-10-01T06:30:00"
    assert result.cards[0].last_shown == "2025-10-01T07:00:00"


@pytest.mark.thorough
def test_what_was_refused_may_be_accepted(book, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 2)
    made.fill(card, {"DCIM/100MEDIA/EMPTY.JPG": b""})
    assert not ingest(book, [card]).safe_to_wipe
    result = ingest(book, [card], accept_refused=True)
    assert result.safe_to_wipe and [x.file for x in result.refused] == ["DCIM/100MEDIA/EMPTY.JPG"]


def test_what_systems_leave_behind_is_listed_and_no_hindrance(book, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 2)
    made.fill(
        card,
        {
            "System Volume Information/WPSettings.dat": b"x",
            ".Trashes/501/IMG_0009.JPG": made.jpeg(90),
            ".Trashes/501/notes.txt": b"batteries",
            "DCIM/100MEDIA/Thumbs.db": b"\xd0\xcf\x11\xe0",
            "DCIM/100MEDIA/._IMG_0001.JPG": b"\x00\x05\x16\x07" + bytes(50),
            ".DS_Store": b"\x00\x00\x00\x01Bud1",
        },
    )
    result = ingest(book, [card])
    assert result.safe_to_wipe and (result.files, result.new) == (3, 3)  # the deleted one too
    assert {x.file for x in result.companions} == {
        "System Volume Information/WPSettings.dat",
        ".Trashes/501/notes.txt",
        "DCIM/100MEDIA/Thumbs.db",
        "DCIM/100MEDIA/._IMG_0001.JPG",
        ".DS_Store",
    }


def test_a_picture_under_a_companions_name_is_still_taken(book, tmp_path: Path) -> None:
    card = made.fill(tmp_path / "CAM03", {"DCIM/100MEDIA/._IMG_0001.JPG": made.jpeg(1)})
    assert ingest(book, [card]).new == 1


def test_a_picture_is_known_by_its_content(book, tmp_path: Path) -> None:
    card = made.fill(tmp_path / "CAM03", {"DCIM/100MEDIA/IMG_0001.DAT": made.jpeg(1)})
    assert ingest(book, [card]).new == 1


def test_a_wrong_folder_is_told_and_a_map_in_it_is_no_picture(book, tmp_path: Path) -> None:
    # A TIFF with one directory of one entry: a GeoTIFF's ModelPixelScale (33550, 12 = DOUBLE).
    entry = struct.pack("<HHII", 33550, 12, 3, 200)
    ground = b"II*\x00" + struct.pack("<IH", 8, 1) + entry + bytes(400)
    root = made.fill(tmp_path / "notes", {"ground.tif": ground, "sign.csv": b"kind,lat,lon"})
    with pytest.raises(InputRefused) as refused:
        ingest(book, [root], camera="CAM03")
    assert str(refused.value) == (
        f"no trail-camera pictures in {root}: 2 files, no picture or clip; name the card's folder"
    )


def test_a_dry_run_says_the_same_and_touches_nothing(book, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 3)
    before = made.disk(book)
    planned = ingest(book, [card], dry_run=True)
    assert made.disk(book) == before and not list(book.cards.iterdir())
    done = ingest(book, [card])
    assert (planned.new, planned.cards[0].card) == (done.new, done.cards[0].card)
    assert planned.cards[0].camera == done.cards[0].camera
    assert planned.dry_run and not planned.safe_to_wipe


@pytest.mark.parametrize("wrong", ["nowhere", "book", "book/cards"])
def test_a_path_that_is_no_card_is_refused(book, tmp_path: Path, wrong: str) -> None:
    with pytest.raises((UsageError, InputRefused)) as caught:
        ingest(book, [tmp_path / wrong])
    assert "\n" not in str(caught.value)


def test_a_card_without_pictures_is_refused(book, tmp_path: Path) -> None:
    card = made.fill(tmp_path / "CAM03", {"DCIM/100MEDIA/TEXT.JPG": b"words"})
    with pytest.raises(InputRefused, match=r"TEXT.JPG: not a picture") as caught:
        ingest(book, [card])
    assert caught.value.exit_code == REFUSED
    assert not list(book.cards.iterdir())


@pytest.mark.thorough
def test_several_cards_under_one_path_each_stand_alone(book, tmp_path: Path) -> None:
    made.card(tmp_path / "dumps" / "CAM03", 2, first=0)
    made.card(tmp_path / "dumps" / "CAM07", 3, first=10)
    result = ingest(book, [tmp_path / "dumps"])
    assert [(c.camera, c.frames) for c in result.cards] == [("CAM03", 2), ("CAM07", 3)]
    assert len({c.card for c in result.cards}) == 2 and result.safe_to_wipe


def test_one_card_of_unknown_camera_does_not_hold_up_the_others(book, tmp_path: Path) -> None:
    made.card(tmp_path / "dumps" / "CAM03", 2, first=0)
    made.card(tmp_path / "dumps" / "unnamed", 3, first=10)
    result = ingest(book, [tmp_path / "dumps"])
    assert [c.camera for c in result.cards] == ["CAM03"]
    assert not result.safe_to_wipe and len(result.warnings) == 1
    assert "--camera" in result.warnings[0]


@pytest.mark.thorough
def test_progress_is_told_for_every_file(book, tmp_path: Path) -> None:
    told: list[tuple[int, int]] = []
    ingest(book, [made.card(tmp_path / "CAM03", 4)], progress=lambda *x: told.append(x))
    assert told == [(i, 4) for i in range(1, 5)]
