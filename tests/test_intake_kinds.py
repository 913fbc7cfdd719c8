"""Everything on a card: clips, PNG, HEIC, times that stand elsewhere than in the metadata."""

from __future__ import annotations

import calendar
import io
import os
import time
from datetime import datetime
from pathlib import Path

import cv2
import made_cards as made
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from camsign.cards.listing import list_cards, show_card
from camsign.derive.opening import open_logbook
from camsign.errors import InputRefused, UsageError
from camsign.flows.intake import ingest, other_times
from camsign.formats import clips, exif
from camsign.formats.kinds import Kind
from camsign.formats.notes import Notes
from camsign.logbook.folder import Folder
from camsign.pixels import see, strip_words
from camsign.pixels.decode import Undecodable
from camsign.pixels.thumbs import thumb_path


@pytest.fixture
def book(tmp_path: Path) -> Folder:
    return made.logbook(tmp_path / "book", "CAM03")


def row(book: Folder, name: str) -> dict[str, object]:
    with open_logbook(book) as session:
        found = session.con.execute("SELECT * FROM frames WHERE card_path LIKE ?", [f"%{name}"])
        columns = [d[0] for d in found.description]
        (values,) = found.fetchall()
    return dict(zip(columns, values, strict=True))


def clip(tmp_path: Path, extension: str, gray: int = 0) -> bytes:
    """A clip of 30 pictures that grow brighter, written by OpenCV."""
    path = tmp_path / f"made.{extension}"
    code = cv2.VideoWriter.fourcc(*("MJPG" if extension == "avi" else "mp4v"))
    writer = cv2.VideoWriter(str(path), code, 10, (320, 240))
    for i in range(30):
        writer.write(np.full((240, 320, 3), gray + i * 8, np.uint8))
    writer.release()
    return path.read_bytes()


def dated(movie: bytes, seconds: int) -> bytes:
    """The movie with its creation time set. ISO/IEC 14496-12, 8.2.2: version 0 has 32 bits."""
    at = movie.index(b"mvhd") + 8
    return movie[:at] + seconds.to_bytes(4, "big") + movie[at + 4 :]


@pytest.mark.thorough
@pytest.mark.parametrize("extension", ["avi", "mp4", "mov"])
def test_clips_are_kept_with_two_thumbnails(book: Folder, tmp_path: Path, extension: str) -> None:
    data = clip(tmp_path, extension)
    card = made.fill(tmp_path / "CAM03", {f"DCIM/100MEDIA/C1.{extension.upper()}": data})
    stamp = datetime(2025, 10, 2, 7, 31, 46).timestamp()
    os.utime(next(card.rglob("C1.*")), (stamp, stamp))
    assert ingest(book, [card]).safe_to_wipe
    found = row(book, f"C1.{extension.upper()}")
    assert found["kind"] == extension
    assert (found["shown"], found["shown_from"]) == ("2025-10-02T07:31:46", "file")
    assert any("own stamp" in d for d in found["doubts"])
    first, middle = (
        cv2.imread(str(thumb_path(book.thumbs, str(found["frame"]) + end))).mean()
        for end in ("", "-middle")
    )
    assert first < 12 and 100 < middle < 140  # pictures 0 and 15 of 30 that grow by 8
    with open_logbook(book) as session:
        assert session.con.execute("SELECT light FROM looks").fetchall() == [("dark",)]


@pytest.mark.thorough
@pytest.mark.parametrize("extension", ["mp4", "mov"])
def test_the_containers_time_comes_before_the_files(
    book: Folder, tmp_path: Path, extension: str
) -> None:
    # 2025-10-02T07:31:46 in seconds since 1904-01-01, counted by hand of the calendar module
    seconds = int((datetime(2025, 10, 2, 7, 31, 46) - datetime(1904, 1, 1)).total_seconds())
    data = dated(clip(tmp_path, extension), seconds)
    ingest(book, [made.fill(tmp_path / "CAM03", {f"C1.{extension}": data})])
    found = row(book, f"C1.{extension}")
    assert (found["shown"], found["shown_from"]) == ("2025-10-02T07:31:46", "container")
    assert any("container" in d for d in found["doubts"])


