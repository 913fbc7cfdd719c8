"""A trail camera's own notes. Every layout is also read by exiftool, in test_intake_exiftool."""

from __future__ import annotations

import struct

import made_cards as made
import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.formats.exif import read_exif
from camsign.formats.notes import Notes, read_notes

LAYOUTS = (b"\x01\xf1\x03\0", b"RECONYXUF\0", b"RECONYXH2\0")
SERIAL, LABEL = "H500XX01234567", "CAM03 north"


def note(begins: bytes) -> bytes:
    """Notes that say 2025-11-04 07:31:46, a serial number and a label, in one of the layouts."""
    made_up = bytearray(200)
    made_up[: len(begins)] = begins
    wide = SERIAL.encode("utf-16-le")
    if begins == LAYOUTS[0]:
        struct.pack_into("<6H", made_up, 0x16, 46, 31, 7, 11, 4, 2025)
        places = ((0x2A, wide), (0x56, LABEL.encode()))
    elif begins == b"RECONYXUF\0":
        struct.pack_into("<5BH", made_up, 0x3B, 46, 31, 7, 4, 11, 2025)
        places = ((0x4B, SERIAL.encode()), (0x5A, LABEL.encode()))
    else:
        struct.pack_into("<6H", made_up, 0x3E, 46, 31, 7, 4, 11, 2025)
        places = ((0x7E, wide), (0x68, LABEL.encode()))
    for at, text in places:
        made_up[at : at + len(text)] = text
    return bytes(made_up)


@pytest.mark.parametrize("begins", LAYOUTS)
def test_time_serial_and_label_are_read(begins: bytes) -> None:
    found = read_notes(note(begins))
    assert found.shown is not None and found.shown.iso() == "2025-11-04T07:31:46"
    assert (found.serial, found.label) == (SERIAL, LABEL)


@pytest.mark.parametrize("when", [None, "2025:11:04 08:00:00"])
def test_a_pictures_own_time_goes_before_its_notes(when: str | None) -> None:
    facts = read_exif(made.jpeg(1, made.exif(when, note=note(LAYOUTS[0]))))
    assert facts.shown is not None
    assert facts.shown.iso()[11:] == ("08:00:00" if when else "07:31:46")
    assert facts.shown_from == ("DateTimeOriginal" if when else "notes")
    assert (facts.serial, facts.comment) == (SERIAL, LABEL)


def test_the_standards_own_fields_go_before_the_notes() -> None:
    block = made.exif(serial="S1", comment=b"words", note=note(LAYOUTS[0]))
    facts = read_exif(made.jpeg(1, block))
    assert (facts.serial, facts.comment) == ("S1", "words")


@pytest.mark.parametrize("cut", [0, 1, 20, 60])
def test_notes_cut_short_say_less(cut: int) -> None:
    found = read_notes(note(LAYOUTS[0])[:cut])
    assert found.label == "" and (cut == 60) is (found.shown is not None)


@given(st.sampled_from(LAYOUTS), st.binary(max_size=300))
def test_no_bytes_make_it_fail(begins: bytes, rest: bytes) -> None:
    assert isinstance(read_notes(begins + rest), Notes)
    assert read_notes(rest) == Notes() or rest.startswith(LAYOUTS)
