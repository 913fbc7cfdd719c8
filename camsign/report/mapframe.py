"""What frames a map: room about what lies there, height lines, scale bar, both norths, the key."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from math import cos, hypot, radians, sin
from typing import TYPE_CHECKING, Any

from camsign.errors import UsageError
from camsign.report.style import INK, PAPER, QUIET
from camsign.sits.terrain import Terrain
from camsign.units import UnitSystem, format_length

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.text import Text
    from pyproj import Proj

# What the scale bar may be long: yards and miles, or meters and kilometers.
_ROUND_LENGTHS = {
    "imperial": (50, 100, 200, 250, 440, 880, 1760, 3520, 5280),
    "metric": (50, 100, 200, 250, 500, 1000, 2000, 5000),
}
_CONTOUR = "#8a7f66"
# How much room the needles and their words take in the upper right corner, and where in it the foot
# of the needles stands [inches]; the room of the scale bar [share of the map].
_CORNER, _FOOT = (1.14, 1.42), (0.54, 1.06)
BAR = ((0.02, 0.0), (0.3, 0.075))
# So many inches of width hold one column of the key.
_COLUMN = 2.4
_SOLID = "sign: solid if it looked fresh when last seen, else hollow"


def make_room(axes: Axes) -> None:
    """Leave room for the words above the topmost area, at one scale both ways."""
    box, frame = axes.dataLim, axes.get_window_extent()
    side = max(box.width, box.height * 1.3, 200.0)
    left, right = box.x0 - 0.08 * side, box.x1 + 0.1 * side
    bottom, top = box.y0 - 0.08 * side, box.y1 + 0.13 * side
    scale = max((right - left) / frame.width, (top - bottom) / frame.height)
    wide = (scale * frame.width - (right - left)) / 2
    high = (scale * frame.height - (top - bottom)) / 2
    axes.set_xlim(left - wide, right + wide)
    axes.set_ylim(bottom - high, top + high)
    axes.set_aspect("equal", adjustable="box")


def frame(axes: Axes, title: str, sub: str = "") -> None:
    """Give the map its edge, what it shows in words above, and the key below with room for it."""
    axes.set_xticks([])
    axes.set_yticks([])
    for edge in axes.spines.values():
        edge.set_color(QUIET)
        edge.set_linewidth(0.6)
    axes.set_title(title, loc="left", fontsize=13, color=INK, pad=12, weight="bold")
    if sub:
        axes.set_title(sub, loc="right", fontsize=10, color=INK, pad=12)
    wide, high = _inches(axes.figure)
    columns = int(wide // _COLUMN)
    rows = -(-len(axes.get_legend_handles_labels()[1]) // columns)
    below, above = (0.41 + 0.207 * max(rows, 1)) / high, 0.55 / high
    axes.set_position((0.02, below, 0.96, 1 - above - below))
    key = axes.legend(
        loc="upper center", bbox_to_anchor=(0.5, -0.01), ncols=columns, frameon=False, fontsize=9,
        title=_SOLID, title_fontsize=9, labelcolor=INK, borderaxespad=0.2,
    )  # fmt: skip
    key.get_title().set_color(INK)


def corner(axes: Axes) -> tuple[tuple[float, float], tuple[float, float]]:
    """Give the corner of the needles [shares of the map], low and high."""
    return _from_corner(axes, _CORNER), (1.0, 1.0)


def _from_corner(axes: Axes, inches: tuple[float, float]) -> tuple[float, float]:
    """Give the place so far left of and below the upper right corner [shares of the map]."""
    (wide, high), part = _inches(axes.figure), axes.get_position()
    return 1 - inches[0] / (wide * part.width), 1 - inches[1] / (high * part.height)


def _inches(figure: Any) -> tuple[float, float]:
    wide, high = figure.get_size_inches()
    return float(wide), float(high)


def contours(axes: Axes, land: Terrain, plane: Proj, units: UnitSystem) -> None:
    """Draw height lines of the ground that is shown, every fifth heavier and with its height."""
    from camsign.report import relief

    x0, y0 = plane(land.plane.lon, land.plane.lat)
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    part = relief.cropped(land.grid, (left - x0, bottom - y0, right - x0, top - y0))
    here = replace(part, west=x0 + part.west, north=y0 + part.north)
    words = relief.contours(axes, here, units == "metric", _CONTOUR, (0.5, 1.0), (0.55, 0.8), 7.5,
                            9, 0.0)  # fmt: skip
    _whole_only(axes, words)
    axes.set(xlim=(left, right), ylim=(bottom, top))


def _whole_only(axes: Axes, words: Iterable[Text]) -> None:
    """Take away heights that the edge of the map or the needles' corner would cut."""
    from matplotlib.transforms import Bbox

    inside, needles = axes.get_window_extent(), Bbox(axes.transAxes.transform(corner(axes)))
    for one in list(words):
        box = one.get_window_extent()
        whole = inside.contains(box.x0, box.y0) and inside.contains(box.x1, box.y1)
        if box.overlaps(needles) or not whole:
            one.remove()