@pytest.mark.parametrize(
    "text", ["Thu Oct 02 07:31:46 2025\n\0", "2025:10:02 07:31:46\0", "2025-10-02 07:31:46"]
)
def test_an_avi_tells_its_time_in_words(text: str) -> None:
    chunk = b"IDIT" + len(text).to_bytes(4, "little") + text.encode()
    avi = b"RIFF\0\0\0\0AVI LIST\0\0\0\0hdrl" + chunk
    found = clips.container_time(io.BytesIO(avi), Kind.AVI, len(avi))
    assert found.shown is not None and found.shown.iso() == "2025-10-02T07:31:46"
    assert found.raw == text.strip("\0\n")


def box(kind: bytes, content: bytes) -> bytes:
    """ISO/IEC 14496-12, 4.2: size, type, content."""
    return (len(content) + 8).to_bytes(4, "big") + kind + content


def movie(*inside: bytes) -> bytes:
    return box(b"ftyp", b"qt  \0\0\0\0qt  ") + box(b"moov", b"".join(inside))


def test_a_phones_movie_states_local_time_and_offset() -> None:
    # Apple, QuickTime File Format, "Metadata": keys and ilst; the value of a real phone's clip
    key = b"com.apple.quicktime.creationdate"
    keys = box(b"keys", bytes(4) + (2).to_bytes(4, "big") + box(b"mdta", b"x") + box(b"mdta", key))
    text = b"2019-07-24T11:25:40+0300"
    item = (len(text) + 24).to_bytes(4, "big") + (2).to_bytes(4, "big")
    item += box(b"data", (1).to_bytes(4, "big") + bytes(4) + text)
    utc = int((datetime(2019, 7, 24, 8, 25, 57) - datetime(1904, 1, 1)).total_seconds())
    header = box(b"mvhd", bytes(4) + utc.to_bytes(4, "big") + bytes(92))
    data = movie(header, box(b"meta", keys + box(b"ilst", item)))
    found = clips.container_time(io.BytesIO(data), Kind.MOV, len(data))
    assert found.shown is not None and found.shown.iso() == "2019-07-24T11:25:40"
    assert found.offset_minutes == 180


@pytest.mark.parametrize(
    ("text", "lat", "lon", "height"),
    [
        ("+27.5916+086.5640+8850/", 27.5916, 86.5640, 8850.0),  # ISO 6709:2008, annex H
        ("+40.75-074.00/", 40.75, -74.0, None),
        ("+4045.25-07400.5/", 40 + 45.25 / 60, -(74 + 0.5 / 60), None),
        ("-404512-0740030.5/", -(40 + 45 / 60 + 12 / 3600), -(74 + 30.5 / 3600), None),
        ("+00.0000+000.0000/", None, None, None),  # no fix
        ("+91.0000+000.0000/", None, None, None),
        ("somewhere", None, None, None),
        ("+12.3+0456.7/", None, None, None),  # three or four digits are no way to write it
        ("+123.5+0456.7/", None, None, None),
        ("", None, None, None),
    ],
)
@pytest.mark.parametrize("by_key", [True, False])
def test_a_clip_tells_its_place(
    text: str, lat: float | None, lon: float | None, height: float | None, by_key: bool
) -> None:
    if by_key:
        key = box(b"mdta", b"com.apple.quicktime.location.ISO6709")
        item = box((1).to_bytes(4, "big"), box(b"data", bytes(8) + text.encode()))
        inside = box(b"meta", box(b"keys", bytes(8) + key) + box(b"ilst", item))
    else:
        short = len(text).to_bytes(2, "big") + b"\x15\xc7" + text.encode()
        inside = box(b"udta", box(b"\xa9xyz", short))
    data = movie(box(b"mvhd", bytes(100)), inside)
    found = clips.container_time(io.BytesIO(data), Kind.MP4, len(data))
    assert found.shown is None and found.altitude_m == height
    assert (found.lat, found.lon) == (lat and pytest.approx(lat), lon and pytest.approx(lon))


