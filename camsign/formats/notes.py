"""What stands beside EXIF: a time, serial number and label in makers' notes, in XMP and in IPTC.

Of makers' own notes (MakerNote) those of one maker of trail cameras are read, in three layouts that
are known by how they begin. Where each value lies is as exiftool's tag names for Reconyx state it,
after papers of the maker; the first is checked on real pictures, all on exiftool.

Programs that edit pictures keep the taking time in XMP and IPTC. Sources: XMP Specification Part 2
(Adobe, 2016), exif:DateTimeOriginal and photoshop:DateCreated (but not xmp:CreateDate, which may be
when a file was begun in a program); IPTC-NAA IIM 4.2, 2:55 Date Created and 2:60 Time Created.
Midnight to the second is a day without a time of day.
"""

from __future__ import annotations

import re
import struct
from dataclasses import dataclass

from camsign.errors import UsageError
from camsign.formats.shown import ShownTime, read_shown

_HEAD = 2_000_000
_XMP = re.compile(
    rb"(exif:DateTimeOriginal|photoshop:DateCreated)(?:\s*=\s*[\"']|\s*>)\s*"
    rb"([0-9][0-9TZ:.+ -]{14,39})"
)
_SERIAL_NAME = b"aux:SerialNumber"
_SERIAL = re.compile(_SERIAL_NAME + rb"(?:\s*=\s*[\"']|\s*>)([A-Za-z0-9 _-]{3,40})[\"'<]")
_ORDER = (b"exif:DateTimeOriginal", b"photoshop:DateCreated")
_IPTC_DAY = re.compile(rb"\x1c\x02\x37\x00\x08(\d{8})")
_IPTC_CLOCK = re.compile(rb"\x1c\x02\x3c\x00[\x06\x0b](\d{6})([+-]\d{4})?")


@dataclass(frozen=True, slots=True)
class Notes:
    """What the notes say; "" and None where they say nothing. `label` is what the owner set."""

    shown: ShownTime | None = None
    serial: str = ""
    label: str = ""


@dataclass(frozen=True, slots=True)
class _Layout:
    """How notes begin (a pattern), and where values lie in them [bytes].

    `clock` is a place and a struct format, `order` which of its numbers are year, month, day, hour,
    minute, second; texts are a place and a length.
    """

    begins: bytes
    clock: tuple[int, str]
    order: tuple[int, ...]
    serial: tuple[int, int]
    serial_code: str
    label: tuple[int, int]


_MONTH_FIRST, _DAY_FIRST = (5, 3, 4, 2, 1, 0), (5, 4, 3, 2, 1, 0)  # behind second, minute, hour
_WIDE = "utf-16-le"
_LAYOUTS = (
    _Layout(
        rb"\x01\xf1[\x01-\x0f]\x00", (0x16, "<6H"), _MONTH_FIRST, (0x2A, 30), _WIDE, (0x56, 22)
    ),
    _Layout(rb"RECONYXUF\x00", (0x3B, "<5BH"), _DAY_FIRST, (0x4B, 15), "ascii", (0x5A, 21)),
    _Layout(rb"RECONYXH2\x00", (0x3E, "<6H"), _DAY_FIRST, (0x7E, 30), _WIDE, (0x68, 22)),
)


def read_notes(note: bytes) -> Notes:
    """Read a MakerNote; of any other maker nothing is read. Never raises, whatever the bytes."""
    layout = next((known for known in _LAYOUTS if re.match(known.begins, note)), None)
    if layout is None:
        return Notes()
    serial = _text(note, layout.serial, layout.serial_code)
    label = _text(note, layout.label, "ascii")
    return Notes(_clock(note, layout), serial if serial.isalnum() else "", label)


def _clock(note: bytes, layout: _Layout) -> ShownTime | None:
    at, form = layout.clock
    if len(note) < at + struct.calcsize(form):
        return None
    parts = struct.unpack_from(form, note, at)
    try:
        return ShownTime(*(parts[n] for n in layout.order))
    except UsageError:
        return None


def _text(note: bytes, place: tuple[int, int], code: str) -> str:
    raw = note[place[0] : sum(place)]
    text = raw.decode(code, errors="replace").split("\0")[0].strip()
    return text if text.isascii() and text.isprintable() else ""


@dataclass(frozen=True, slots=True)
class Taken:
    """A taking time with the offset it states [min east of UTC], and where it was read."""

    shown: ShownTime
    offset_minutes: int | None
    source: str


def taken_in_xmp(data: bytes) -> Taken | None:
    """Give the taking time of the XMP packet in a picture's first bytes; None if it holds none."""
    found = dict(reversed(_XMP.findall(data[:_HEAD])))
    times = (_taken(found.get(name, b"").decode("ascii"), "XMP") for name in _ORDER)
    return next(filter(None, times), None)


def taken_in_iptc(data: bytes) -> Taken | None:
    """Give the taking time of the IPTC records in a picture's first bytes; None without one."""
    day, clock = _IPTC_DAY.search(data[:_HEAD]), _IPTC_CLOCK.search(data[:_HEAD])
    if day is None or clock is None:
        return None
    d, c = day[1].decode(), clock[1].decode()
    zone = (clock[2] or b"").decode()
    return _taken(f"{d[:4]}-{d[4:6]}-{d[6:]} {c[:2]}:{c[2:4]}:{c[4:]}{zone}", "IPTC")


def _taken(text: str, source: str) -> Taken | None:
    reading = read_shown(text)
    shown = reading.shown
    if shown is None or not (shown.hour or shown.minute or shown.second):
        return None
    return Taken(shown, reading.offset_minutes, source)


def serial_in_xmp(data: bytes) -> str:
    """Give the body's serial number as the XMP packet keeps it (aux:SerialNumber); or ""."""
    # That it is not there is said far quicker than by a pattern.
    at = data.find(_SERIAL_NAME, 0, _HEAD)
    found = _SERIAL.search(data, at, _HEAD) if at >= 0 else None
    return found[1].decode("ascii").strip() if found else ""
