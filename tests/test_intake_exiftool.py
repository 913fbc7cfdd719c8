"""Field by field against exiftool (by Phil Harvey): other people's pictures, and clips made here.

Every difference that is known stands with its reason in exiftool_differences.csv; a new one fails.
What exiftool reports is asked for when the test runs, so a newer exiftool may bring new ones.
"""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import subprocess
from collections.abc import Iterable
from datetime import datetime
from fnmatch import fnmatch
from pathlib import Path
from typing import Any

import made_cards as made
import pytest
from test_formats_notes import LAYOUTS, note

from camsign.flows.intake.card_files import CardFile
from camsign.flows.intake.other_times import OtherTimes, compiled
from camsign.flows.intake.read import describe
from camsign.logbook.records import FrameFacts

LISTED = Path(__file__).with_name("exiftool_differences.csv")
ENDINGS = {".jpg", ".jpeg", ".png", ".tif", ".heif", ".heic", ".webp", ".avif"}
ELSEWHERE = {"name", "file", "comment"}

# Which of exiftool's tags (by its group 1) a field is compared with: the first that says anything.
TAGS = {
    "make": ("IFD0:Make",),
    "model": ("IFD0:Model",),
    "software": ("IFD0:Software",),
    "description": ("IFD0:ImageDescription",),
    "owner": ("ExifIFD:OwnerName", "IFD0:Artist"),
    "orientation": ("IFD0:Orientation",),
    "altitude": ("Composite:GPSAltitude", "GPS:GPSAltitude"),
    "direction": ("GPS:GPSImgDirection",),
    "comment": ("ExifIFD:UserComment", "IFD0:XPComment", "Reconyx:UserLabel", "File:Comment"),
    "lat": ("Composite:GPSLatitude",),
    "lon": ("Composite:GPSLongitude",),
}
SERIALS = ("ExifIFD:SerialNumber", "IFD0:SerialNumber", "XMP-aux:SerialNumber")
MAKERS = ("Reconyx", "Canon", "Nikon", "Olympus", "Panasonic", "Pentax", "Ricoh", "Sigma", "Sony")
TAKEN = ("ExifIFD:DateTimeOriginal", "ExifIFD:CreateDate", "IFD0:DateTimeOriginal")
KEPT = ("XMP-exif:DateTimeOriginal", "XMP-photoshop:DateCreated", "Composite:DateTimeCreated")
SAVED = ("Reconyx:DateTimeOriginal", "IFD0:ModifyDate", "XMP-exif:DateTime", "PNG:ModifyDate")
DATES = ("Keys:CreationDate", "RIFF:DateTimeOriginal", "QuickTime:CreateDate")
SUBSEC = {"DateTimeOriginal": "Original", "CreateDate": "Digitized", "ModifyDate": ""}


def theirs(facts: dict[str, Any]) -> dict[str, str]:
    """What exiftool says of a picture, field by field; "" where it says nothing."""
    found = {name: first(facts, tags) for name, tags in TAGS.items()}
    found["orientation"] = found["orientation"] or "1"
    notes = [
        f"{maker}:{tag}" for maker in MAKERS for tag in ("SerialNumber", "InternalSerialNumber")
    ]
    found["serial"] = first(facts, [*SERIALS, *notes])
    for tag in (*TAKEN, *KEPT, *SAVED):
        time, offset = moment(str(facts.get(tag, "")))
        if time:
            suffix = (
                SUBSEC.get(tag.split(":")[1], "")
                if tag.split(":")[0] in ("ExifIFD", "IFD0")
                else "-"
            )
            stated = str(facts.get(f"ExifIFD:OffsetTime{suffix}", "")).strip()
            fraction = str(facts.get(f"ExifIFD:SubSecTime{suffix}", "")).strip()
            return found | {"time": time, "offset": stated or offset, "subsec": fraction}
    return found | {"time": "", "offset": "", "subsec": ""}


def first(facts: dict[str, Any], tags: Iterable[str]) -> str:
    values = (str(facts[tag]).strip() for tag in tags if tag in facts)
    return next((value for value in values if value), "")