def test_a_place_box_without_content_reads_nothing() -> None:
    class Counted(io.BytesIO):
        most = 0

        def read(self, size: int | None = -1) -> bytes:
            found = super().read(size)
            self.most = max(self.most, len(found))
            return found

    for content in (b"", b"abc"):
        data = movie(box(b"mvhd", bytes(100)), box(b"udta", box(b"\xa9xyz", content)))
        clip = Counted(data + bytes(100_000))
        found = clips.container_time(clip, Kind.MP4, len(data) + 100_000)
        assert found.lat is None and clip.most < 5_000


def test_seconds_since_1970_are_known_by_a_year_before_it() -> None:
    # 2008-08-08T23:40:15 by exiftool for a clip that reads 1942-08-08 by the letter of the standard
    seconds = calendar.timegm((2008, 8, 8, 23, 40, 15))
    data = movie(box(b"mvhd", bytes(4) + seconds.to_bytes(4, "big") + bytes(92)))
    found = clips.container_time(io.BytesIO(data), Kind.MP4, len(data))
    assert found.shown is not None and found.shown.iso() == "2008-08-08T23:40:15"


@given(st.binary(max_size=200), st.sampled_from([Kind.AVI, Kind.MOV, Kind.MP4]), st.booleans())
def test_no_container_leads_astray(data: bytes, kind: Kind, moov: bool) -> None:
    if moov:
        data = (len(data) + 16).to_bytes(4, "big") + b"moov\0\0\0\x10mvhd" + data
    found = clips.container_time(io.BytesIO(data), kind, len(data))
    assert found.lat is None or -90 <= found.lat <= 90
    assert found.shown is None or found.shown.iso()


def test_an_uncommonly_large_picture_is_read_whole(
    book: Folder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module in ("one_file", "whose"):
        monkeypatch.setattr(f"camsign.flows.intake.{module}.LARGE", 1000)
    monkeypatch.setattr("camsign.flows.intake.read.PIECE", 700)
    result = ingest(book, [made.card(tmp_path / "CAM03", 2)])
    assert result.new == 2 and result.doubts == ()
    monkeypatch.setattr("camsign.flows.intake.one_file._LARGEST_PICTURE", 1000)
    with pytest.raises(InputRefused, match="MB, but no clip"):
        ingest(book, [made.card(tmp_path / "b" / "CAM03", 2, first=9)])


@pytest.mark.thorough
def test_a_small_picture_that_goes_with_a_clip_is_kept_and_dates_it(
    book: Folder, tmp_path: Path
) -> None:
    files = {
        "DCIM/100MEDIA/C1.AVI": clip(tmp_path, "avi"),
        "DCIM/100MEDIA/C1.THM": made.jpeg(1),
        "DCIM/100MEDIA/C2.THM": made.jpeg(2),  # its clip is gone: a picture like any other
    }
    result = ingest(book, [made.fill(tmp_path / "CAM03", files)])
    assert result.new == 2 and result.safe_to_wipe and result.companions == ()
    found = row(book, "C1.AVI")
    assert (found["shown"], found["shown_from"]) == ("2025-10-01T06:30:00", "THM")
    assert found["model"] == "Ridge 4"
    kept = next(book.cards.rglob("C1.THM"))
    assert kept.read_bytes() == files["DCIM/100MEDIA/C1.THM"]
    sums = (kept.parents[3] / "SHA256SUMS").read_text(encoding="utf-8")
    assert "C1.THM" in sums
    again = ingest(book, [tmp_path / "CAM03"])
    assert (again.new, again.safe_to_wipe) == (0, True)
    assert len(list(book.cards.rglob("C1.THM"))) == 1
    with open_logbook(book) as session:
        assert session.con.execute("SELECT beside FROM besides").fetchall() == [
            ("DCIM/100MEDIA/C1.AVI",)
        ]
        (card,) = list_cards(session)
        where = {f.card_path: f.file for f in show_card(session, card.card).files}
        assert str(where["DCIM/100MEDIA/C1.THM"]).endswith("C1.THM")


@pytest.mark.thorough
def test_a_clip_that_cannot_be_decoded_is_kept_with_a_doubt(book: Folder, tmp_path: Path) -> None:
    data = b"\0\0\0\x18ftypmp42\0\0\0\0mp42isom" + bytes(range(256)) * 20
    result = ingest(book, [made.fill(tmp_path / "CAM03", {"C1.MP4": data})])
    assert result.new == 1 and any("cannot be decoded" in d.why for d in result.doubts)


def png(size: tuple[int, int] = (80, 60)) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, (40, 90, 30)).save(out, "PNG")
    return out.getvalue()


