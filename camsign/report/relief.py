"""The lay of the land as a picture to lie beneath a map: shaded relief with contours."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure

from camsign.ground.grid import Grid, hillshade

Box = tuple[float, float, float, float]
"""West, south, east, north [m on the grid's plane]."""

FOOT_M = 0.3048
_ON_DARK = ("#0d120f", "#3a4a3f", "#93a596")
_ON_LIGHT = ("#d3cfbd", "#faf8f0", "#75715c")
"""Shade, light and lines, for a dark page and for a light one."""
# Contours are this far apart, the first that gives no more than so many lines.
_STEPS_FT, _STEPS_M = (10, 20, 40, 80, 200, 400), (2, 5, 10, 20, 50, 100)
_MOST_LINES, _PIXELS, _DPI = 22, 2000, 100
_FINE_CELLS = 600
_NEAR_M = 4000.0
"""A wider box is looked at enlarged, so its letters are drawn smaller [m]."""


def draw_relief(grid: Grid, box: Box, metric: bool, light: bool = False) -> bytes:
    """Draw a box of the ground as a PNG, lit from the northwest, clear where no height is known.

    Args:
        grid: heights [m].
        box: what is drawn, edge to edge.
        metric: contours in meters, else in feet; every fifth is heavier and has its height.
        light: for a light page.
    """
    part = finer(cropped(grid, box))
    rows, columns = part.heights.shape
    wide, tall = box[2] - box[0], box[3] - box[1]
    scale = _PIXELS / max(wide, tall) / _DPI
    figure = Figure(figsize=(wide * scale, tall * scale), dpi=_DPI)
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    east, south = part.west + columns * part.cell, part.north - rows * part.cell
    shade, lit, line = _ON_LIGHT if light else _ON_DARK
    colors = LinearSegmentedColormap.from_list("ground", [shade, lit])
    axes.imshow(
        np.ma.masked_invalid(hillshade(part)), cmap=colors, vmin=0.25, vmax=1.0,
        extent=(part.west, east, south, part.north), interpolation="bicubic",
    )  # fmt: skip
    letters, fewest = 15 * min(1.0, _NEAR_M / max(wide, tall)), part.heights.size // 20
    contours(axes, part, metric, line, (1.0, 1.8), (0.4, 0.65), letters, fewest)
    axes.set(xlim=(box[0], box[2]), ylim=(box[1], box[3]))
    out = io.BytesIO()
    figure.savefig(out, format="png", transparent=True)
    return out.getvalue()


def cropped(grid: Grid, box: Box) -> Grid:
    """The cells of a box and two around it, as far as the grid goes."""
    rows, columns = grid.heights.shape
    c0 = int(np.clip((box[0] - grid.west) // grid.cell - 2, 0, columns - 3))
    c1 = int(np.clip((box[2] - grid.west) // grid.cell + 3, c0 + 3, columns))
    r0 = int(np.clip((grid.north - box[3]) // grid.cell - 2, 0, rows - 3))
    r1 = int(np.clip((grid.north - box[1]) // grid.cell + 3, r0 + 3, rows))
    west, north = grid.west + c0 * grid.cell, grid.north - r0 * grid.cell
    return Grid(grid.heights[r0:r1, c0:c1], west, north, grid.cell)


def finer(grid: Grid) -> Grid:
    """The same heights with more cells, bent smoothly, so that lines of few cells have no corners.

    Where heights are unknown, or cells are many, it stays as it is.
    """
    times = min(_FINE_CELLS // max(grid.heights.shape), 16)
    if times < 2 or np.isnan(grid.heights).any():
        return grid
    from scipy.ndimage import zoom

    heights = zoom(grid.heights, times, order=3, mode="nearest", grid_mode=True)
    return Grid(heights, grid.west, grid.north, grid.cell / times)


def levels(low: float, high: float, metric: bool) -> tuple[list[float], list[float]]:
    """Heights [in the unit shown] of the thin contours and of the heavy ones, every fifth."""
    steps = _STEPS_M if metric else _STEPS_FT
    step = next((s for s in steps if (high - low) / s <= _MOST_LINES), steps[-1])
    every = np.arange(np.ceil(low / step), np.floor(high / step) + 1)
    heavy = every % 5 == 0
    return list(every[~heavy] * step), list(every[heavy] * step)


def contours(
    axes: Axes, part: Grid, metric: bool, color: str, widths: tuple[float, float],
    alphas: tuple[float, float], letters: float, fewest: int, zorder: float = 2.0,
) -> list[Any]:  # fmt: skip
    """Draw height lines, every fifth heavier and with its height, which are given [Text].

    Args:
        axes: in the grid's own coordinates [m].
        part: the heights [m].
        metric: lines in meters, else in feet.
        color: of lines and words.
        widths: of a thin line and a heavy one [points].
        alphas: of a thin line and a heavy one.
        letters: size of the words [points].
        fewest: where fewer heights are known, nothing is drawn.
        zorder: of the lines; the words lie a little over them.
    """
    heights = np.ma.masked_invalid(part.heights / (1.0 if metric else FOOT_M))
    if heights.count() < fewest or heights.min() == heights.max():
        return []
    rows, columns = part.heights.shape
    x = part.west + (np.arange(columns) + 0.5) * part.cell
    y = part.north - (np.arange(rows) + 0.5) * part.cell
    words: list[Any] = []
    both = levels(float(heights.min()), float(heights.max()), metric)
    for heavy, (at, width, alpha) in enumerate(zip(both, widths, alphas, strict=True)):
        if at:
            drawn = axes.contour(x, y, heights, levels=at, colors=color, linewidths=width,
                                 alpha=alpha, zorder=zorder)  # fmt: skip
            words += axes.clabel(drawn, fmt=f"%d {'m' if metric else 'ft'}", fontsize=letters,
                                 colors=color, zorder=zorder + 0.2) if heavy else []  # fmt: skip
    return words
