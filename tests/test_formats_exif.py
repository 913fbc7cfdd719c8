"""EXIF facts: against exiftool's reading of the samples, and against what Pillow wrote."""

from __future__ import annotations

import csv
import io
import time
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from camsign.formats.exif import PictureFacts, read_exif
from camsign.formats.shown import ShownTime, read_offset, read_shown

# Exif IFD, GPS IFD: tag numbers of CIPA DC-008.
EXIF, GPS = 0x8769, 0x8825
MAKE, MODEL, SOFTWARE, DATETIME, ARTIST, DESCRIPTION = 0x10F, 0x110, 0x131, 0x132, 0x13B, 0x10E
ORIGINAL, DIGITIZED, OFFSET, OFFSET_ORIGINAL = 0x9003, 0x9004, 0x9010, 0x9011
SUBSEC, SUBSEC_ORIGINAL, COMMENT, OWNER, SERIAL = 0x9290, 0x9291, 0x9286, 0xA430, 0xA431


def picture(
    image: dict[int, Any] | None = None,
    exif: dict[int, Any] | None = None,
    gps: dict[int, Any] | None = None,
    kind: str = "JPEG",
) -> bytes:
    """A small picture whose metadata Pillow wrote."""
    tags = Image.Exif()
    tags.update(image or {})
    tags.get_ifd(EXIF).update(exif or {})
    tags.get_ifd(GPS).update(gps or {})
    stream = io.BytesIO()
    Image.new("RGB", (16, 12), (90, 120, 60)).save(stream, format=kind, exif=tags)
    return stream.getvalue()


def angle(degrees: int, minutes: int, hundredths: int) -> tuple[IFDRational, ...]:
    return (IFDRational(degrees), IFDRational(minutes), IFDRational(hundredths, 100))


FULL = {
    "image": {
        MAKE: "Harrow",
        MODEL: "Lookout 2",
        SOFTWARE: "v1.07",
        DATETIME: "2024:11:10 08:00:00",
        ARTIST: "Ina",
        DESCRIPTION: "CAM07",
        0x112: 6,
    },
    "exif": {
        ORIGINAL: "2024:11:09 07:31:46",
        DIGITIZED: "2024:11:09 07:31:47",
        SUBSEC_ORIGINAL: "25",
        SUBSEC: "99",
        OFFSET_ORIGINAL: "-05:00",
        OFFSET: "-04:00",
        OWNER: "North ridge",
        SERIAL: "004711",
        COMMENT: b"ASCII\x00\x00\x00TEMP 34F MOON 2",
        0xA002: 4000,
        0xA003: 3000,
    },
    "gps": {
        1: "S",
        2: angle(43, 28, 281),
        3: "W",
        4: angle(71, 53, 645),
        5: b"\x01",
        6: IFDRational(25, 2),
        7: angle(12, 31, 4650),
        16: "M",
        17: IFDRational(29139, 100),
        29: "2024:11:09",
    },
}


def _as_heic(data: bytes) -> bytes:
    """A HEIC's first box and its Exif item: a four-byte offset before the mark (ISO 23008-12)."""
    item = b"\x00\x00\x00\x06Exif\x00\x00" + _as_tiff(data)
    return b"\x00\x00\x00\x18ftypheic" + bytes(4) + b"mif1heic" + bytes(300) + item


def _as_tiff(data: bytes) -> bytes:
    """The metadata alone, which is a TIFF without pixels."""
    return data[data.index(b"Exif\x00\x00") + 6 :]


@pytest.mark.parametrize(
    "data",
    [
        picture(**FULL),
        picture(**FULL, kind="PNG"),
        _as_tiff(picture(**FULL)),
        _as_heic(picture(**FULL)),
    ],
    ids=["jpeg", "png", "tiff", "heic"],
)
def test_every_field_that_pillow_wrote_comes_back(data: bytes) -> None:
    facts = read_exif(data)
    assert facts.shown == ShownTime(2024, 11, 9, 7, 31, 46, 0.25)
    assert (facts.shown_from, facts.shown_raw) == ("DateTimeOriginal", "2024:11:09 07:31:46")
    assert facts.offset_minutes == -300
    assert (facts.make, facts.model, facts.software) == ("Harrow", "Lookout 2", "v1.07")
    assert (facts.serial, facts.owner, facts.description) == ("004711", "North ridge", "CAM07")
    assert facts.comment == "TEMP 34F MOON 2"
    assert (facts.orientation, facts.width, facts.height) == (6, 4000, 3000)
    assert facts.lat == pytest.approx(-(43 + 28 / 60 + 2.81 / 3600))
    assert facts.lon == pytest.approx(-(71 + 53 / 60 + 6.45 / 3600))
    assert facts.altitude_m == -12.5
    assert (facts.img_direction_deg, facts.img_direction_ref) == (291.39, "magnetic")
    assert facts.gps_utc == "2024-11-09T12:31:46.5Z"
    assert facts.doubts == ()


