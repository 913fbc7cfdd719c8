"""The one reduced decode: sizes, orientation, cut files, a named refusal for everything else."""

from __future__ import annotations

import io
from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageOps

from camsign.formats.jpeg import MAX_PIXELS
from camsign.pixels.decode import LONG_SIDE, MAX_LONG_SIDE, Reduced, Undecodable, decode_reduced


def jpeg(columns: int, rows: int, seed: int = 1, orientation: int | None = None) -> bytes:
    rng = np.random.default_rng(seed)
    coarse = rng.integers(0, 255, (max(2, rows // 16), max(2, columns // 16), 3), dtype=np.uint8)
    picture = Image.fromarray(cv2.resize(coarse, (columns, rows), interpolation=cv2.INTER_CUBIC))
    exif = Image.Exif()
    if orientation:
        exif[0x0112] = orientation
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=90, exif=exif)
    return out.getvalue()


@pytest.mark.parametrize(
    ("columns", "rows"),
    [(5888, 3312), (4608, 3456), (2592, 1944), (1280, 720), (500, 40), (90, 60)],
)
def test_the_long_side_is_320_to_640_pixels_and_the_shape_is_kept(columns: int, rows: int) -> None:
    reduced = decode_reduced(jpeg(columns, rows))
    assert isinstance(reduced, Reduced)
    tall, wide = reduced.pixels.shape[:2]
    assert min(LONG_SIDE, columns) <= wide <= MAX_LONG_SIDE
    assert tall / rows == pytest.approx(wide / columns, rel=0.03)
    assert (reduced.width, reduced.height, reduced.seen, reduced.trouble) == (columns, rows, 1, "")


@pytest.mark.parametrize("orientation", range(1, 9))
def test_the_reduced_picture_is_upright_and_shows_what_pillow_shows(orientation: int) -> None:
    data = jpeg(1600, 1200, orientation=orientation)
    reduced = decode_reduced(data)
    assert isinstance(reduced, Reduced)
    # Reference: Pillow's own decoder, turned by its ImageOps.exif_transpose, shrunk by boxes.
    upright = ImageOps.exif_transpose(Image.open(io.BytesIO(data)))
    tall, wide = reduced.pixels.shape[:2]
    expected = np.asarray(upright.resize((wide, tall), Image.Resampling.BOX))[:, :, ::-1]
    assert np.abs(expected.astype(int) - reduced.pixels).mean() < 3


@pytest.mark.parametrize("share", [0.2, 0.5, 0.9])
def test_a_cut_jpeg_gives_what_is_left_and_says_so(share: float) -> None:
    data = jpeg(1600, 1200)
    whole = decode_reduced(data)
    part = decode_reduced(data[: int(len(data) * share)])
    assert isinstance(whole, Reduced)
    assert isinstance(part, Reduced)
    assert "cut short" in part.trouble
    assert abs(part.seen - share) < 0.12
    rows = int(part.pixels.shape[0] * part.seen) - 4
    assert np.abs(whole.pixels[:rows].astype(int) - part.pixels[:rows]).mean() < 4


@pytest.mark.parametrize("orientation", [3, 6, 8])
def test_what_is_left_of_a_cut_jpeg_stands_upright(orientation: int) -> None:
    # Reference: Pillow's exif_transpose of the same rows of the whole picture.
    picture = Image.open(io.BytesIO(jpeg(1600, 1200)))
    exif = picture.getexif()
    exif[0x0112] = orientation
    out = io.BytesIO()
    picture.save(out, "JPEG", exif=exif)
    part = decode_reduced(out.getvalue()[: out.tell() // 2])
    plain = decode_reduced(jpeg(1600, 1200)[: len(jpeg(1600, 1200)) // 2])
    assert isinstance(part, Reduced) and isinstance(plain, Reduced) and part.seen == 1.0
    kept = Image.fromarray(plain.pixels[: round(plain.pixels.shape[0] * plain.seen)])
    kept.getexif()[0x0112] = orientation
    want = np.asarray(ImageOps.exif_transpose(kept).resize(part.pixels.shape[1::-1]))
    assert (part.pixels.shape[0] > part.pixels.shape[1]) == (want.shape[0] > want.shape[1])
    assert np.abs(want.astype(int) - part.pixels).mean() < 12


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"", "empty"),
        (b"hello, this is text\n" * 50, "not a picture"),
        (b"\xff\xd8\xff\xe0", "cut short"),
        (jpeg(640, 480)[:300], "cut short"),
        (b"\x89PNG\r\n\x1a\n" + b"\0" * 8 + b"\xff" * 8 + b"IEND", "cut short"),
    ],
)
def test_what_is_no_picture_is_refused_by_name(data: bytes, reason: str) -> None:
    found = decode_reduced(data)
    assert isinstance(found, Undecodable)
    assert reason in found.reason
    assert "\n" not in found.reason


def test_a_picture_that_claims_too_many_pixels_is_not_decoded() -> None:
    found = decode_reduced(jpeg(64, 64), MAX_PIXELS, 2)
    assert isinstance(found, Undecodable)


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=400), st.integers(0, 5000))
def test_any_bytes_give_a_result_or_a_reason(noise: bytes, at: int) -> None:
    data = bytearray(jpeg(320, 240))
    data[at : at + len(noise)] = noise
    for candidate in (noise, bytes(data), b"\xff\xd8\xff" + noise, b"\x89PNG\r\n\x1a\n" + noise):
        found = decode_reduced(candidate)
        assert isinstance(found, Reduced | Undecodable)
        if isinstance(found, Reduced):
            assert found.pixels.ndim == 3
            assert 0 < found.seen <= 1


def test_every_sample_gives_a_result_or_a_reason(samples: Path) -> None:
    opened = 0
    for path in sorted((samples / "exif").rglob("*.*")):
        found = decode_reduced(path.read_bytes())
        opened += isinstance(found, Reduced)
        assert isinstance(found, Reduced) or found.reason
    assert opened > 50
