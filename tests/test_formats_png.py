"""PNG chunks: sizes and wholeness against what Pillow wrote; claims that no file can keep."""

from __future__ import annotations

import io

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from camsign.formats.jpeg import Inspected
from camsign.formats.png import inspect
from camsign.pixels.decode import Reduced, decode_reduced


def png(width: int = 40, height: int = 30) -> bytes:
    out = io.BytesIO()
    Image.radial_gradient("L").resize((width, height)).convert("RGB").save(out, "PNG")
    return out.getvalue()


WHOLE = png()


@pytest.mark.parametrize("size", [(1, 1), (40, 30), (1200, 900)])
def test_a_whole_picture(size: tuple[int, int]) -> None:
    assert inspect(png(*size)) == Inspected(*size, True, "")


def test_notes_behind_the_end_are_harmless() -> None:
    assert inspect(WHOLE + b"notes").complete


@pytest.mark.parametrize("kept", [0, 7, 8, 20, 23])
def test_cut_before_the_picture_begins(kept: int) -> None:
    facts = inspect(WHOLE[:kept])
    assert not facts.complete and facts.trouble and facts.width == 0


def test_cut_in_the_picture() -> None:
    facts = inspect(WHOLE[:-20])
    assert facts == Inspected(40, 30, False, "cut short: the end of the picture is missing")


def test_a_chunk_that_claims_two_gigabytes_is_not_believed() -> None:
    at = WHOLE.index(b"IDAT") - 4
    broken = WHOLE[:at] + b"\x7f" * 4 + WHOLE[at + 4 :]
    assert not inspect(broken).complete
    seen = decode_reduced(broken)  # without two gigabytes
    assert not isinstance(seen, Reduced) or seen.trouble


def test_a_second_header_is_not_believed() -> None:
    head = WHOLE[8:33]
    assert not inspect(WHOLE[:33] + head + WHOLE[33:]).complete


@given(st.integers(0, len(WHOLE) - 1), st.binary(max_size=6), st.integers(0, len(WHOLE)))
def test_no_damage_raises(at: int, junk: bytes, kept: int) -> None:
    damaged = (WHOLE[:at] + junk + WHOLE[at + len(junk) :])[:kept]
    assert not inspect(damaged).complete or b"IEND" in damaged
