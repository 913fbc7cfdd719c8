"""What the pixels of one frame measure, the info strip left out.

All on the reduced picture (pixels.decode), 0..255 scale:

- brightness: mean of the grey values (ITU-R BT.601 luma, as OpenCV computes it).
- contrast: their standard deviation.
- colour: on means of about 5 x 5 pixels, how much chroma there is that brightness does not explain. Chroma is (R - G,
  (R + G) / 2 - B); the mean chroma of each of 32 brightness levels is taken off and the standard
  deviation of the rest, of both parts together, is the measure. A picture of one hue (sepia, the
  purple cast of some infrared cameras, any toning that is a function of brightness) has none.
- sharpness: standard deviation of what is finer than a Gaussian of 1.5 pixels, as a share of the
  contrast. It sees blur of more than about 8 pixels of the full picture, and takes noise for detail.

Light: `dark` if 98 % of the pixels are below 40 (nothing can be recognised); else `infrared` if
colour is below 2.0; else `colour`.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from camsign.logbook.records import Look
from camsign.pixels.decode import Reduced
from camsign.pixels.glance import pack
from camsign.pixels.opencv import opencv
from camsign.pixels.strip import find_strips, without_strips

MAKER = 1
"""Version of what is measured here; a frame of another version is measured again by `look`."""

DARK_BELOW = 40.0
COLOUR_FROM = 2.0

_LEVELS = 32
_COLOUR_SIDE = 96  # pixels; means of many pixels carry little of a JPEG's own colour noise


@dataclass(frozen=True, slots=True)
class Measures:
    """The measures of one picture, as this module's text defines them; `p98` is a grey value."""

    brightness: float
    contrast: float
    colour: float
    sharpness: float
    p98: float


def look(frame: str, reduced: Reduced) -> Look:
    """Measure a frame's reduced picture; of a picture cut short, the part that is there."""
    pixels = reduced.pixels
    pixels = pixels[: max(1, round(pixels.shape[0] * reduced.seen))]
    grey = opencv().cvtColor(pixels, opencv().COLOR_BGR2GRAY)
    strips = find_strips(grey)
    m = measure(without_strips(pixels, strips), without_strips(grey, strips))
    numbers = {"strip_top": strips[0], "strip_bottom": strips[1], "rows": pixels.shape[0]}
    return Look(
        frame=frame,
        maker=MAKER,
        light=light_of(m),
        brightness=round(m.brightness, 2),
        contrast=round(m.contrast, 2),
        colour=round(m.colour, 2),
        sharpness=round(m.sharpness, 4),
        numbers=json.dumps(numbers),
        glance=pack(grey),
    )


def measure(pixels: NDArray[Any], grey: NDArray[Any]) -> Measures:
    """Measure a picture (rows, columns, 3) and its grey values (rows, columns), 0..255."""
    cv2 = opencv()
    contrast = float(grey.std())
    fine = cv2.subtract(grey, cv2.GaussianBlur(grey, (0, 0), 1.5), dtype=cv2.CV_16S)
    return Measures(
        brightness=float(grey.mean()),
        contrast=contrast,
        colour=colourfulness(pixels),
        sharpness=float(fine.std()) / max(contrast, 1.0),
        p98=float(np.percentile(grey, 98)),
    )


def light_of(m: Measures) -> str:
    """Give the light class: colour, infrared or dark."""
    if m.p98 < DARK_BELOW:
        return "dark"
    return "colour" if m.colour >= COLOUR_FROM else "infrared"


def colourfulness(pixels: NDArray[Any]) -> float:
    """Measure the chroma that brightness does not explain, 0 for any single-hue picture."""
    cv2 = opencv()
    rows, columns = pixels.shape[:2]
    scale = min(1.0, _COLOUR_SIDE / max(rows, columns))
    size = (max(1, round(columns * scale)), max(1, round(rows * scale)))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA).reshape(-1, 3)
    blue, green, red = small.astype(np.float32).T
    luma = 0.114 * blue + 0.587 * green + 0.299 * red
    level = np.minimum(luma.astype(np.intp) // (256 // _LEVELS), _LEVELS - 1)
    return float(np.sqrt(sum(_within(c, level) for c in (red - green, (red + green) / 2 - blue))))


def _within(chroma: NDArray[Any], level: NDArray[Any]) -> float:
    """Give the variance of chroma within levels of brightness, pooled."""
    count = np.maximum(np.bincount(level, minlength=_LEVELS), 1)
    mean = np.bincount(level, weights=chroma, minlength=_LEVELS) / count
    return float(np.mean((chroma - mean[level]) ** 2))
