"""What the pixels of one frame measure, the info strip left out.

All on the reduced picture (pixels.decode), 0..255 scale:

- brightness: mean of the gray values (ITU-R BT.601 luma, as OpenCV computes it).
- contrast: their standard deviation.
- color: on means of about 5 x 5 pixels, how much chroma there is that brightness does not
  explain. Chroma is (R - G, (R + G) / 2 - B); the mean chroma of each of 32 brightness levels is
  taken off and the standard deviation of the rest, of both parts together, is the measure. A
  picture of one hue (sepia, the purple cast of some infrared cameras, any toning that is a function
  of brightness) has none.
- sharpness: standard deviation of what is finer than a Gaussian of 1.5 pixels, as a share of the
  contrast. It sees blur of more than about 8 pixels of the full picture, takes noise for detail.

Light: `dark` if 98% of the pixels are below 40 (nothing can be recognized); else `infrared` if
color is below 2.0; else `color`.

Scores, 0..1, in `numbers` (0.5 is the middle of the doubt; a frame may have several):

- flash: in color, but lit from the camera: the darkest tenth is black, the middle of the picture
  is far brighter than its upper rim.
- washed: the share of pixels at or above 250 is large.
- fogged: contrast is low and even the darkest fiftieth of the pixels is gray (fog, a wet lens).
- blurred: little is finer than a Gaussian of 1.5 pixels, though there is contrast.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from camsign.logbook.records import Look
from camsign.logbook.versions import version_of
from camsign.pixels.decode import Reduced
from camsign.pixels.glance import pack
from camsign.pixels.info_strip import find_strips, without_strips
from camsign.pixels.opencv import opencv

DARK_BELOW = 40.0
COLOR_FROM = 2.0

_LEVELS = 32
_COLOR_SIDE = 96  # pixels; means of many pixels carry little of a JPEG's own color noise


@dataclass(frozen=True, slots=True)
class Measures:
    """The measures of one picture, as this module's text defines them.

    p02, p10, p98: gray values that so many percent of the pixels do not exceed. white: the share
    of pixels at or above 250. rim: gray value of the upper sixth; middle: of the middle third.
    """

    brightness: float
    contrast: float
    colour: float
    sharpness: float
    p02: float
    p10: float
    p98: float
    white: float
    rim: float
    middle: float


@cache
def maker() -> int:
    """Give the version of what is measured here; `look` measures a frame of another one again."""
    return int(version_of(__name__)[:7], 16)


def look(frame: str, reduced: Reduced) -> Look:
    """Measure a frame's reduced picture; of a picture cut short, the part that is there."""
    pixels = reduced.pixels
    pixels = pixels[: max(1, round(pixels.shape[0] * reduced.seen))]
    gray = opencv().cvtColor(pixels, opencv().COLOR_BGR2GRAY)
    strips = find_strips(gray)
    m = measure(without_strips(pixels, strips), without_strips(gray, strips))
    numbers: dict[str, float] = {
        "strip_top": strips[0],
        "strip_bottom": strips[1],
        "rows": pixels.shape[0],
    }
    numbers |= {name: round(score, 3) for name, score in flaws(m).items()}
    light = light_of(m)
    return Look(
        frame=frame,
        maker=maker(),
        light=light,
        brightness=round(m.brightness, 2),
        contrast=round(m.contrast, 2),
        colour=round(m.colour, 2),
        sharpness=round(m.sharpness, 4),
        numbers=json.dumps(numbers),
        glance=pack(pixels if light == "colour" else gray),
    )


def measure(pixels: NDArray[Any], gray: NDArray[Any]) -> Measures:
    """Measure a picture (rows, columns, 3) and its gray values (rows, columns), 0..255."""
    cv2 = opencv()
    brightness, contrast = (float(value[0, 0]) for value in cv2.meanStdDev(gray))
    below = np.cumsum(cv2.calcHist([gray], [0], None, [256], [0, 256])) / gray.size
    smooth = cv2.GaussianBlur(gray, (7, 7), 1.5)
    fine = cv2.norm(gray, smooth, cv2.NORM_L2SQR) / gray.size
    fine -= (brightness - cv2.mean(smooth)[0]) ** 2
    return Measures(
        brightness=brightness,
        contrast=contrast,
        colour=colorfulness(pixels),
        sharpness=max(fine, 0.0) ** 0.5 / max(contrast, 1.0),
        p02=_level(below, 0.02),
        p10=_level(below, 0.10),
        p98=_level(below, 0.98),
        white=float(1 - below[249]),
        rim=float(cv2.mean(gray[: max(1, gray.shape[0] // 6)])[0]),
        middle=float(cv2.mean(_middle(gray))[0]),
    )


def _level(below: NDArray[Any], share: float) -> float:
    return float(np.searchsorted(below, share))


def _middle(gray: NDArray[Any]) -> NDArray[Any]:
    rows, columns = (max(1, n // 3) for n in gray.shape)
    return gray[rows : 2 * rows, columns : 2 * columns] if min(gray.shape) > 2 else gray


def flaws(m: Measures) -> dict[str, float]:
    """Score flash, washed, fogged and blurred, each 0..1."""
    colour = _ramp(m.colour, COLOR_FROM, 2 * COLOR_FROM)
    lit = _ramp(m.middle / max(m.rim, 1.0), 2.0, 4.0) * _ramp(-m.p10, -20, -8)
    return {
        "flash": colour * lit,
        "washed": _ramp(m.white, 0.15, 0.45),
        "fogged": _ramp(m.p02, 40, 90) * _ramp(-m.contrast, -34, -18),
        "blurred": _ramp(-m.sharpness, -0.06, -0.03) * _ramp(m.contrast, 6, 12),
    }


def _ramp(value: float, low: float, high: float) -> float:
    return min(max((value - low) / (high - low), 0.0), 1.0)


def light_of(m: Measures) -> str:
    """Give the light class: color, infrared or dark."""
    if m.p98 < DARK_BELOW:
        return "dark"
    return "colour" if m.colour >= COLOR_FROM else "infrared"


def colorfulness(pixels: NDArray[Any]) -> float:
    """Measure the chroma that brightness does not explain, 0 for any single-hue picture."""
    cv2 = opencv()
    rows, columns = pixels.shape[:2]
    block = max(1, round(max(rows, columns) / _COLOR_SIDE))  # whole blocks are averaged quickly
    size = (max(1, columns // block), max(1, rows // block))
    whole = pixels[: size[1] * block, : size[0] * block]
    small = cv2.resize(whole, size, interpolation=cv2.INTER_AREA).reshape(-1, 3)
    blue, green, red = np.ascontiguousarray(small.T, np.float32)
    luma = 0.114 * blue + 0.587 * green + 0.299 * red
    level = luma.astype(np.intp) // (256 // _LEVELS)
    count = np.maximum(np.bincount(level, minlength=_LEVELS), 1)
    chroma = (red - green, (red + green) / 2 - blue)
    return float(np.sqrt(sum(_within(c.astype(np.float64), level, count) for c in chroma)))


def _within(chroma: NDArray[Any], level: NDArray[Any], count: NDArray[Any]) -> float:
    """Give the variance of chroma within levels of brightness, pooled."""
    total = np.bincount(level, weights=chroma, minlength=_LEVELS)
    return max(float(chroma @ chroma - (total * total / count).sum()), 0.0) / chroma.size
