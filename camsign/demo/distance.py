"""The far woods: row behind row of trunks, twigs, crowns and brush that close the view."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from camsign.demo.paint import (
    FOCAL,
    HEIGHT,
    HORIZON,
    WIDTH,
    Canvas,
    Color,
    f32,
    ground_row,
    noise,
    sample,
    shade,
    stroke,
    strokes,
)

if TYPE_CHECKING:
    from camsign.demo.paint import Array
    from camsign.demo.woods import Dress


def far_woods(canvas: Canvas, rng: np.random.Generator, dress: Dress, open_: float) -> None:
    """Row behind row of far trunks, twigs, crowns and brush."""
    for depth in (150.0, 105.0, 70.0, 48.0, 35.0):
        seed = rng.uniform(0, 500, 2).astype(np.float32)
        with canvas.at(depth):
            _far_twigs(canvas, rng, depth, int(120 + 8000 / depth))
            for _ in range(int(10 + 900 / depth)):
                _far_stem(canvas, rng, depth)
        _crowns(canvas, depth, seed, dress, open_)
        _brush(canvas, depth, seed, dress)


def _far_stem(canvas: Canvas, rng: np.random.Generator, depth: float) -> None:
    x, wide = rng.uniform(0, WIDTH), FOCAL * float(rng.choice([0.07, 0.13, 0.25, 0.4])) / depth
    foot, lean = ground_row(depth), rng.normal(0, 16)
    line = f32([[x, foot], [x + 0.45 * lean + rng.normal(0, 3), foot * 0.5], [x + lean, 0]])
    stroke(canvas.paint, line, shade((70, 80, 88), rng.uniform(0.6, 1.15)), max(1, round(wide)))


def _far_twigs(canvas: Canvas, rng: np.random.Generator, depth: float, n: int) -> None:
    """Fine branches, leaning up and out, that grey the bare woods."""
    start = np.stack([rng.uniform(0, WIDTH, n), HORIZON - 150 + rng.normal(0, 110, n)], 1)
    long, aim = rng.uniform(0.6, 2.6, n) * FOCAL / depth, rng.normal(-np.pi / 2, 0.75, n)
    way = np.stack([np.cos(aim), np.sin(aim)], 1) * long[:, None]
    lines = np.stack([start, start + 0.5 * way + 0.06 * way[:, ::-1], start + way], 1)
    for i, tone in enumerate((0.75, 0.88, 1.0, 1.12)):
        strokes(canvas.paint, lines[i::4], shade((96, 106, 114), tone), 1)


def _grid(top: float, foot: float) -> tuple[Array, Array]:
    rows = slice(max(0, int(top)), min(HEIGHT, int(foot)))
    y, x = np.mgrid[rows, 0:WIDTH].astype(np.float32)
    return x, y


def _crowns(canvas: Canvas, depth: float, seed: Array, dress: Dress, open_: float) -> None:
    bar = 0.95 + open_ + 3.2 * (1 - dress.cover)
    if bar > 3:
        return
    x, y = _grid(0, HORIZON + 30)
    near = 60 / depth
    big = sample(noise(5), x * 0.42 / near + seed[0], y * 0.6 / near + seed[1])
    fine = sample(noise(6, 16), x * 0.9 / near**0.5 + seed[1], y * 1.2 / near**0.5 + seed[0])
    high = (HORIZON - y) / HORIZON
    _leafy(canvas, 0, 0.8 * big + 0.55 * fine + 1.5 * high - bar, fine, big, depth, dress.leaves)


def _brush(canvas: Canvas, depth: float, seed: Array, dress: Dress) -> None:
    """Brush along the ground that closes the view at its distance."""
    columns = np.arange(WIDTH, dtype=np.float32)[None]
    hump = sample(noise(7), columns * 0.5 + seed[0], np.full_like(columns, seed[1]))
    tall = FOCAL * (0.9 + 0.45 * hump) / depth * (0.45 + 0.55 * dress.cover)
    foot = ground_row(depth)
    x, y = _grid(foot - tall.max() - 20, foot + 6)
    fine = sample(noise(6, 16), x * 1.1 + seed[1], y * 1.3 + seed[1])
    inside = np.minimum((y - (foot - tall)) / 12, (foot + 3 - y) / 3)
    leafy = dress.cover > 0.3
    amount = inside + 0.9 * fine - 0.4 if leafy else np.minimum(inside, 0.9) + 0.5 * fine - 0.4
    colors = dress.leaves if leafy else ((96, 106, 116), (80, 90, 100))
    _leafy(canvas, int(y[0, 0]), amount, fine, hump + 0 * y, depth, colors)


def _leafy(
    canvas: Canvas,
    top: int,
    amount: Array,
    fine: Array,
    big: Array,
    depth: float,
    colors: tuple[Color, ...],
) -> None:
    alpha = np.clip(amount * 2.2, 0, 1).astype(np.float32)
    mix = np.clip(0.5 + 0.3 * big, 0, 1)
    tone = np.clip(0.86 + 0.2 * fine + 0.12 * big, 0.45, 1.3)
    first, second = mix * tone, (1 - mix) * tone
    parts = [first * a + second * b for a, b in zip(colors[0], colors[1], strict=True)]
    canvas.lay((0, top, WIDTH, amount.shape[0]), cv2.merge(parts).astype(np.float32), alpha, depth)