def test_text_is_read_as_pillow_reads_it() -> None:
    data = picture(**FULL)
    tags = Image.open(io.BytesIO(data)).getexif()
    facts = read_exif(data)
    assert facts.make == tags[MAKE]
    assert facts.serial == tags.get_ifd(EXIF)[SERIAL]
    assert facts.shown_raw == tags.get_ifd(EXIF)[ORIGINAL]
    assert facts.altitude_m == -float(tags.get_ifd(GPS)[6])


def test_the_first_time_that_can_be_read_is_taken_and_the_others_doubted() -> None:
    later = picture({DATETIME: "2024:11:10 08:00:00"}, {DIGITIZED: "2024:11:09 07:31:47"})
    assert read_exif(later).shown_from == "DateTimeDigitized"
    last = read_exif(
        picture({DATETIME: "2024:11:10 08:00:00"}, {ORIGINAL: "0000:00:00 00:00:00", SUBSEC: "5"})
    )
    assert last.shown == ShownTime(2024, 11, 10, 8, 0, 0, 0.5)
    assert last.shown_from == "DateTime"
    assert last.doubts == ("DateTimeOriginal: its time is blank or zero: the clock was not set",)
    none = read_exif(picture({DATETIME: "soon"}))
    assert (none.shown, none.shown_from, none.shown_raw) == (None, "", "soon")
    assert none.doubts


def test_an_offset_belongs_to_the_time_it_stands_by() -> None:
    base = {ORIGINAL: "2024:11:09 07:31:46"}
    assert read_exif(picture(exif={**base, OFFSET: "+01:00"})).offset_minutes == 60
    assert read_exif(picture(exif={**base, OFFSET_ORIGINAL: "   :  "})).offset_minutes is None
    suffixed = read_exif(picture(exif={ORIGINAL: "2024:11:09 07:31:46+02:00"}))
    assert suffixed.offset_minutes == 120
    assert suffixed.doubts


# Character codes of UserComment: CIPA DC-008, 4.6.5. Writers disagree on UNICODE's byte order.
@pytest.mark.parametrize(
    ("raw", "text"),
    [
        (b"ASCII\x00\x00\x00CAM07  12:30\x00\x00", "CAM07 12:30"),
        (b"UNICODE\x00" + "Höhe 7°".encode("utf-16-le"), "Höhe 7°"),
        (b"UNICODE\x00" + "Höhe 7°".encode("utf-16-be"), "Höhe 7°"),
        (b"UNICODE\x00" + "Höhe".encode("utf-16"), "Höhe"),
        (b"JIS\x00\x00\x00\x00\x00" + "鹿".encode("iso2022_jp"), "鹿"),
        (bytes(8) + "Höhe".encode("latin-1"), "Höhe"),
        (b"no code at all", "no code at all"),
        (bytes(64), ""),
        (b"ASCII\x00\x00\x00" + b"x" * 3000, "x" * 3000),
        (b"x", "x"),
    ],
)
def test_comments_are_decoded_by_their_code(raw: bytes, text: str) -> None:
    assert read_exif(picture(exif={COMMENT: raw})).comment == text


@pytest.mark.parametrize(
    ("gps", "doubt"),
    [
        ({1: "N", 2: angle(0, 0, 0), 3: "E", 4: angle(0, 0, 0)}, "no fix"),
        ({1: "N", 2: angle(95, 0, 0), 3: "E", 4: angle(10, 0, 0)}, "cannot be read"),
        ({2: angle(45, 0, 0), 4: angle(10, 0, 0)}, "cannot be read"),
        ({1: "N", 2: (IFDRational(0, 0),) * 3, 3: "E", 4: angle(10, 0, 0)}, "cannot be read"),
    ],
)
def test_a_position_that_is_none_is_left_out_with_its_reason(
    gps: dict[int, Any], doubt: str
) -> None:
    facts = read_exif(picture(gps=gps))
    assert (facts.lat, facts.lon) == (None, None)
    assert doubt in " ".join(facts.doubts)


