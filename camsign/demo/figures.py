"""From outlines in meters to a rounded figure, lit from the sky by day, by the flash at night."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np

from camsign.demo.paint import Array, Color, Image, byte, f32, noise, sample

GRAIN = 190.0  # resolution of a figure before it is placed [px/m]
_SHIFT = 4
_SPARE = 0.05  # empty rim around a figure [m]
Box = tuple[float, float, float, float]  # left, foot, right, top [m]


@dataclass(frozen=True, slots=True)
class Patch:
    """One piece: outline (n x 2 [m], x forward, y up), color, how far it stands out [m], its layer.

    Layer 0 is the far side, 1 the near side. A bulge of 0 only colors what is there already.
    """

    outline: Array
    color: Color
    bulge: float = 0.0
    layer: int = 1
    soft: float = 0.0  # blur of the color's edge [m]


@dataclass(frozen=True, slots=True)
class Sprite:
    """A finished figure facing right: colors by day, gray by flash, cover, eye [m].

    `box` is what of the plane it covers [m]; it stands on y = 0 with its middle at x = 0.
    """

    day: Image
    night: Image
    cover: Image
    box: Box
    eye: tuple[float, float] | None


def cm(text: str) -> Array:
    """Points "x,y x,y ..." [cm] as n x 2 [m]."""
    return f32([pair.split(",") for pair in text.split()]) / 100


def blob(points: Array, steps: int = 8) -> Array:
    """A smooth closed outline through points (n x 2 [m]; Catmull-Rom)."""
    b = f32(points)[:, None]
    t = (np.arange(steps, dtype=np.float32) / steps)[None, :, None]
    a, c, d = np.roll(b, 1, 0), np.roll(b, -1, 0), np.roll(b, -2, 0)
    bend = (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3
    return np.asarray(0.5 * (2 * b + (c - a) * t + bend)).reshape(-1, 2)


def limb(joints: Array, widths: Array) -> Array:
    """The outline around a chain of joints (n x 2 [m]) with a width [m] at each."""
    joints, widths = f32(joints), f32(widths)
    along = np.gradient(joints, axis=0)
    along /= np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-6)[:, None]
    side = np.stack([-along[:, 1], along[:, 0]], 1) * widths[:, None] / 2
    return blob(np.concatenate([joints + side, (joints - side)[::-1]]), steps=4)


def turned(points: Array, about: Array | tuple[float, float], angle: float) -> Array:
    """Points (n x 2) turned about a place by an angle [rad], counter-clockwise."""
    c, s = np.cos(angle), np.sin(angle)
    middle = f32(about)
    return ((f32(points) - middle) @ f32([[c, s], [-s, c]]) + middle).astype(np.float32)


def build(parts: list[Patch], eye: tuple[float, float] | None, fur: float = 0.055) -> Sprite:
    """Paint the parts in order, far layer first, and light them."""
    points = np.concatenate([part.outline for part in parts])
    low, high = points.min(0) - _SPARE, points.max(0) + _SPARE
    box = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    day, night, cover = _layer([part for part in parts if part.layer == 1], box, fur, 1.0)
    far = [part for part in parts if part.layer == 0]
    if far:
        behind = _layer(far, box, fur, 0.62)
        hidden = cover.astype(np.float32) / 255
        day = behind[0] + (day - behind[0]) * hidden[..., None]
        night = behind[1] + (night - behind[1]) * hidden
        cover = cv2.max(cover, behind[2])
    return Sprite(byte(day), byte(night), cover, box, eye)


def _layer(parts: list[Patch], box: Box, fur: float, light: float) -> tuple[Array, Array, Image]:
    shape = (int((box[3] - box[1]) * GRAIN), int((box[2] - box[0]) * GRAIN))
    color: Array = np.zeros((*shape, 3), np.float32)
    cover, height = np.zeros(shape, np.uint8), np.zeros(shape, np.float32)
    for part in parts:
        here, mask = _mask(part.outline, box, 3 + int(3 * part.soft * GRAIN), shape)
        if part.bulge > 0:
            height[here] = cv2.max(height[here], _rise(mask, part.bulge))
            cover[here] = cv2.max(cover[here], mask)
        blend: Array = mask.astype(np.float32) / 255
        if part.soft:
            blend = cv2.GaussianBlur(blend, (0, 0), part.soft * GRAIN)
        color[here] += (f32(part.color) - color[here]) * blend[..., None]
    color = cv2.GaussianBlur(color, (0, 0), 0.004 * GRAIN)
    return *_lit(color, cv2.GaussianBlur(height, (0, 0), 0.011 * GRAIN), fur, light), cover


def _mask(
    outline: Array, box: Box, spare: int, shape: tuple[int, int]
) -> tuple[tuple[slice, slice], Image]:
    """The outline filled (0 to 255) in the smallest box that holds it, and where that box is."""
    at = np.stack([(outline[:, 0] - box[0]) * GRAIN, (box[3] - outline[:, 1]) * GRAIN], 1)
    low = np.maximum(np.floor(at.min(0)).astype(int) - spare, 0)
    high = np.minimum(np.ceil(at.max(0)).astype(int) + spare, (shape[1], shape[0]))
    mask = np.zeros((max(high[1] - low[1], 1), max(high[0] - low[0], 1)), np.uint8)
    scaled = np.round((at - low) * (1 << _SHIFT)).astype(np.int32)
    cv2.fillPoly(mask, [scaled], (255,), cv2.LINE_AA, _SHIFT)
    return (slice(low[1], low[1] + mask.shape[0]), slice(low[0], low[0] + mask.shape[1])), mask


def _rise(mask: Image, bulge: float) -> Array:
    """How far each place of a filled part stands out [m]: round at its edge, flat inside."""
    inner = cv2.distanceTransform((mask > 127).astype(np.uint8), cv2.DIST_L2, 5) / f32(GRAIN)
    edge = 1 - np.minimum(inner / f32(bulge), 1)
    return f32(bulge * np.sqrt(1 - edge * edge))


@lru_cache(maxsize=1)
def _hair() -> Array:
    """Strokes of fur, larger than any figure."""
    y, x = np.mgrid[0:512, 0:640].astype(np.float32)
    return sample(noise(9, 8), x * 0.5 + y * 0.3, y * 1.2 - x * 0.3)


def _lit(color: Array, height: Array, fur: float, light: float) -> tuple[Array, Array]:
    slope_x = cv2.Sobel(height, cv2.CV_32F, 1, 0, scale=GRAIN / 8)
    slope_y = cv2.Sobel(height, cv2.CV_32F, 0, 1, scale=GRAIN / 8)
    front = 1 / np.sqrt(1 + slope_x * slope_x + slope_y * slope_y)
    hair = light * (1 + fur * _hair()[: color.shape[0], : color.shape[1]])
    sky = np.clip((0.55 - 0.12 * slope_x + 0.62 * slope_y) * front, 0, 1.2)
    gray = color @ f32([0.25, 0.4, 0.45])
    return color * (hair * (0.42 + 0.62 * sky))[..., None], gray * hair * (0.35 + 0.75 * front)
