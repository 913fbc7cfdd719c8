"""A JPEG's size and whether it is whole, from its segments alone; the JPEG in a raw picture.

Nothing is decoded. Source of the layout: ISO/IEC 10918-1 (ITU-T T.81), annex B. Cameras put a JPEG
into a raw picture for their own screen. It is found by its marks, whatever the maker's layout
around it; the sensor's own data may be a lossless JPEG, which no viewer opens.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import dataclass

CUT = "cut short before its picture begins"
MAX_PIXELS = 200_000_000
"""More than this is no camera's picture and is not decoded [pixels]."""

_ENCODERS = re.compile(
    r"lavc|creator:|created with|file (written|source)|lead tech|applemark|intel\(r\)|optimized"
    r"|handmade|compressed by|software:|xv version|processed by",
    re.IGNORECASE,
)
"""How programs that write JPEGs sign them there (from memory); that says nothing of a camera."""
_MAX_SEGMENTS = 2_000
_EOI, _SOS = 0xD9, 0xDA
_START_OF_FRAME = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_VIEWED = frozenset({0xC0, 0xC1, 0xC2})
"""Starts of frames that viewers open: baseline, extended, progressive."""
_MOST = 200
"""So many marks are followed; sensor data may hold them by chance."""
_WITHOUT_LENGTH = frozenset({0x01, *range(0xD0, 0xD9)})


@dataclass(frozen=True, slots=True)
class Inspected:
    """What the segments of a JPEG, or the chunks of a PNG, say.

    `width` and `height` [pixels] as stored, before any orientation is applied; 0 when unknown.
    `complete`: all of it is there, up to the end mark; zeros or notes behind the mark are
    harmless. `trouble` is one line for people, "" when all is well.
    """

    width: int
    height: int
    complete: bool
    trouble: str


def inspect(data: bytes | memoryview) -> Inspected:
    """Walk the segments of a whole JPEG file held in memory; never raises, whatever the bytes."""
    data = bytes(data)
    if not data:
        return Inspected(0, 0, False, "the file is empty")
    if not data.startswith(b"\xff\xd8"):
        return Inspected(0, 0, False, "not a JPEG, whatever its name says")
    width = height = scan = 0
    for marker, start, end in segments(data):
        if marker in _START_OF_FRAME and end - start >= 5 and not width:
            width, height = _sides(data, start)
        elif marker == _SOS:
            scan = end
    # No end mark can occur inside pixel data (a 0xFF there is followed by 0x00), so the last one
    # behind the scan's start settles it, whatever the camera appended afterward.
    complete = bool(scan) and data.rfind(b"\xff\xd9", scan) >= 0
    sizeless = "" if width and height else "its header gives no size"
    return judged(width, height, complete, sizeless if scan else CUT)


def judged(width: int, height: int, complete: bool, headless: str) -> Inspected:
    """Give what was found, with the first of its troubles; `headless`: that of its head, or ""."""
    trouble = headless or ("" if complete else "cut short: the end of the picture is missing")
    if width * height > MAX_PIXELS:
        trouble = f"its header claims {width} x {height} pixels, more than a camera makes"
    return Inspected(width, height, complete, trouble)


def _sides(data: bytes, start: int) -> tuple[int, int]:
    """Give the width and height that a start of frame holds [pixels]."""
    height, width = (int.from_bytes(data[at : at + 2], "big") for at in (start + 1, start + 3))
    return width, height


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


def before_pixels(data: bytes) -> bytes:
    """Give what stands before a JPEG's pixels, where all that is said of it has its place; the
    whole file where no pixels begin."""
    marker = end = 0
    for marker, _, end in segments(data):  # noqa: B007 - the last one is meant
        pass
    return data[:end] if marker == _SOS else data


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
            text = decode_bytes(data[start:end].split(b"\x00")[0].strip())
            if text.isprintable() and not _ENCODERS.match(text):
                return text
    return ""


def decode_bytes(raw: bytes) -> str:
    """A short text that names no encoding: UTF-8, else Latin-1."""
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def largest_jpeg(data: bytes) -> bytes | None:
    """Give the JPEG of most pixels that lies whole in a file; None if there is none."""
    best, most, at = None, 0, 0
    for _ in range(_MOST):
        at = data.find(b"\xff\xd8\xff", at)
        if at < 0:
            break
        pixels, end = _measured(data, at)
        if end is None:
            at += 2
            continue
        if most < pixels <= MAX_PIXELS:
            best, most = data[at:end], pixels
        at = end
    return best


def header_size(data: bytes) -> tuple[int, int] | None:
    """Give width and height [pixels] as a header says, None if Pillow does not know it."""
    from PIL import Image

    try:
        with Image.open(io.BytesIO(data)) as picture:
            return picture.size
    # A damaged file makes its reader index and unpack whatever it claims: nearly any error comes.
    except Exception:  # noqa: BLE001
        return None


def _measured(data: bytes, at: int) -> tuple[int, int | None]:
    """Give a JPEG's pixels, 0 if viewers cannot open it, and where it ends; None if it is none."""
    pixels = 0
    window = data[at : at + 300_000]  # headers are short; what follows is searched in place
    for marker, start, end in segments(window):
        if marker in _VIEWED and end - start >= 5:
            width, height = _sides(window, start)
            pixels = width * height
        elif marker == _SOS:
            stop = data.find(b"\xff\xd9", at + end)
            return pixels, stop + 2 if stop >= 0 else None
    return 0, None
