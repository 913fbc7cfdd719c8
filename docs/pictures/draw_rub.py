"""Draws rub.svg, the field rule of docs/sign.md: `python docs/pictures/draw_rub.py`."""

from __future__ import annotations

from math import cos, radians, sin
from pathlib import Path

import matplotlib as mpl
from matplotlib import pyplot as plt
from matplotlib.axes import Axes
from matplotlib.patches import Circle, FancyArrowPatch, Wedge

BARK, WOOD, INK, SOFT = "#6b5344", "#e9c46a", "#22333b", "#8a9aa0"
TRAVEL_DEG = 45.0
TRUNK = 1.0


def at(bearing_deg: float, far: float) -> tuple[float, float]:
    """Give the point so far from the trunk's middle along a compass bearing."""
    return far * sin(radians(bearing_deg)), far * cos(radians(bearing_deg))


def arrow(axes: Axes, start: tuple[float, float], end: tuple[float, float], **look: object) -> None:
    """Draw an arrow between two points."""
    axes.add_patch(FancyArrowPatch(start, end, mutation_scale=18, **look))


def trunk(axes: Axes) -> None:
    """Draw a trunk from above, bare on the side that the buck came to."""
    bare = TRAVEL_DEG + 180
    axes.add_patch(Circle((0, 0), TRUNK, color=BARK))
    # Matplotlib counts angles counter-clockwise from east.
    middle = 90 - bare
    axes.add_patch(Wedge((0, 0), TRUNK, middle - 55, middle + 55, width=0.22, color=WOOD))
    axes.text(0.2, 0.2, "trunk\nfrom above", color="white", ha="center", va="center", fontsize=8)


def ways(axes: Axes) -> None:
    """Draw how he came, how he went on, and where you stand."""
    bare = TRAVEL_DEG + 180
    way = {"arrowstyle": "-|>", "color": INK, "lw": 2.2}
    arrow(axes, at(bare + 16, 4.4), at(bare + 30, 1.35), linestyle="--", **way)
    arrow(axes, at(TRAVEL_DEG, 1.3), at(TRAVEL_DEG, 4.3), **way)
    axes.text(*at(TRAVEL_DEG, 4.6), "travel: NE\nhe went on this way", color=INK, fontsize=11)
    axes.text(*at(bare + 20, 5.3), "he came\nfrom here", color=INK, fontsize=11, ha="center")
    you = at(bare, 2.9)
    axes.add_patch(Circle(you, 0.24, color=INK))
    arrow(axes, at(bare, 2.55), at(bare, 1.3), arrowstyle="-|>", color=SOFT, lw=1.6)
    told = "you, looking at the bare wood:\nyou look the way he went"
    axes.text(you[0] + 0.5, you[1] - 0.25, told, color=INK, fontsize=11, va="top")
    tip = at(bare + 42, 0.92)
    axes.annotate(
        "bare wood: SW\nit looks back the way he came",
        tip,
        (-5.4, 1.1),
        color=INK,
        fontsize=11,
        ha="left",
        arrowprops={"arrowstyle": "-", "color": SOFT},
    )


def rose(axes: Axes) -> None:
    """Draw where north is."""
    x, y = 5.0, -3.6
    arrow(axes, (x, y - 0.6), (x, y + 0.8), arrowstyle="-|>", color=SOFT, lw=1.4)
    axes.text(x, y + 1.0, "N", color=SOFT, ha="center", fontsize=11)


def main() -> None:
    """Draw the picture beside this script."""
    mpl.rcParams["svg.hashsalt"] = "camsign"
    figure, axes = plt.subplots(figsize=(7.2, 5.4))
    for part in (trunk, ways, rose):
        part(axes)
    axes.set(xlim=(-5.6, 6.4), ylim=(-5.0, 4.6), aspect="equal")
    axes.axis("off")
    path = Path(__file__).with_name("rub.svg")
    figure.savefig(path, bbox_inches="tight", metadata={"Date": None})


if __name__ == "__main__":
    main()
