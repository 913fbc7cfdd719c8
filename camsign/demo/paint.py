"""Brushes: noise, leaves, strokes, on a canvas that knows its depth.

Everything is painted from far to near. The canvas keeps the distance [m] of what each pixel shows,
which later gives haze by day, the fall-off of the flash by night and what hides an animal.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt
from numpy.random import Generator
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


def byte(values: Array) -> Image:
    """Values as 8-bit pixels, cut off at black and white."""
    return np.asarray(np.clip(values, 0, 255), np.uint8)


def _far() -> Array:
    return np.full((HEIGHT, WIDTH), FAR, np.float32)


@dataclass(slots=True)
class Canvas:
    """Colors without light (BGR), distance of all things [m] and of what stands upright [m]."""

    paint: Image = field(default_factory=lambda: np.zeros((HEIGHT, WIDTH, 3), np.uint8))
    depth: Array = field(default_factory=_far)
    stands: Array = field(default_factory=_far)

    def lay(self, left: int, top: int, color: Array, alpha: Array, depth: float) -> None:
        """Lay colors (h x w x 3) with cover alpha (h x w, 0 to 1) down from a corner [px]."""
        here, part = overlap(left, top, alpha.shape)
        cover, under = alpha[part][..., None], self.paint[here]
        self.paint[here] = byte(under + (color[part] - under) * cover)
        solid = alpha[part] > 0.5
        self.depth[here][solid] = depth
        self.stands[here][solid] = depth

    @contextmanager
    def at(self, depth: float) -> Iterator[None]:
        """All that is drawn inside gets this distance [m] and hides what is behind it."""
        before = self.paint.copy()
        yield
        drawn = cv2.inRange(cv2.absdiff(self.paint, before), (0, 0, 0), (1, 1, 1)) == 0
        self.depth[drawn] = depth
        self.stands[drawn] = depth


Slices = tuple[slice, slice]


def overlap(left: int, top: int, shape: tuple[int, ...]) -> tuple[Slices, Slices]:
    """Where a box (h x w) at a corner [px] lies in the picture, and which part of it does."""
    y0, x0 = max(top, 0), max(left, 0)
    y1, x1 = max(min(top + shape[0], HEIGHT), y0), max(min(left + shape[1], WIDTH), x0)
    part = (slice(y0 - top, y1 - top), slice(x0 - left, x1 - left))
    return (slice(y0, y1), slice(x0, x1)), part


def ground_row(depth: Any) -> Any:
    """Row [px] on which something stands that is depth [m] away on level ground."""
    return HORIZON + FOCAL * EYE / depth


def column(across: Any, depth: Any) -> Any:
    """Column [px] of what is across [m] to the right of the view's middle, depth [m] away."""
    return WIDTH / 2 + FOCAL * across / depth


@lru_cache(maxsize=16)
def noise(seed: int, coarsest: int = 128, size: int = 512) -> Array:
    """Cloudy noise that tiles without a seam, size x size, mean 0, standard deviation 1."""
    rng = np.random.default_rng([seed, 91])
    total = np.zeros((size, size), np.float32)
    cell, weight = coarsest, 1.0
    while cell >= 1:
        wide = np.pad(f32(rng.normal(size=(size // cell, size // cell))), 2, mode="wrap")
        scaled = cv2.resize(wide, None, fx=cell, fy=cell, interpolation=cv2.INTER_CUBIC)
        total += weight * scaled[2 * cell : 2 * cell + size, 2 * cell : 2 * cell + size]
        cell, weight = cell // 2, weight * 0.62
    return f32((total - total.mean()) / total.std())


def sample(tile: Array, x: Array, y: Array) -> Array:
    """Read tiled noise at real-valued places x, y (same shape, below 30,000) [px of the tile]."""
    return cv2.remap(tile, f32(x), f32(y), cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)


def blend(*inks: tuple[Array, Any]) -> Array:
    """A sum of colors (BGR), each weighted by an h x w array."""
    return cv2.merge([f32(sum(weight * float(c[i]) for weight, c in inks)) for i in range(3)])


def shade(color: Color, factor: float) -> Color:
    """The color made lighter or darker by a factor."""
    b, g, r = (int(min(255, max(0, part * factor))) for part in color)
    return b, g, r


def pick(rng: Generator, colors: tuple[Color, ...], spread: float = 0.2) -> Color:
    """One of the colors, its lightness varied by about the spread."""
    return shade(colors[int(rng.integers(len(colors)))], float(1 + spread * rng.normal()))


def strokes(image: Image, lines: npt.ArrayLike, color: Color, width: float = 1) -> None:
    """Lines of one color (k x n x 2 or, of one line, n x 2 [px]), at least one pixel wide."""
    scaled = (np.asarray(lines, np.float32) * (1 << _SHIFT)).astype(np.int32)
    many = list(scaled) if scaled.ndim == 3 else [scaled]
    cv2.polylines(image, many, False, color, max(1, int(width)), cv2.LINE_AA, _SHIFT)


def leaves(
    image: Image,
    rng: Generator,
    places: Array,
    sizes: Array,
    colors: tuple[Color, ...],
    flat: float,
) -> None:
    """Small pointed ellipses at places (n x 2 [px]) of given lengths (n [px]), in order."""
    turn = rng.uniform(0, np.pi, (len(places)))[:, None]
    tint = rng.normal(0.98, 0.2, len(places))
    which = rng.integers(len(colors), size=len(places))
    around = np.linspace(0, 2 * np.pi, 7)[:-1]
    long = np.cos(around) * sizes[:, None] / 2
    wide = np.sin(around) * sizes[:, None] * 0.27
    x = places[:, 0, None] + long * np.cos(turn) - wide * np.sin(turn)
    y = places[:, 1, None] + flat * (long * np.sin(turn) + wide * np.cos(turn))
    outline = (np.stack([x, y], 2) * (1 << _SHIFT)).astype(np.int32)
    palette = np.asarray(colors, float)[which] * tint[:, None]
    for points, ink in zip(outline, palette.clip(0, 255).tolist(), strict=True):
        cv2.fillConvexPoly(image, points, ink, cv2.LINE_AA, _SHIFT)