@pytest.mark.thorough
def test_a_png_comes_in(book: Folder, tmp_path: Path) -> None:
    ingest(book, [made.fill(tmp_path / "CAM03", {"SHOT_20251002_073146.png": png()})])
    found = row(book, ".png")
    assert (found["kind"], found["width"], found["height"]) == ("png", 80, 60)
    assert (found["shown"], found["shown_from"]) == ("2025-10-02T07:31:46", "name")
    assert thumb_path(book.thumbs, str(found["frame"])).exists()


@pytest.mark.thorough
def test_a_heic_comes_in_and_is_seen_where_its_package_is(book: Folder, tmp_path: Path) -> None:
    heif = pytest.importorskip("pillow_heif")
    out = io.BytesIO()
    heif.from_pillow(Image.new("RGB", (200, 100), (200, 30, 30))).save(out, format="HEIF")
    ingest(book, [made.fill(tmp_path / "CAM03", {"IMG_20251002_073146.HEIC": out.getvalue()})])
    found = row(book, ".HEIC")
    assert (found["kind"], found["shown_from"]) == ("heic", "name")
    seen = cv2.imread(str(thumb_path(book.thumbs, str(found["frame"])))).mean(axis=(0, 1))
    assert seen[2] > 150 > 80 > seen[0]  # red, as it was drawn


@pytest.mark.thorough
def test_a_heic_is_seen_by_the_small_picture_in_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    heif = pytest.importorskip("pillow_heif")
    out = io.BytesIO()
    picture = heif.from_pillow(Image.new("RGB", (1200, 900), (200, 30, 30)))
    picture.save(out, format="HEIF", thumbnails=[400])
    monkeypatch.setattr(heif.HeifImage, "to_pillow", None)  # so that the large one cannot be opened
    found = see.pictures(Kind.HEIC, out.getvalue(), tmp_path)
    assert not isinstance(found, Undecodable)
    assert (found[0].width, found[0].height, found[0].pixels.shape) == (1200, 900, (300, 400, 3))