def moment(text: str) -> tuple[str, str]:
    """A time as exiftool prints it, and its offset; both "" for what is no time.

    It gives the text as it stands, so other marks than the standard's are no difference.
    """
    match = re.match(
        r"(\d{4})[:/-](\d\d)[:/-](\d\d)[ T](\d\d):(\d\d):(\d\d)(?:\.\d+)?([+-]\d\d:\d\d|Z)?$", text
    )
    if match is None:
        return "", ""
    try:
        time = datetime(*(int(part) for part in match.groups()[:6]))
    except ValueError:
        return "", ""
    return time.isoformat(), match[7] or ""


def ours(row: FrameFacts) -> dict[str, str]:
    """What camsign says of it, written the same way."""
    said = (row.shown_from not in ELSEWHERE and row.shown) or ""
    return {
        "time": said[:19],
        "subsec": said[20:],
        "offset": stated(row.offset_minutes) if said else "",
        "make": row.make or "",
        "model": row.model or "",
        "software": row.software or "",
        "description": row.description or "",
        "owner": row.owner or "",
        "serial": row.serial or "",
        "orientation": str(row.orientation or 1),
        "lat": number(row.lat),
        "lon": number(row.lon),
        "altitude": number(row.altitude_m),
        "direction": number(row.img_direction_deg),
        "comment": row.comment or "",
    }


def number(value: float | None) -> str:
    return "" if value is None else repr(value)


def stated(minutes: int | None) -> str:
    if minutes is None:
        return ""
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def same(name: str, a: str, b: str) -> bool:
    if name in ("lat", "lon", "altitude", "direction") and a and b:
        return abs(float(a) - float(b)) < (1e-7 if name in ("lat", "lon") else 1e-3)
    if name == "subsec":
        return float(f"0.{a or 0}") == float(f"0.{b or 0}")
    return plain(a) == plain(b)