def test_a_stale_position_is_kept_and_doubted() -> None:
    facts = read_exif(picture(gps={**FULL["gps"], 9: "V"}))
    assert facts.lat is not None
    assert "not fresh" in " ".join(facts.doubts)


def test_a_serial_number_of_control_characters_names_no_camera() -> None:
    facts = read_exif(picture(exif={SERIAL: "\x10\x15`"}))
    assert facts.serial == ""
    assert "unreadable" in " ".join(facts.doubts)


def test_only_what_stands_before_a_jpegs_pixels_is_searched_for_notes() -> None:
    """A picture that a camera appends has a head of its own; pixels say anything by chance."""
    packet = b'<x aux:SerialNumber="1234567" exif:DateTimeOriginal="2024-11-09T07:31:46"/>'
    data = picture()
    head = data[:2] + b"\xff\xe1" + (len(packet) + 2).to_bytes(2, "big") + packet + data[2:]
    assert read_exif(head).serial == "1234567"
    assert read_exif(head).shown == ShownTime(2024, 11, 9, 7, 31, 46)
    assert read_exif(data + packet).serial == ""
    assert read_exif(data + packet).shown is None


def test_a_broken_thumbnail_directory_does_not_cost_the_time() -> None:
    """Its pointer leads back into the main directory, as in some real files."""
    data = bytearray(picture(exif={ORIGINAL: "2024:11:09 07:31:46"}))
    tiff = data.index(b"Exif\x00\x00") + 6
    order: Any = "little" if data[tiff : tiff + 2] == b"II" else "big"
    first = int.from_bytes(data[tiff + 4 : tiff + 8], order)
    count = int.from_bytes(data[tiff + first : tiff + first + 2], order)
    link = tiff + first + 2 + 12 * count
    data[link : link + 4] = (first + 2).to_bytes(4, order)
    assert read_exif(bytes(data)).shown == ShownTime(2024, 11, 9, 7, 31, 46)


@pytest.mark.parametrize(
    "data",
    [b"", b"\xff\xd8\xff\xd9", b"text", picture()[:30], b"\xff\xd8\xff\xe1\x00\x10Exif\x00\x00"],
)
def test_no_metadata_is_a_doubt_and_no_error(data: bytes) -> None:
    facts = read_exif(data)
    assert facts.shown is None
    assert facts.doubts


def test_a_hostile_directory_is_left_in_time() -> None:
    """5,000 entries of 999 values each would take exifread seconds."""
    entry = b"\x01\x0f\x00\x05\x00\x00\x03\xe7\x00\x00\x00\x08"
    tiff = b"MM\x00*\x00\x00\x00\x08" + (5000).to_bytes(2, "big") + entry * 5000 + bytes(4)
    data = b"\xff\xd8\xff\xe1" + (len(tiff) + 8).to_bytes(2, "big") + b"Exif\x00\x00" + tiff
    start = time.process_time()
    facts = read_exif(data)
    assert time.process_time() - start < 1
    assert "circles" in facts.doubts[0]


# Where camsign and the manifest differ, and why. All else must agree, file by file.
KNOWN = {
    # The manifest leaves out the names of makers of trail cameras; the file holds them.
    ("mei/trail-2.jpg", "make"),
    ("mei/trail-2.jpg", "model"),
    # No offset tag: camsign takes the one at the end of the time's own text, and doubts it.
    ("derived_dates/tz_suffix.jpg", "offset"),
    # The field holds five bytes of control characters: no serial number, and doubted as such.
    ("piexif/r_casio.jpg", "body_serial"),
    # The manifest's columns are of Exif's own directory; these stand in the first directory, in XMP
    # and in a trail camera's own notes (the manifest's mn_dto and mn_serial).
    ("pillow/broken_exif_dpi.jpg", "body_serial"),
    ("exifr/broken1.jpg", "body_serial"),
    ("exifr/iptc-agency-photographer-example.jpg", "body_serial"),
    ("mei/trail-2.jpg", "body_serial"),
    ("exif-samples/trail-1.jpg", "body_serial"),
    ("exif-samples/trail-1.jpg", "time"),
}