def test_a_heic_is_kept_without_its_package(
    book: Folder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("camsign.pixels.see.find_spec", lambda name: None)
    data = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(500)
    result = ingest(book, [made.fill(tmp_path / "CAM03", {"A.HEIC": data})])
    assert result.new == 1 and result.safe_to_wipe
    assert any("not looked at: 1;" in w and "camsign[heic]" in w for w in result.warnings)


@pytest.mark.parametrize(
    ("name", "iso"),
    [
        ("IMG_20240918_063012.jpg", "2024-09-18T06:30:12"),
        ("2024-09-18 06.30.12.jpg", "2024-09-18T06:30:12"),
        ("CAM3-20240918063012-4.jpg", "2024-09-18T06:30:12"),
        ("Photo 2024-09-18 at 06.30.12.jpg", "2024-09-18T06:30:12"),
        ("2024-09-18T06:30:12.jpg", "2024-09-18T06:30:12"),
        # as messengers and phones save them: hour and half of the day, some with U+202F between
        ("WhatsApp Image 2023-11-04 at 11.31.46 PM.jpeg", "2023-11-04T23:31:46"),
        ("WhatsApp Image 2023-11-04 at 12.05.10 AM.jpeg", "2023-11-04T00:05:10"),
        ("WhatsApp Image 2023-11-04 at 12.05.10 PM.jpeg", "2023-11-04T12:05:10"),
        ("Screenshot 2023-11-04 at 7.31.46\u202fPM.png", "2023-11-04T19:31:46"),
        ("2023-11-04 7.31.46 a.m..png", "2023-11-04T07:31:46"),
        ("2023-11-04 19.31.46 PM.png", "2023-11-04T19:31:46"),
        ("2023-11-04 19.31.46 AM.png", None),
        ("2023-11-04 0.31.46 PM.png", None),
        ("2023-11-04 7.31.jpg", "2023-11-04T07:31:00"),
        ("CAM3 2023-11-04 07h31.jpg", "2023-11-04T07:31:00"),
        ("Nov 4 2023 7.31.46 PM.jpg", "2023-11-04T19:31:46"),
        ("Nov 4, 2023, 7.31 PM.jpg", "2023-11-04T19:31:00"),
        ("04 November 2023 07-31-46.jpg", "2023-11-04T07:31:46"),
        ("PXL_20231104_233146123.jpg", "2023-11-04T23:31:46"),
        ("1699140706123.jpg", "2023-11-04T23:31:46"),  # date -u -d @1699140706
        ("04-11-2023 07.31.46.jpg", None),
        ("231104073146.jpg", None),
        ("20231104_0731.jpg", None),
        ("IMG_0918.jpg", None),
        ("20241332_063012.jpg", None),
        ("20240918_253012.jpg", None),
        ("1234520240918063012.jpg", None),
        ("20240918.jpg", None),
    ],
)
def test_times_in_file_names(name: str, iso: str | None) -> None:
    shown, _ = other_times.from_name(name, other_times.compiled())
    assert (shown.iso() if shown else None) == iso


@pytest.mark.thorough
def test_a_pattern_of_ones_own(book: Folder, tmp_path: Path) -> None:
    path = book.root / "logbook.toml"
    own = r"(?P<month>\d\d)(?P<day>\d\d)(?P<year>\d{4})-(?P<hour>\d\d)(?P<minute>\d\d)"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("[pictures]", f"[pictures]\ntime_in_name = ['{own}']"))
    files = {"10022025-0731.jpg": made.jpeg(1, b"")}
    ingest(Folder(book.root), [made.fill(tmp_path / "CAM03", files)])
    assert row(book, ".jpg")["shown"] == "2025-10-02T07:31:00"


def test_a_name_in_utc_is_written_down_in_the_logbooks_zone(book: Folder, tmp_path: Path) -> None:
    files = {"PXL_20231104_233146123.jpg": made.jpeg(1, b"")}
    ingest(book, [made.fill(tmp_path / "CAM03", files)])
    found = row(book, ".jpg")  # New York, a day before its summer time ends: UTC-4
    assert (found["shown"], found["offset_minutes"]) == ("2023-11-04T19:31:46", -240)


@pytest.mark.parametrize(
    "pattern",
    [
        "(?P<year>",
        r"(?P<year>\d{4})",
        r"(\d+)+(?P<year>\d{4})(?P<month>1)(?P<day>1)(?P<hour>1)(?P<minute>1)",
    ],
)
def test_a_pattern_that_does_not_fit_is_named(pattern: str) -> None:
    with pytest.raises(UsageError, match="time_in_name"):
        other_times.compiled([pattern])


@pytest.mark.thorough
def test_a_name_never_overrules_the_cameras_clock(book: Folder, tmp_path: Path) -> None:
    files = {"IMG_20240918_063012.jpg": made.jpeg(1)}
    ingest(book, [made.fill(tmp_path / "CAM03", files)])
    assert row(book, ".jpg")["shown_from"] == "DateTimeOriginal"


