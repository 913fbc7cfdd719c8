"""The info strip under a picture: a dark band with plain text."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from camsign.demo.paint import HEIGHT, WIDTH

if TYPE_CHECKING:
    from camsign.demo.paint import Image
    from camsign.demo.specs import FrameSpec

BAND = 34  # [px]
_INK, _PAPER = 222, 22


@lru_cache(maxsize=512)
def _text(words: str) -> Image:
    from PIL import Image as Pictures
    from PIL import ImageDraw, ImageFont

    font = ImageFont.load_default(20)
    wide = max(1, round(font.getlength(words)) + 2)
    tile = Pictures.new("L", (wide, BAND))
    ImageDraw.Draw(tile).text((1, BAND / 2 + 7), words, font=font, fill=255, anchor="ls")
    return np.asarray(tile)


def stamp(image: Image, frame: FrameSpec) -> None:
    """Write camera, date, time as shown and temperature over the picture's lowest rows."""
    band = image[HEIGHT - BAND :]
    band[:] = _PAPER
    celsius = frame.weather.temperature_c
    fahrenheit = round(celsius * 9 / 5 + 32)
    _write(band, _text(frame.camera), 18)
    _write(band, _text(f"{frame.shown:%Y-%m-%d}"), 396)
    _write(band, _text(f"{frame.shown:%H:%M:}"), 524)
    _write(band, _text(f"{frame.shown:%S}"), 586)
    temperature = _text(f"{celsius:.0f} °C   {fahrenheit} °F")
    _write(band, temperature, WIDTH - 18 - temperature.shape[1])


def _write(band: Image, text: Image, left: int) -> None:
    there = band[:, left : left + text.shape[1]]
    there[:] = (_PAPER + text.astype(np.uint16)[..., None] * (_INK - _PAPER) // 255).astype(
        np.uint8
    )
