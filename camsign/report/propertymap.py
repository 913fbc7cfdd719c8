"""The map of a property as one picture: cameras, sign with its travel, areas, places, scale, north.

Drawn in metres on an azimuthal equidistant plane about the middle of what is shown. Kinds differ by
shape as well as by colour (the colours are the colour-blind-safe set of Okabe and Ito 2008).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, radians, sin
from pathlib import Path
from typing import TYPE_CHECKING, Any

from camsign.errors import InputRefused
from camsign.geo import Circle, area_centre, circle_ring
from camsign.sign.marks import CAMERA, MARKS
from camsign.units import format_length

if TYPE_CHECKING:
    import numpy.typing as npt
    from matplotlib.axes import Axes

    from camsign.answers.ground import CameraOrSign, Ground, NamedArea
    from camsign.sign.marks import Mark
    from camsign.units import UnitSystem

PAPER, INK, QUIET = "#f4f1e8", "#22302b", "#6b7a72"
AREA_COLOURS = {
    "bedding": "#009e73",
    "doe bedding": "#b6d7a8",
    "feeding": "#e69f00",
    "staging": "#cc79a7",
    "travel": "#56b4e9",
}
# What the scale bar may be long: yards and miles, or meters and kilometers.
_ROUND_LENGTHS = {
    "imperial": (50, 100, 200, 250, 440, 880, 1760, 3520, 5280),
    "metric": (50, 100, 200, 250, 500, 1000, 2000, 5000),
}


@dataclass(frozen=True)
class Plane:
    """Longitude and latitude [deg] to metres east and north of a middle point."""

    lat: float
    lon: float

    def __call__(self, lons: npt.ArrayLike, lats: npt.ArrayLike) -> tuple[Any, Any]:
        """Project."""
        import pyproj

        proj = pyproj.Proj(proj="aeqd", lat_0=self.lat, lon_0=self.lon, ellps="WGS84")
        return proj(lons, lats)


def draw_map(ground: Ground, path: Path, title: str, notes: dict[str, str] | None = None) -> Path:
    """Draw everything that has a place and write it as a PNG.

    Args:
        ground: what lies where.
        path: the picture to write; its folder exists.
        title: a line above the map.
        notes: for an area's id, a few words under its name (an answer, say).

    Raises:
        InputRefused: nothing has a place yet.
    """
    import matplotlib as mpl

    mpl.use("Agg")
    import matplotlib.pyplot as plt

    plane = _plane(ground)
    figure, axes = plt.subplots(figsize=(12.5, 9.2), dpi=120, facecolor=PAPER)
    axes.set_facecolor(PAPER)
    _draw_areas(axes, ground, plane, notes or {})
    _draw_places(axes, ground, plane)
    _draw_sign(axes, ground, plane)
    _draw_cameras(axes, ground, plane)
    _finish(axes, title, ground.units)
    figure.savefig(path, facecolor=PAPER, bbox_inches="tight", pad_inches=0.25)
    plt.close(figure)
    return path


def _plane(ground: Ground) -> Plane:
    points = [(s.lat, s.lon) for s in (*ground.cameras, *ground.sign)]
    points += [area_centre(a.area) for a in ground.areas]
    if not points:
        raise InputRefused("there is nothing to map yet", "hang a camera or add sign first")
    lats, lons = zip(*points, strict=True)
    return Plane((min(lats) + max(lats)) / 2, (min(lons) + max(lons)) / 2)


def _draw_areas(axes: Axes, ground: Ground, plane: Plane, notes: dict[str, str]) -> None:
    for named in ground.areas:
        colour = AREA_COLOURS.get(named.kind, QUIET)
        rings = _rings(named)
        for ring in rings:
            x, y = plane([p[0] for p in ring], [p[1] for p in ring])
            axes.fill(x, y, color=colour, alpha=0.17, lw=0, zorder=1)
            axes.plot(x, y, color=colour, lw=1.6, zorder=2)
        east, north = plane(*zip(*[p for ring in rings for p in ring], strict=True))
        _label(axes, sum(east) / len(east), max(north), named, notes.get(named.area_id))


def _label(axes: Axes, x: float, y: float, named: NamedArea, note: str | None) -> None:
    words = f"{named.name} · {named.kind}" + (f"\n{note}" if note else "")
    axes.annotate(
        words,
        (x, y),
        xytext=(0, 15),
        textcoords="offset points",
        ha="center",
        va="bottom",
        fontsize=10,
        color=INK,
        linespacing=1.35,
        zorder=9,
        path_effects=_halo(),
    )


def _halo() -> list[Any]:
    """Keep words readable over marks."""
    from matplotlib.patheffects import withStroke

    return [withStroke(linewidth=3.0, foreground=PAPER)]


def _rings(named: NamedArea) -> tuple[Any, ...]:
    return (circle_ring(named.area),) if isinstance(named.area, Circle) else named.area.rings


def _draw_places(axes: Axes, ground: Ground, plane: Plane) -> None:
    for place in ground.places:
        x, y = plane([p[0] for p in place.line], [p[1] for p in place.line])
        axes.plot(x, y, color=INK, lw=1.2, ls=(0, (4, 3)), marker="D", ms=4, zorder=3)
        axes.annotate(
            place.name, (x[0], y[0]), xytext=(6, -3), textcoords="offset points", fontsize=8
        )


def _draw_sign(axes: Axes, ground: Ground, plane: Plane) -> None:
    reach = _reach(axes) * 0.036
    for kind in dict.fromkeys(s.kind for s in ground.sign):
        mark = MARKS.get(kind, MARKS["trail"])
        marker, colour = _marker(mark), mark.paper
        spots = [s for s in ground.sign if s.kind == kind]
        x, y = plane([s.lon for s in spots], [s.lat for s in spots])
        axes.scatter(
            x, y, marker=marker, s=26, color=colour, linewidths=0, zorder=5, label=_words(kind)
        )
        for spot, east, north in zip(spots, x, y, strict=True):
            _arrow(axes, spot, east, north, reach, colour)


def _marker(mark: Mark) -> Any:
    """Make a mark's outlines a matplotlib marker."""
    from matplotlib.path import Path as Outline

    return Outline.make_compound_path(
        *(Outline([*ring, ring[0]], closed=True) for ring in mark.outlines)
    )