def test_the_cameras_own_notes_are_read_where_exiftool_is(
    book: Folder, tmp_path: Path, samples: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # exiftool 12.57 reads DateTimeOriginal 2020:03:16 10:00:00 from this camera's notes, which for
    # this test are as strange to camsign as those of other makers
    monkeypatch.setattr(exif, "read_notes", lambda note: Notes())
    monkeypatch.setattr(strip_words, "find_spec", lambda name: None)  # its strip says it too
    if other_times.exiftool() is None:
        pytest.skip("exiftool is not installed")
    data = (samples / "exif/exif-samples/trail-1.jpg").read_bytes()
    result = ingest(book, [made.fill(tmp_path / "CAM03", {"T.JPG": data})])
    assert result.notes == ("exiftool read the time of 1 picture from notes",)
    found = row(book, "T.JPG")
    assert (found["shown"], found["shown_from"]) == ("2020-03-16T10:00:00", "notes")


def test_without_exiftool_the_summary_says_what_would_help(
    book: Folder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(other_times.shutil, "which", lambda name: None)
    data = made.jpeg(1, made.exif(None))
    result = ingest(book, [made.fill(tmp_path / "CAM03", {"T.JPG": data})])
    assert result.new == 1 and "install exiftool" in result.warnings[0]


@pytest.mark.parametrize("name", ["08-11-25 11-52-00 AM.jpg", "CREEK 08-11-2025 115200.jpg"])
def test_a_name_whose_day_and_month_look_alike_says_so(
    book: Folder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.setattr(other_times.shutil, "which", lambda program: None)
    monkeypatch.setattr(strip_words, "find_spec", lambda module: None)
    result = ingest(book, [made.fill(tmp_path / "CAM03", {name: made.jpeg(1, b"")})])
    (line,) = [w for w in result.warnings if "no time we can read" in w]
    assert f"{name} holds a date" in line and "time_in_name" in line and "exiftool" not in line


def test_without_exif_the_summary_asks_for_no_exiftool(
    book: Folder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(other_times.shutil, "which", lambda program: None)
    result = ingest(book, [made.fill(tmp_path / "CAM03", {"T.JPG": made.jpeg(1, b"")})])
    (line,) = [w for w in result.warnings if "no time we can read: 1" in w]
    assert "exiftool" not in line


def test_a_year_of_two_digits_in_ones_own_pattern() -> None:
    own = r"(?P<month>\d\d)-(?P<day>\d\d)-(?P<year>\d\d) (?P<hour>\d\d)-(?P<minute>\d\d)"
    shown, _ = other_times.from_name("08-11-25 11-52-00 AM.jpg", other_times.compiled([own]))
    assert shown is not None and shown.iso() == "2025-08-11T11:52:00"


@pytest.mark.parametrize("tz", ["UTC", "America/New_York", "Asia/Kolkata"])
def test_a_fat_stamp_is_shown_as_the_camera_wrote_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, tz: str
) -> None:
    # FAT directory entry, date 0x5969, time 0x3BF7: 2024-11-09 07:31:46, in steps of 2 s
    from camsign.flows.intake.read import stamp

    date, clock = 0x5969, 0x3BF7
    day = (1980 + (date >> 9), date >> 5 & 15, date & 31)
    instant = datetime(*day, clock >> 11, clock >> 5 & 63, (clock & 31) * 2)
    if not hasattr(time, "tzset"):
        pytest.skip("the system's zone cannot be changed here")
    monkeypatch.setenv("TZ", tz)
    time.tzset()
    try:
        # systems make an instant of a FAT stamp by their own zone
        assert stamp(instant.timestamp()) == "2024-11-09T07:31:46"
    finally:
        monkeypatch.undo()
        time.tzset()


@pytest.mark.parametrize("written", ["exif", "jpeg"])
def test_a_comment_dates_a_picture_that_no_other_word_does(
    book: Folder, tmp_path: Path, written: str
) -> None:
    words = b"10/01/2025 07:31 PM 41F"
    picture = made.jpeg(1, made.exif(None, comment=words if written == "exif" else b""))
    if written == "jpeg":  # ISO/IEC 10918-1, B.2.4.5: the comment segment
        picture = b"\xff\xd8\xff\xfe" + (len(words) + 2).to_bytes(2, "big") + words + picture[2:]
    files = {"IMG_20240101_000000.JPG": picture, "B.JPG": made.jpeg(2, made.exif(comment=words))}
    ingest(book, [made.fill(tmp_path / "CAM03", files)])
    with open_logbook(book) as session:
        sql = "SELECT time_from, shown, weak FROM frame_times JOIN frames USING (frame) ORDER BY 2"
        assert session.con.execute(sql).fetchall() == [
            ("camera", "2025-10-01T06:30:00", None),
            ("comment", "2025-10-01T19:31:00", "its time is only in its comment"),
        ]
