"""Pictures with a strip that a camera printed into them, for tests of what is read there."""

from __future__ import annotations

import io
from pathlib import Path

import matplotlib
import numpy as np
from PIL import Image, ImageDraw, ImageFont

FONT = Path(matplotlib.get_data_path()) / "fonts/ttf/DejaVuSans.ttf"


def printed(
    *words: str, seed: int = 1, size: tuple[int, int] = (1280, 960), exif: bytes = b""
) -> bytes:
    """A JPEG of a blurred scene, and below it white words on a black strip."""
    wide, tall = size
    coarse = np.random.default_rng(seed).integers(40, 220, (30, 40, 3), np.uint8)
    picture = Image.fromarray(coarse).resize(size, Image.Resampling.BICUBIC)
    high = tall // 20
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, tall - high, wide, tall), fill=(0, 0, 0))
    font = ImageFont.truetype(str(FONT), round(high * 0.6))
    at = wide * 0.02
    for word in words:
        draw.text((at, tall - high * 0.9), word, font=font, fill=(255, 255, 255))
        at += draw.textlength(word, font=font) + wide * 0.03
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=85, exif=exif)
    return out.getvalue()