def _numbers_agree(want: str, got: float | None) -> bool:
    if want == "" or got is None:
        return want == "" and got is None
    return float(want) == pytest.approx(got, abs=1e-9)


def _differences(row: dict[str, str], facts: PictureFacts) -> set[str]:
    taken = [read_shown(row[key]).shown for key in ("dto", "create", "modify")]
    want = next((shown for shown in taken if shown), None)
    got = facts.shown
    stamp = f"{row['gps_date'].replace(':', '-')}T{row['gps_time']}Z"
    same = {
        "time": (got and got.iso()[:19]) == (want and want.iso()[:19]),
        "subsec": (float(f"0.{row['subsec']}") if row["subsec"] else None)
        == (got and got.fraction_s),
        "offset": read_offset(row["offset"]) == facts.offset_minutes,
        "make": row["make"] == facts.make,
        "model": row["model"] == facts.model,
        "body_serial": row["body_serial"] == facts.serial,
        "orientation": int(row["orientation"] or 1) == facts.orientation,
        "lat": _numbers_agree(row["lat"], facts.lat),
        "lon": _numbers_agree(row["lon"], facts.lon),
        "alt": _numbers_agree(row["alt"], facts.altitude_m),
        "img_dir": _numbers_agree(row["img_dir"], facts.img_direction_deg),
        "img_dir_ref": row["img_dir_ref"] == facts.img_direction_ref[:1].upper(),
        "gps_utc": facts.gps_utc == (stamp if row["gps_date"] and row["gps_time"] else ""),
    }
    return {name for name, agrees in same.items() if not agrees}


def test_every_sample_agrees_with_exiftool(samples: Path) -> None:
    """The manifest was read with exiftool 12.57; times by what both texts mean to read_shown."""
    with (samples / "exif" / "MANIFEST.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) > 150
    found, times, places = set(), 0, 0
    for row in rows:
        facts = read_exif((samples / "exif" / row["path"]).read_bytes())
        beside = {"time", "offset"} if facts.shown_from in ("XMP", "IPTC") else set()
        found |= {(row["path"], name) for name in _differences(row, facts) if name not in beside}
        assert facts.shown or facts.doubts, row["path"]
        times += facts.shown is not None
        places += facts.lat is not None
    assert found == KNOWN
    assert times > 70
    assert places > 10


def test_a_clock_that_is_a_day_off_keeps_both_its_times(samples: Path) -> None:
    """The samples' README: these pictures' camera clock is a day away from their GPS time."""
    facts = read_exif((samples / "exif/exif-samples/DSCN0010.jpg").read_bytes())
    assert facts.shown == ShownTime(2008, 10, 22, 16, 28, 39)
    assert facts.gps_utc == "2008-10-23T14:27:07.24Z"


def test_a_trail_camera_without_exif_time_tells_it_in_its_notes(samples: Path) -> None:
    """The samples' README: its time is only in the maker's notes and the burned-in strip."""
    facts = read_exif((samples / "exif/exif-samples/trail-1.jpg").read_bytes())
    assert facts.shown is not None and facts.shown.iso() == "2020-03-16T10:00:00"
    assert facts.shown_from == "notes" and facts.serial == "H500EE06130468"  # exiftool 12.57
    assert "its time is only in the camera's own notes" in facts.doubts


def test_a_trail_cameras_picture_is_read_within_two_milliseconds(samples: Path) -> None:
    data = (samples / "exif/mei/trail-2.jpg").read_bytes()
    assert min(_timed(data) for _ in range(20)) < 0.002


def _timed(data: bytes) -> float:
    start = time.process_time()
    read_exif(data)
    return time.process_time() - start


WHOLE = picture(**FULL)


@pytest.mark.thorough
@settings(max_examples=200, deadline=2000)
@given(st.data())
def test_damaged_metadata_gives_facts_and_nothing_else(data: st.DataObject) -> None:
    broken = bytearray(WHOLE)
    for _ in range(data.draw(st.integers(1, 12))):
        broken[data.draw(st.integers(2, len(broken) - 1))] = data.draw(st.integers(0, 255))
    del broken[data.draw(st.integers(0, len(broken))) :]
    facts = read_exif(bytes(broken))
    assert isinstance(facts, PictureFacts)
    assert facts.shown is not None or facts.doubts
    assert facts.lat is None or (abs(facts.lat) <= 90 and abs(facts.lon or 0) <= 180)
    assert 1 <= facts.orientation <= 8
