"""JPEG segments: size, wholeness and absurd claims, against Pillow and the samples' manifest."""

from __future__ import annotations

import csv
import io
import random
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from camsign.formats.jpeg import Inspected, exif_block, inspect


def jpeg(width: int = 40, height: int = 30, **options: object) -> bytes:
    stream = io.BytesIO()
    picture = Image.effect_noise((width, height), 60).convert("RGB")
    picture.save(stream, format="JPEG", **options)
    return stream.getvalue()


SMALL = jpeg(exif=Image.Exif().tobytes())


@pytest.mark.parametrize(
    "options", [{}, {"progressive": True}, {"quality": 5}, {"restart_marker_blocks": 1}]
)
def test_size_and_wholeness_as_pillow_wrote_them(options: dict[str, object]) -> None:
    assert inspect(jpeg(123, 45, **options)) == Inspected(123, 45, True, "")


@pytest.mark.parametrize("cut", [3, 100, 400])
def test_a_file_cut_short_is_told(cut: int) -> None:
    whole = jpeg()
    facts = inspect(whole[:-cut])
    assert (facts.width, facts.complete) == (40, False)
    assert "cut short" in facts.trouble


def test_a_nested_thumbnails_end_mark_does_not_stand_for_the_pictures() -> None:
    thumbnail = jpeg(16, 12)
    note = b"\xff\xe2" + (len(thumbnail) + 2).to_bytes(2, "big") + thumbnail
    whole = jpeg()
    nested = whole[:2] + note + whole[2:]
    assert inspect(nested) == Inspected(40, 30, True, "")
    assert not inspect(nested[:-2]).complete


@pytest.mark.parametrize("tail", [bytes(5000), b"\xff" * 64, b"made by a camera", bytes(3) + SMALL])
def test_what_cameras_append_behind_the_end_is_harmless(tail: bytes) -> None:
    assert inspect(jpeg() + tail) == Inspected(40, 30, True, "")


def test_a_file_filled_up_with_zeros_where_pixels_belong_is_cut_short() -> None:
    whole = jpeg(200, 200)
    facts = inspect(whole[: len(whole) // 2] + bytes(len(whole) // 2))
    assert not facts.complete
    assert "cut short" in facts.trouble


def with_size(width: int, height: int) -> bytes:
    """A JPEG whose frame header claims another size than its pixels have."""
    whole = jpeg()
    at = whole.index(b"\xff\xc0") + 5
    return whole[:at] + height.to_bytes(2, "big") + width.to_bytes(2, "big") + whole[at + 4 :]


def test_a_400_megapixel_header_is_refused_quickly() -> None:
    start = time.process_time()
    facts = inspect(with_size(20_000, 20_000))
    assert time.process_time() - start < 0.05
    assert "20000 x 20000" in facts.trouble


def test_a_header_without_height_is_told() -> None:
    assert "no size" in inspect(with_size(100, 0)).trouble


@pytest.mark.parametrize(
    ("data", "trouble"),
    [
        (b"", "empty"),
        (b"hello, I am text", "not a JPEG"),
        (b"\xff\xd8", "cut short"),
        (b"\xff\xd8\xff\xe1", "cut short"),
        (b"\xff\xd8\xff\xd9", "cut short"),
        (b"\xff\xd8" + b"\xff" * 100_000, "cut short"),
    ],
)
def test_what_is_no_picture_is_told(data: bytes, trouble: str) -> None:
    facts = inspect(data)
    assert trouble in facts.trouble
    assert not facts.complete
    assert inspect(memoryview(data)) == facts


def test_samples_agree_with_exiftool_on_size_and_with_pillow_on_wholeness(samples: Path) -> None:
    with (samples / "exif" / "MANIFEST.csv").open(encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["filetype"] == "JPEG"]
    assert len(rows) > 100
    for row in rows:
        facts = inspect((samples / "exif" / row["path"]).read_bytes())
        assert (str(facts.width), str(facts.height)) == (row["w"], row["h"]), row["path"]
        # The manifest's `pil` says whether Pillow could load all pixels.
        assert facts.complete == (row["pil"] == "ok"), row["path"]
        assert bool(facts.trouble) == (row["pil"] != "ok"), row["path"]


def test_a_file_of_several_megabytes_costs_next_to_nothing() -> None:
    """Against reading the same bytes once, as hashing them must: 3 MB whole, and 3 MB cut short."""
    noise = random.Random(5).randbytes(3_000_000).replace(b"\xff", b"\xfe")
    whole = SMALL[:-2] + noise + b"\xff\xd9"
    for data, complete in ((whole, True), (whole[:-2], False)):
        best = min(_timed(data) for _ in range(5))
        assert inspect(data).complete is complete
        assert best < 0.02


def _timed(data: bytes) -> float:
    start = time.process_time()
    inspect(data)
    return time.process_time() - start


@settings(max_examples=200, deadline=2000)
@given(st.data())
def test_damaged_bytes_give_facts_and_nothing_else(data: st.DataObject) -> None:
    broken = bytearray(SMALL)
    for _ in range(data.draw(st.integers(1, 8))):
        broken[data.draw(st.integers(2, len(broken) - 1))] = data.draw(st.integers(0, 255))
    del broken[data.draw(st.integers(0, len(broken))) :]
    facts = inspect(bytes(broken))
    assert facts.trouble or facts.complete
    assert exif_block(bytes(broken)) is None or b"Exif" in broken
