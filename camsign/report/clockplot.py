"""The picture behind an audit of clocks: the sun's height against the clock, before and after.

Under a right clock the pictures in color lie above one height and the others below it, at dawn and
at dusk. A wrong clock mixes them. Kinds differ by shape as well as by color (Okabe and Ito 2008).
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import matplotlib as mpl
import matplotlib.pyplot as plt
import numpy as np
from matplotlib.axes import Axes

from camsign.arrays import Floats
from camsign.clock.plot_points import ClockPoints
from camsign.errors import InputRefused
from camsign.report.style import INK, PAPER, QUIET

_KINDS = ((1, "o", "#d55e00", "in color"), (0, "v", "#0072b2", "infrared or dark"))
_HEIGHTS = (-75.0, 75.0)


def draw_clocks(points: Sequence[ClockPoints], path: Path) -> Path:
    """Draw a row of two panels per stretch, as the clock is read and as proposed; write a PNG.

    Args:
        points: the stretches, as `camsign.clock.plot_points.clock_points` gives them.
        path: the picture to write; its folder exists.

    Raises:
        InputRefused: there is no stretch to draw.
    """
    if not points:
        raise InputRefused("there is no clock to draw yet", "take in a card of a hung camera first")
    mpl.use("Agg")
    n = len(points)
    figure, grid = plt.subplots(
        n, 2, figsize=(12, 0.9 + 3.3 * n), dpi=110, squeeze=False, facecolor=PAPER,
        sharex=True, sharey=True, layout="constrained",
    )  # fmt: skip
    for some, (left, right) in zip(points, grid, strict=True):
        _panel(left, some, some.hours_before, some.height_before, _title(some))
        _panel(right, some, some.hours_after, some.height_after, _proposal(some))
    for axes in grid[-1]:
        axes.set_xlabel("time of day by the clock", color=INK)
    handles, labels = grid[0][0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower right", ncols=3, frameon=False, fontsize=9,
                  markerscale=2)  # fmt: skip
    figure.savefig(path, facecolor=PAPER)
    plt.close(figure)
    return path


def _panel(axes: Axes, points: ClockPoints, hours: Floats, height: Floats, title: str) -> None:
    axes.set_facecolor(PAPER)
    axes.axhspan(-6, 0, color=QUIET, alpha=0.18, lw=0, label="civil twilight")
    alpha = min(1.0, max(0.25, 150 / max(len(hours), 1)))
    for light, marker, colour, words in _KINDS:
        which = points.light == light
        axes.scatter(
            hours[which], height[which], marker=marker, s=13, color=colour, alpha=alpha, lw=0,
            label=words,
        )  # fmt: skip
    axes.set_title(title, loc="left", fontsize=9.5, color=INK)
    axes.set_xlim(0, 24)
    axes.set_ylim(*_HEIGHTS)
    axes.set_xticks(range(0, 25, 3))
    axes.set_ylabel("height of the sun [°]", color=INK)
    axes.grid(color=QUIET, alpha=0.2, lw=0.6)
    axes.tick_params(colors=INK, labelsize=8.5)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def _title(points: ClockPoints) -> str:
    f = points.finding
    return (
        f"{f.camera}, {f.clock_from:%d %b %Y} to {f.clock_until:%d %b %Y} by its clock: {f.verdict}"
    )


def _proposal(points: ClockPoints) -> str:
    same = np.array_equal(points.hours_before, points.hours_after, equal_nan=True)
    return "nothing to change" if same else f"as proposed: {_short(points.finding.why)}"


def _short(text: str, most: int = 70) -> str:
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"
