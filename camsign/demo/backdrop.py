"""One camera's view without animals, composed once for each dress of the year, lit twice."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import cv2
import numpy as np

from camsign.demo import woods
from camsign.demo.distance import far_woods
from camsign.demo.paint import (
    EYE,
    FAR,
    FOCAL,
    HEIGHT,
    HORIZON,
    WIDTH,
    Canvas,
    byte,
    column,
    f32,
    ground_row,
    leaves,
    noise,
    sample,
)

if TYPE_CHECKING:
    from camsign.demo.land import View
    from camsign.demo.paint import Array, Image


@dataclass(frozen=True, slots=True)
class Backdrop:
    """A view in one dress: by day (BGR), by flash (grey), distance of what hides [m], haze."""

    day: Image
    night: Image
    stands: Array
    haze: Image


@lru_cache(maxsize=10)
def backdrop(view: View, dress: str) -> Backdrop:
    """The view in a dress of the year: green, gold, bare or snow."""
    look = woods.DRESS[dress]
    canvas = Canvas()
    canvas.paint[:] = (214, 214, 206)
    far_woods(canvas, np.random.default_rng([view.seed, 1]), look, view.open)
    _ground(canvas, view, look)
    _standing(canvas, view, look)
    haze = (1 - np.exp(-np.minimum(canvas.depth, 400) / 95)).astype(np.float32)
    veil = (255 * haze).astype(np.uint8)
    return Backdrop(_daylight(canvas, haze), _flash(canvas, look), canvas.stands, veil)


GROUND = int(HORIZON + FOCAL * EYE / 33) + 1  # the first row of ground, 33 m away


def _plane() -> tuple[Array, Array]:
    """Across and depth [m] of the ground in every pixel from the row GROUND down."""
    y, x = np.mgrid[GROUND:HEIGHT, 0:WIDTH].astype(np.float32)
    depth = f32(FOCAL * EYE) / (y - HORIZON)
    return (x - WIDTH / 2) * depth / f32(FOCAL), depth


def trail_depth(view: View, across: Array) -> Array:
    """Distance [m] of the trail's middle at places across the view [m]."""
    return view.trail_m + 0.10 * across + 0.35 * np.sin(across * 0.7 + view.seed)


def _ground(canvas: Canvas, view: View, look: woods.Dress) -> None:
    across, depth = _plane()
    coarse = sample(noise(11), across * 16 + view.seed, depth * 16)
    fine = sample(noise(12, 16), across * 60, depth * 60) * np.minimum(7 / depth, 1)
    worn = np.exp(-(((depth - trail_depth(view, across)) / f32(0.42)) ** 2))
    tone = np.clip(0.82 + 0.12 * coarse + 0.24 * fine, 0.3, 1.5)
    share = np.clip(look.fallen * (0.75 + 0.25 * coarse) * (1 - 0.6 * worn), 0, 1) * f32(0.8)
    moss = np.clip(coarse - 0.9, 0, 1) * f32(0.7 if look.cover > 0.1 else 0.35)
    bare, litter = tone * (1 - 0.2 * worn) * (1 - share) * (1 - moss), tone * share * (1 - moss)
    leaf = [(a + b) / 2 for a, b in zip(look.litter[0], woods.BROWNS[1], strict=True)]
    inks = zip(look.ground, leaf, (48, 92, 74), strict=True)
    color = cv2.merge(
        [(bare * a + litter * b + tone * moss * c).astype(np.float32) for a, b, c in inks]
    )
    if look.snow:
        color = _snowed(color, coarse, fine, worn)
    canvas.paint[GROUND:] = color.clip(0, 255).astype(np.uint8)
    canvas.depth[GROUND:] = depth
    _litter(canvas, view, look)


def _snowed(color: Array, coarse: Array, fine: Array, worn: Array) -> Array:
    """Snow over the ground, grey in its hollows, thin where deer walk."""
    tone = 0.80 + 0.045 * coarse + 0.03 * fine - 0.13 * worn * (1 + 0.5 * fine)
    white = f32(woods.SNOW) * tone[..., None] * f32([1.0, 0.99, 0.975])
    bare = np.clip(coarse * 1.1 + fine * 0.8 + 0.8 * worn - 2.1, 0, 1)[..., None]
    return (white * (1 - bare) + color * bare).astype(np.float32)


def _litter(canvas: Canvas, view: View, look: woods.Dress) -> None:
    rng = np.random.default_rng([view.seed, 2])
    n = int(9000 * (0.2 + 0.8 * look.fallen)) if not look.snow else 260
    depth = 3.1 / np.sqrt(rng.uniform(0.02, 1, n))
    across = rng.uniform(-0.52, 0.52, n) * depth
    off = np.abs(depth - trail_depth(view, across.astype(np.float32))) > rng.uniform(0, 0.45, n)
    order = np.argsort(-depth)
    order = order[off[order]]
    x, y = WIDTH / 2 + FOCAL * across / depth, HORIZON + FOCAL * EYE / depth
    places = np.stack([x, y], 1)[order]
    size = (FOCAL * 0.055 / depth * rng.uniform(0.5, 1.3, n))[order]
    leaves(canvas, rng, places.astype(np.float32), size.astype(np.float32), look.litter, 0.4)