def scale_bar(axes: Axes, units: UnitSystem) -> None:
    """Draw a bar of a round length in the logbook's units."""
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    unit = 0.9144 if units == "imperial" else 1.0
    round_m = [n * unit for n in _ROUND_LENGTHS[units]]
    length = max(m for m in round_m if m <= max((right - left) / 4, round_m[0]))
    x, y = left + 0.03 * (right - left), bottom + 0.035 * (top - bottom)
    axes.plot([x, x + length], [y, y], color=INK, lw=3, solid_capstyle="butt", zorder=9)
    axes.annotate(
        format_length(length, units), (x + length / 2, y), xytext=(0, 5),
        textcoords="offset points", ha="center", fontsize=8.5, color=INK, zorder=9,
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 1.5, "alpha": 0.8},
    )  # fmt: skip


def norths(axes: Axes, plane: Proj, day: date | None) -> None:
    """Draw true north as an arrow, and magnetic north beside it, as far off as a compass is."""
    from matplotlib.patches import Rectangle

    # The lines of the ground end before the needles: their words must be read.
    (x0, y0), (x1, y1) = corner(axes)
    axes.add_patch(Rectangle((x0, y0), x1 - x0, y1 - y0, transform=axes.transAxes,
                             facecolor=PAPER, edgecolor=QUIET, lw=0.6, zorder=0.5))  # fmt: skip
    _needle(axes, 0.0, "N", 1.4)
    if day is None:
        return
    from camsign.magnetism import declination_deg

    lon, lat = plane(0.0, 0.0, inverse=True)
    try:
        east = declination_deg(lat, lon, day)
    except UsageError:
        return
    _needle(axes, east, "M", 0.8)
    side = "E" if east >= 0 else "W"
    axes.annotate(f"compass {abs(east):.0f}° {side}", _from_corner(axes, _FOOT), xytext=(-2, -7),
                  xycoords="axes fraction", textcoords="offset points", ha="center", va="top",
                  fontsize=8, color=INK, zorder=9)  # fmt: skip


def _needle(axes: Axes, deg: float, letter: str, width: float) -> None:
    """An arrow of 50 points from one foot, turned by so many degrees."""
    angle, long = radians(deg), 50
    how: dict[str, Any] = {"arrowstyle": "<|-", "color": INK, "lw": width, "shrinkA": 0,
                           "shrinkB": 0}  # fmt: skip
    at = _from_corner(axes, _FOOT)
    tip = (long * sin(angle), long * cos(angle))
    foot = axes.annotate("", at, xytext=tip, xycoords="axes fraction",
                         textcoords="offset points", arrowprops=how, zorder=9)  # fmt: skip
    foot.set_in_layout(False)
    reach = 1 + 12 / hypot(*tip)
    axes.annotate(letter, at, xytext=(tip[0] * reach, tip[1] * reach), color=INK,
                  xycoords="axes fraction", textcoords="offset points", ha="center", va="center",
                  fontsize=10 if letter == "N" else 8.5, zorder=9)  # fmt: skip
