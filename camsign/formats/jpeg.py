"""A JPEG's size and whether it is whole, from its segments alone: nothing is decoded.

Source of the layout: ISO/IEC 10918-1 (ITU-T T.81), annex B.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

MAX_PIXELS = 200_000_000
"""More than this is no camera's picture and is not decoded [pixels]."""

_ENCODERS = re.compile(
    r"lavc|creator:|created with|file (written|source)|lead tech|applemark|intel\(r\)|optimized"
    r"|handmade|compressed by|software:|xv version|processed by",
    re.IGNORECASE,
)
"""How programs that write JPEGs sign them there (from memory); that says nothing of a camera."""
_MAX_SEGMENTS = 2_000
_SOI, _EOI, _SOS = 0xD8, 0xD9, 0xDA
_START_OF_FRAME = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_WITHOUT_LENGTH = frozenset({0x01, *range(0xD0, 0xD9)})


@dataclass(frozen=True, slots=True)
class JpegFacts:
    """What a JPEG's segments say.

    `width` and `height` [pixels] as stored, before any orientation is applied; 0 when unknown.
    `complete`: the end mark stands behind the pixels; zeros or notes behind the mark are
    harmless. `trouble` is one line for people, "" when all is well.
    """

    width: int
    height: int
    complete: bool
    trouble: str


def inspect(data: bytes | memoryview) -> JpegFacts:
    """Walk the segments of a whole JPEG file held in memory; never raises, whatever the bytes."""
    data = bytes(data)
    if not data:
        return JpegFacts(0, 0, False, "the file is empty")
    if not data.startswith(b"\xff\xd8"):
        return JpegFacts(0, 0, False, "not a JPEG, whatever its name says")
    width = height = scan = 0
    for marker, start, end in segments(data):
        if marker in _START_OF_FRAME and end - start >= 5 and not width:
            height = int.from_bytes(data[start + 1 : start + 3], "big")
            width = int.from_bytes(data[start + 3 : start + 5], "big")
        elif marker == _SOS:
            scan = end
    # No end mark can occur inside pixel data (a 0xFF there is followed by 0x00), so the last one
    # behind the scan's start settles it, whatever the camera appended afterward.
    complete = bool(scan) and data.rfind(b"\xff\xd9", scan) >= 0
    return JpegFacts(width, height, complete, _trouble(width, height, scan, complete))


def segments(data: bytes) -> Iterator[tuple[int, int, int]]:
    """Yield (marker, start, end) of each segment's payload up to and with the first scan header.

    Thumbnails nested in a segment are stepped over by the segment's length. Stray bytes between
    segments are skipped as decoders do.
    """
    position = 2
    for _ in range(_MAX_SEGMENTS):
        position = data.find(b"\xff", position)
        if position < 0 or position + 4 > len(data):
            return
        marker = data[position + 1]
        if marker in (0x00, 0xFF) or marker in _WITHOUT_LENGTH:
            position += 1 if marker == 0xFF else 2
            continue
        if marker == _EOI:
            return
        length = int.from_bytes(data[position + 2 : position + 4], "big")
        end = min(position + 2 + max(length, 2), len(data))
        yield marker, position + 4, end
        if marker == _SOS:
            return
        position = end


def exif_block(data: bytes) -> bytes | None:
    """The TIFF block that the first Exif segment holds; None when there is none."""
    for marker, start, end in segments(data):
        if marker == 0xE1 and data[start : start + 6] == b"Exif\x00\x00":
            return data[start + 6 : end]
    return None


def written_comment(data: bytes) -> str:
    """The text of the first comment segment (COM) that no encoder signed; "" without one."""
    for marker, start, end in segments(data):
        if marker == 0xFE:
            raw = data[start:end].split(b"\x00")[0].strip()
            text = raw.decode("utf-8" if _is_utf8(raw) else "latin-1")
            if text.isprintable() and not _ENCODERS.match(text):
                return text
    return ""


def _is_utf8(raw: bytes) -> bool:
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def _trouble(width: int, height: int, scan: int, complete: bool) -> str:
    if width * height > MAX_PIXELS:
        return f"its header claims {width} x {height} pixels, more than a camera makes"
    if not width or not height:
        return "cut short before its picture begins" if not scan else "its header gives no size"
    if not scan:
        return "cut short before its picture begins"
    return "" if complete else "cut short: the end of the picture is missing"
