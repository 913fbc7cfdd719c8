"""When a picture was taken, as XMP and IPTC tell it; programs that edit pictures keep it there.

Sources: XMP Specification Part 2 (Adobe, 2016), exif:DateTimeOriginal and photoshop:DateCreated
(but not xmp:CreateDate, which may be when a file was begun in a program); IPTC-NAA IIM 4.2, 2:55
Date Created and 2:60 Time Created. Midnight to the second is a day without a time of day.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from camsign.formats.shown import ShownTime, read_shown

_HEAD = 2_000_000
_XMP = re.compile(
    rb"(exif:DateTimeOriginal|photoshop:DateCreated)(?:\s*=\s*[\"']|\s*>)\s*"
    rb"([0-9][0-9TZ:.+ -]{14,39})"
)
_SERIAL = re.compile(rb"aux:SerialNumber(?:\s*=\s*[\"']|\s*>)([A-Za-z0-9 _-]{3,40})[\"'<]")
_ORDER = (b"exif:DateTimeOriginal", b"photoshop:DateCreated")
_IPTC_DAY = re.compile(rb"\x1c\x02\x37\x00\x08(\d{8})")
_IPTC_CLOCK = re.compile(rb"\x1c\x02\x3c\x00[\x06\x0b](\d{6})([+-]\d{4})?")


@dataclass(frozen=True, slots=True)
class Taken:
    """A taking time with the offset it states [min east of UTC], and where it was read."""

    shown: ShownTime
    offset_minutes: int | None
    source: str


def taken_in_xmp(data: bytes) -> Taken | None:
    """Give the taking time of the XMP packet in a picture's first bytes; None if it holds none."""
    found = dict(reversed(_XMP.findall(data[:_HEAD])))
    for name in _ORDER:
        reading = read_shown(found.get(name, b"").decode("ascii"))
        if reading.shown is not None and _has_clock(reading.shown):
            return Taken(reading.shown, reading.offset_minutes, "XMP")
    return None


def taken_in_iptc(data: bytes) -> Taken | None:
    """Give the taking time of the IPTC records in a picture's first bytes; None without one."""
    day, clock = _IPTC_DAY.search(data[:_HEAD]), _IPTC_CLOCK.search(data[:_HEAD])
    if day is None or clock is None:
        return None
    d, c = day[1].decode(), clock[1].decode()
    zone = (clock[2] or b"").decode()
    text = f"{d[:4]}-{d[4:6]}-{d[6:]} {c[:2]}:{c[2:4]}:{c[4:]}{zone}"
    reading = read_shown(text)
    if reading.shown is None or not _has_clock(reading.shown):
        return None
    return Taken(reading.shown, reading.offset_minutes, "IPTC")


def serial_in_xmp(data: bytes) -> str:
    """Give the body's serial number as the XMP packet keeps it (aux:SerialNumber); or ""."""
    found = _SERIAL.search(data[:_HEAD])
    return found[1].decode("ascii").strip() if found else ""


def _has_clock(shown: ShownTime) -> bool:
    return (shown.hour, shown.minute, shown.second) != (0, 0, 0)
