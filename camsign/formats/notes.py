"""What trail cameras of one maker keep in their own notes (MakerNote): time, serial number, label.

Three layouts, each known by how it begins. Where each value lies is as exiftool's tag names for
Reconyx state it, after papers of the maker; the first is checked on real pictures, all on exiftool.
System cameras and phones keep other notes, which are not read here.
"""

from __future__ import annotations

import re
import struct
from dataclasses import dataclass

from camsign.errors import UsageError
from camsign.formats.shown import ShownTime


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