def _arrow(axes: Axes, spot: CameraOrSign, x: float, y: float, length: float, colour: str) -> None:
    if spot.bearing_deg is None:
        return
    angle = radians(spot.bearing_deg)
    axes.annotate(
        "",
        (x + length * sin(angle), y + length * cos(angle)),
        (x, y),
        arrowprops={"arrowstyle": "-|>", "color": colour, "lw": 0.9, "mutation_scale": 7},
        zorder=4,
    )


def _draw_cameras(axes: Axes, ground: Ground, plane: Plane) -> None:
    cameras = _in_its_places(ground.cameras)
    if not cameras:
        return
    x, y = plane([s.lon for s in cameras], [s.lat for s in cameras])
    axes.scatter(
        x,
        y,
        marker=_marker(CAMERA),
        s=105,
        color=CAMERA.paper,
        edgecolor=PAPER,
        zorder=7,
        label="camera",
    )
    reach = _reach(axes) * 0.035
    for spot, east, north in zip(cameras, x, y, strict=True):
        _arrow(axes, spot, east, north, reach, CAMERA.paper)
        axes.annotate(
            f"{spot.name}, moved {spot.moved_on}" if spot.moved_on else spot.name,
            (east, north),
            xytext=(9, -4),
            textcoords="offset points",
            fontsize=9,
            color=CAMERA.paper,
            weight="bold",
            zorder=8,
            path_effects=_halo(),
        )


def _in_its_places(cameras: Sequence[CameraOrSign]) -> list[CameraOrSign]:
    """Leave out where a camera hung before, if it hangs there again (to some 10 m)."""

    def place(spot: CameraOrSign) -> tuple[str, float, float]:
        return spot.name, round(spot.lat, 4), round(spot.lon, 4)

    still = {place(s) for s in cameras if s.moved_on is None}
    return [s for s in cameras if s.moved_on is None or place(s) not in still]


def _words(kind: str) -> str:
    return f"{kind}, arrow: travel" if kind == "rub" else kind


def _reach(axes: Axes) -> float:
    left, right = axes.get_xlim()
    return abs(right - left)


def _finish(axes: Axes, title: str, units: UnitSystem) -> None:
    _make_room(axes)
    axes.set_xticks([])
    axes.set_yticks([])
    for edge in axes.spines.values():
        edge.set_color(QUIET)
        edge.set_linewidth(0.6)
    axes.set_title(title, loc="left", fontsize=13, color=INK, pad=12)
    axes.legend(
        loc="upper center", bbox_to_anchor=(0.5, -0.015), ncols=7, frameon=False, fontsize=9
    )
    axes.figure.canvas.draw()
    _scale_bar(axes, units)
    _north(axes)


def _make_room(axes: Axes) -> None:
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


def _scale_bar(axes: Axes, units: UnitSystem) -> None:
    left, right = axes.get_xlim()
    bottom, top = axes.get_ylim()
    unit = 0.9144 if units == "imperial" else 1.0
    round_m = [n * unit for n in _ROUND_LENGTHS[units]]
    length = max(m for m in round_m if m <= max((right - left) / 4, round_m[0]))
    x, y = left + 0.03 * (right - left), bottom + 0.035 * (top - bottom)
    axes.plot([x, x + length], [y, y], color=INK, lw=3, solid_capstyle="butt", zorder=9)
    axes.annotate(
        format_length(length, units),
        (x + length / 2, y),
        xytext=(0, 5),
        textcoords="offset points",
        ha="center",
        fontsize=8.5,
        color=INK,
        zorder=9,
    )


def _north(axes: Axes) -> None:
    axes.annotate(
        "N",
        (0.965, 0.955),
        (0.965, 0.875),
        xycoords="axes fraction",
        ha="center",
        va="center",
        fontsize=10,
        color=INK,
        arrowprops={"arrowstyle": "-|>", "color": INK, "lw": 1.4},
        zorder=9,
    )