def _standing(canvas: Canvas, view: View, look: woods.Dress) -> None:
    """Trunks, firs, saplings, ferns, stones and logs, from far to near; the trail stays free."""
    rng = np.random.default_rng([view.seed, 3])
    things: list[tuple[float, float, str, int]] = []
    for kind, count, near, far in (
        ("trunk", view.stems, 4.6, 32.0),
        ("fir", view.firs, 7.5, 24.0),
        ("sapling", view.saplings, 6.0, 20.0),
        ("fern", view.ferns, 3.6, 16.0),
        ("stone", view.stones, 5.0, 17.0),
        ("log", view.logs, 9.0, 15.0),
    ):
        for _ in range(count):
            depth = float(np.sqrt(rng.uniform(near**2, far**2)))
            across = float(rng.uniform(-0.54, 0.54) * depth)
            gap = depth - float(trail_depth(view, f32([across]))[0])
            if kind != "fern" and abs(gap) < 0.7:
                depth += 1.6 if gap > 0 else 2.6
            things.append((depth, across, kind, int(rng.integers(1 << 30))))
    for depth, across, kind, seed in sorted(things, reverse=True):
        _place(canvas, kind, (across, depth), seed, view, look)


def _place(
    canvas: Canvas, kind: str, at: tuple[float, float], seed: int, view: View, look: woods.Dress
) -> None:
    rng = np.random.default_rng(seed)
    if kind == "trunk":
        girth = woods.trunk(canvas, seed, at, view.trees[seed % len(view.trees)])
        _foot_shade(canvas, at, girth, look)
    elif kind == "fir":
        woods.fir(canvas, rng, at, float(rng.uniform(0.8, 2.6)), look.snow)
    elif kind == "sapling":
        woods.sapling(canvas, rng, at, float(rng.uniform(1.8, 3.4)), look)
    elif kind == "fern":
        woods.fern(canvas, rng, at, float(rng.uniform(0.25, 0.5)), look)
    elif kind == "stone":
        woods.stone(canvas, rng, at, float(rng.uniform(0.3, 0.85)), look.snow)
    else:
        woods.log(canvas, rng, at, float(rng.uniform(2.0, 4.2)), look.snow)


def _foot_shade(canvas: Canvas, at: tuple[float, float], girth: float, look: woods.Dress) -> None:
    """The dark that gathers at a trunk's foot."""
    across, depth = at
    scale = FOCAL / depth
    x, y, w, h = column(across, depth), ground_row(depth), 1.5 * girth * scale, 0.32 * girth * scale
    left, top = int(x - 2 * w), int(y - 2 * h)
    gy, gx = np.mgrid[0 : int(4 * h) + 2, 0 : int(4 * w) + 2].astype(np.float32)
    away = ((gx - 2 * w) / w) ** 2 + ((gy - 2 * h) / max(h, 1)) ** 2
    dark = (0.45 if not look.snow else 0.22) * np.exp(-away)
    canvas.darken(left, top, dark)


def _daylight(canvas: Canvas, haze: Array) -> Image:
    """Even daylight from above with haze, and the sky's glow that eats into the twigs."""
    y = np.mgrid[0:HEIGHT, 0:WIDTH][0].astype(np.float32)[..., None]
    air = f32([204, 210, 202]) * (1.02 + 0.16 * (1 - y / HORIZON).clip(-1, 1))
    lit = canvas.paint * f32([1.0, 1.02, 1.02])
    seen = lit * (1 - haze[..., None]) + air * haze[..., None]
    bright = np.clip(seen - 190, 0, 70)
    small = cv2.resize(bright, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    wide = cv2.GaussianBlur(small, (0, 0), 3.5) * 0.7 + cv2.GaussianBlur(small, (0, 0), 1) * 0.3
    return byte(seen + cv2.resize(wide, (WIDTH, HEIGHT)))


def flash_share(x: Array, y: Array, depth: Array) -> Array:
    """Share of the flash that comes back from a place in the picture [px], depth [m] away."""
    away = np.hypot((x - WIDTH / 2) / 620, (y - HEIGHT * 0.5) / 400)
    beam = 0.10 + 0.95 * np.exp(-1.25 * away**2)
    reach = np.minimum(1.35, (6.2 / np.minimum(depth, FAR)) ** 1.45)
    return np.asarray(beam * reach, np.float32)


def _flash(canvas: Canvas, look: woods.Dress) -> Image:
    """What infrared flash shows: bright near the middle, falling off with distance."""
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(np.float32)
    paint = canvas.paint.astype(np.float32)
    grey = 0.2 * paint[..., 0] + 0.5 * paint[..., 1] + 0.4 * paint[..., 2]
    leafy = np.clip((paint[..., 1] - paint[..., 2]) / 40, 0, 1)
    lit = grey * (1 + 0.8 * leafy) * flash_share(x, y, canvas.depth) * (0.85 if look.snow else 1.15)
    return byte(255 * (1 - np.exp(-lit / 165)) + 7)


@lru_cache(maxsize=8)
def dapples(view: View) -> Image:
    """Sun and shade on ground and trunks as a gain (128 is 1), wider than a picture."""
    wide = WIDTH + 256
    y, x = np.mgrid[0:HEIGHT, 0:wide].astype(np.float32)
    depth = FOCAL * EYE / np.maximum(y - HORIZON, 62)
    across = (x - wide / 2) * depth / FOCAL
    ground = sample(noise(13), across * 26 + view.seed, depth * 17)
    upright = sample(noise(14), x * 0.6 + view.seed, y * 0.6)
    low = np.clip((y - HORIZON - 62) / 70, 0, 1)
    patch = 1 / (1 + np.exp(-5.5 * ((ground * low + upright * (1 - low)) - 0.55)))
    strength = 0.22 + 0.78 * low
    gain = 1 + strength * (0.55 * patch - 0.2)
    return byte(gain * 128)