def plain(text: str) -> str:
    """One line of what can be printed: exiftool keeps what a terminal would obey."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def read(path: Path) -> FrameFacts | str:
    data = path.read_bytes()
    times = OtherTimes(compiled(), "America/New_York", datetime(2026, 11, 1).date())
    file = CardFile(str(path), path.name, len(data), path.stat().st_mtime)
    row = describe(data, file, "0" * 64, times.today)
    if isinstance(row, str) or row.shown:
        return row
    return times.fill(row, io.BytesIO(data))


def asked(paths: Iterable[Path]) -> dict[Path, dict[str, Any]]:
    program = shutil.which("exiftool")
    if program is None:
        pytest.skip("exiftool is not installed")
    words = [program, "-j", "-n", "-G1", "-m", "-q", "-charset", "filename=utf8", "-@", "-"]
    done = subprocess.run(words, input="\n".join(map(str, paths)).encode(), capture_output=True)
    return {
        Path(answer["SourceFile"]): answer for answer in json.loads(done.stdout, parse_float=str)
    }


def differences(root: Path) -> tuple[list[tuple[str, str, str, str]], int]:
    """Every field that differs (path, field, exiftool, camsign), and how many were compared."""
    paths = sorted(p for p in root.rglob("*") if p.suffix.lower() in ENDINGS)
    found, compared = [], 0
    for path, facts in asked(paths).items():
        row = read(path)
        if isinstance(row, str):
            continue
        want, got = theirs(facts), ours(row)
        compared += len(got)
        name = path.relative_to(root).as_posix()
        found += [(name, f, want[f], got[f]) for f in got if not same(f, want[f], got[f])]
    return found, compared


def listed() -> list[dict[str, str]]:
    with LISTED.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def is_listed(path: str, field: str, got: str, rows: Iterable[dict[str, str]]) -> bool:
    known = (r for r in rows if r["field"] == field and r["camsign"] == plain(got))
    return any(fnmatch(path, row["path"]) for row in known)


@pytest.mark.thorough
def test_every_difference_from_exiftool_is_listed_and_explained(samples: Path) -> None:
    found, compared = differences(samples)
    rows = listed()
    new = [d for d in found if not is_listed(d[0], d[1], d[3], rows)]
    assert compared > 3000 and not new
    gone = [r for r in rows if not any(is_listed(p, f, got, [r]) for p, f, _, got in found)]
    assert not gone, "no longer a difference: take it off the list"
    assert all(len(row["why"]) > 20 for row in rows)


@pytest.mark.parametrize("begins", LAYOUTS)
def test_a_trail_cameras_notes_are_what_exiftool_reads(tmp_path: Path, begins: bytes) -> None:
    path = tmp_path / "T.JPG"
    path.write_bytes(made.jpeg(1, made.exif(None, note=note(begins))))
    (facts,) = asked([path]).values()
    row = read(path)
    assert isinstance(row, FrameFacts)
    want = [facts[f"Reconyx:{tag}"] for tag in ("DateTimeOriginal", "SerialNumber", "UserLabel")]
    assert [moment(want[0])[0], *want[1:]] == [row.shown, row.serial, row.comment]


def clip_of(*inside: bytes) -> bytes:
    return box(b"ftyp", b"qt  \0\0\0\0qt  ") + box(b"moov", b"".join(inside))


def box(kind: bytes, content: bytes) -> bytes:
    """ISO/IEC 14496-12, 4.2: size, type, content."""
    return (len(content) + 8).to_bytes(4, "big") + kind + content


def by_key(key: bytes, text: bytes) -> bytes:
    """Apple, QuickTime File Format, "Metadata"."""
    handler = box(b"hdlr", bytes(8) + b"mdta" + bytes(12))
    keys = box(b"keys", bytes(4) + (1).to_bytes(4, "big") + box(b"mdta", key))
    item = box((1).to_bytes(4, "big"), box(b"data", (1).to_bytes(4, "big") + bytes(4) + text))
    return box(b"meta", handler + keys + box(b"ilst", item))


def header(seconds: int) -> bytes:
    return box(b"mvhd", bytes(4) + seconds.to_bytes(4, "big") * 2 + bytes(88))


CREATED = b"com.apple.quicktime.creationdate"
LOCATED = b"com.apple.quicktime.location.ISO6709"
PLACE = b"+44.6105-074.0123+0532.5/"
CLIPS = {
    "container.mov": clip_of(header(3_833_000_000)),
    "unix.mp4": clip_of(header(1_218_238_815)),
    "phone.mov": clip_of(
        header(3_646_714_000),
        by_key(CREATED, b"2019-07-24T11:25:40+0300"),
    ),
    "place.mov": clip_of(header(3_833_000_000), by_key(LOCATED, PLACE)),
    "user.mp4": clip_of(
        header(3_833_000_000),
        box(b"udta", box(b"\xa9xyz", len(PLACE).to_bytes(2, "big") + b"\x15\xc7" + PLACE)),
    ),
    "words.avi": b"RIFF\x32\0\0\0AVI LIST\x26\0\0\0hdrlIDIT\x1a\0\0\0Thu Oct 02 07:31:46 2025\n\0",
}


def test_times_and_places_of_clips_are_what_exiftool_reads(tmp_path: Path) -> None:
    paths = [made.fill(tmp_path, {name: data}) / name for name, data in CLIPS.items()]
    answers = asked(paths)
    for path in paths:
        facts, row = answers[path], read(path)
        assert isinstance(row, FrameFacts) and row.shown
        date = next(facts[t] for t in DATES if t in facts)
        assert moment(str(date)) == (row.shown, stated(row.offset_minutes)), path.name
        height = str(facts.get("Composite:GPSAltitude", ""))
        place = {n: first(facts, TAGS[n]) for n in ("lat", "lon")} | {"altitude": height}
        got = {"lat": row.lat, "lon": row.lon, "altitude": row.altitude_m}
        assert all(same(n, place[n], number(got[n])) for n in got), path.name
    assert sum(r.lat is not None for r in map(read, paths) if isinstance(r, FrameFacts)) == 2
