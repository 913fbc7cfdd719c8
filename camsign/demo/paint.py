"""Brushes: noise, leaves, trunks and firs, painted into a canvas that knows its depth.

Everything is painted from far to near. The canvas keeps the distance [m] of what each pixel shows,
which later gives haze by day, the fall-off of the flash by night and what hides an animal.
"""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy.typing as npt
    from numpy.typing import NDArray

    # OpenCV's own type hints do not tell arrays of numbers apart.
    Array = NDArray[Any]  # float32
    Image = NDArray[Any]  # uint8

WIDTH, HEIGHT = 1024, 576
FOCAL = 1050.0  # [px]: a field of view of 52 degrees
EYE = 1.0  # height of the camera [m]
HORIZON = 226  # row [px]
FAR = 1e4  # what the sky's distance is called [m]
_SHIFT = 3  # OpenCV draws to an eighth of a pixel

Color = tuple[int, int, int]  # blue, green, red


def f32(values: npt.ArrayLike) -> Array:
    """Numbers as an array of 32-bit floats, enough for pictures and half the work."""
    return np.asarray(values, np.float32)


def _blank() -> Image:
    return np.zeros((HEIGHT, WIDTH, 3), np.uint8)


def _depth() -> Array:
    return np.full((HEIGHT, WIDTH), FAR, np.float32)


@dataclass(slots=True)
class Canvas:
    """Colours without light (BGR), distance of all things [m] and of what stands upright [m]."""

    paint: Image = field(default_factory=_blank)
    depth: Array = field(default_factory=_depth)
    stands: Array = field(default_factory=_depth)

    def lay(self, box: tuple[int, int, int, int], color: Array, alpha: Array, depth: float) -> None:
        """Lay colours (h x w x 3) with cover alpha (h x w, 0 to 1) into box (left, top, w, h)."""
        left, top, width, height = box
        x0, y0 = max(left, 0), max(top, 0)
        x1, y1 = min(left + width, WIDTH), min(top + height, HEIGHT)
        if x0 >= x1 or y0 >= y1:
            return
        part = (slice(y0 - top, y1 - top), slice(x0 - left, x1 - left))
        here = (slice(y0, y1), slice(x0, x1))
        cover = alpha[part][..., None]
        under = self.paint[here]
        self.paint[here] = (under + (color[part] - under) * cover).clip(0, 255).astype(np.uint8)
        solid = alpha[part] > 0.5
        self.depth[here][solid] = depth
        self.stands[here][solid] = depth

    def darken(self, left: int, top: int, by: Array) -> None:
        """Take a share (h x w, 0 to 1) of the light away, from the corner (left, top) on."""
        x0, y0 = max(left, 0), max(top, 0)
        part = self.paint[y0 : max(top + by.shape[0], 0), x0 : max(left + by.shape[1], 0)]
        cut = by[y0 - top :, x0 - left :][: part.shape[0], : part.shape[1], None]
        part[:] = (part * (1 - cut)).astype(np.uint8)

    @contextmanager
    def at(self, depth: float) -> Iterator[None]:
        """All that is drawn inside gets this distance [m] and hides what is behind it."""
        before = self.paint.copy()
        yield
        drawn = cv2.inRange(cv2.absdiff(self.paint, before), (0, 0, 0), (1, 1, 1)) == 0
        self.depth[drawn] = depth
        self.stands[drawn] = depth


def ground_row(depth: float) -> float:
    """Row [px] on which something stands that is depth [m] away on level ground."""
    return HORIZON + FOCAL * EYE / depth


def byte(values: Array) -> Image:
    """Values as 8-bit pixels, cut off at black and white."""
    return np.asarray(np.clip(values, 0, 255), np.uint8)


def column(across: float, depth: float) -> float:
    """Column [px] of what is across [m] to the right of the view's middle, depth [m] away."""
    return WIDTH / 2 + FOCAL * across / depth


@lru_cache(maxsize=16)
def noise(seed: int, coarsest: int = 128, size: int = 512) -> Array:
    """Cloudy noise that tiles without a seam, size x size, mean 0, standard deviation 1."""
    rng = np.random.default_rng([seed, 91])
    total = np.zeros((size, size), np.float32)
    cell, weight = coarsest, 1.0
    while cell >= 1:
        grid = rng.normal(size=(size // cell, size // cell)).astype(np.float32)
        wide = np.pad(grid, 2, mode="wrap")
        scaled = cv2.resize(wide, None, fx=cell, fy=cell, interpolation=cv2.INTER_CUBIC)
        total += weight * scaled[2 * cell : 2 * cell + size, 2 * cell : 2 * cell + size]
        cell, weight = cell // 2, weight * 0.62
    return f32((total - total.mean()) / total.std())


def sample(tile: Array, x: Array, y: Array) -> Array:
    """Read tiled noise at real-valued places x, y (same shape, below 30,000) [px of the tile]."""
    x, y = np.asarray(x, np.float32), np.asarray(y, np.float32)
    return cv2.remap(tile, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)


def shade(color: Color, factor: float) -> Color:
    """The colour made lighter or darker by a factor."""
    b, g, r = (int(min(255, max(0, part * factor))) for part in color)
    return b, g, r


def pick(rng: np.random.Generator, colors: tuple[Color, ...], spread: float = 0.2) -> Color:
    """One of the colours, its lightness varied by about the spread."""
    chosen = colors[int(rng.integers(len(colors)))]
    return shade(chosen, float(1 + spread * rng.normal()))


def leaves(
    canvas: Canvas,
    rng: np.random.Generator,
    places: Array,
    sizes: Array,
    colors: tuple[Color, ...],
    flat: float = 0.55,
) -> None:
    """Small pointed ellipses at places (n x 2 [px]) of given lengths (n [px]), in order."""
    turn = rng.uniform(0, np.pi, len(places))
    tint = rng.normal(0.98, 0.2, len(places))
    which = rng.integers(len(colors), size=len(places))
    around = np.linspace(0, 2 * np.pi, 7)[:-1]
    long = np.cos(around)[None, :] * sizes[:, None] / 2
    wide = np.sin(around)[None, :] * sizes[:, None] * 0.27
    x = places[:, 0, None] + long * np.cos(turn)[:, None] - wide * np.sin(turn)[:, None]
    y = places[:, 1, None] + flat * (long * np.sin(turn)[:, None] + wide * np.cos(turn)[:, None])
    outline = (np.stack([x, y], 2) * (1 << _SHIFT)).astype(np.int32)
    palette = np.asarray(colors, float)[which] * tint[:, None]
    for points, ink in zip(outline, palette.clip(0, 255).tolist(), strict=True):
        cv2.fillConvexPoly(canvas.paint, points, ink, cv2.LINE_AA, _SHIFT)


def stroke(image: Image, points: Array, color: Color, width: int = 1) -> None:
    """A line through points (n x 2 [px])."""
    scaled = (points * (1 << _SHIFT)).astype(np.int32)
    cv2.polylines(image, [scaled], False, color, width, cv2.LINE_AA, _SHIFT)


def strokes(image: Image, lines: Array, color: Color, width: int = 1) -> None:
    """Many lines of one colour at once (k x n x 2 [px])."""
    scaled = (np.asarray(lines) * (1 << _SHIFT)).astype(np.int32)
    cv2.polylines(image, list(scaled), False, color, width, cv2.LINE_AA, _SHIFT)
