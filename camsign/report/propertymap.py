"""The map of a property as one picture: cameras, sign with its travel, areas, places, scale, north.

Drawn in meters on an azimuthal equidistant plane about the middle of what is shown. Kinds differ by
shape as well as by color, areas by hatching too, so that black and white says the same. Sign that
looked fresh when it was last seen is solid, other sign hollow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import cos, hypot, radians, sin
from pathlib import Path
from typing import TYPE_CHECKING, Any

from camsign.errors import InputRefused, UsageError
from camsign.geo import Circle, area_center, circle_ring
from camsign.report.labels import Labels
from camsign.report.style import INK, PAPER, QUIET, save
from camsign.sign.marks import CAMERA, MARKS
from camsign.units import format_length

if TYPE_CHECKING:
    import numpy.typing as npt
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from camsign.answers.ground import CameraOrSign, Ground, NamedArea
    from camsign.sign.marks import Mark
    from camsign.sits.terrain import Terrain
    from camsign.units import UnitSystem

__all__ = ["INK", "PAPER", "QUIET", "Plane", "draw_map", "map_figure"]

AREA_STYLES = {
    "bedding": ("#009e73", "////"),
    "doe bedding": ("#7fae63", "...."),
    "feeding": ("#e69f00", "\\\\\\\\"),
    "staging": ("#cc79a7", "----"),
    "travel": ("#56b4e9", "||||"),
}
# What the scale bar may be long: yards and miles, or meters and kilometers.
_ROUND_LENGTHS = {
    "imperial": (50, 100, 200, 250, 440, 880, 1760, 3520, 5280),
    "metric": (50, 100, 200, 250, 500, 1000, 2000, 5000),
}
_CONTOUR = "#8a7f66"


@dataclass(frozen=True, slots=True)
class Plane:
    """Longitude and latitude [deg] to meters east and north of a middle point."""

    lat: float
    lon: float

    def __call__(self, lons: npt.ArrayLike, lats: npt.ArrayLike) -> tuple[Any, Any]:
        """Project."""
        import pyproj

        proj = pyproj.Proj(proj="aeqd", lat_0=self.lat, lon_0=self.lon, ellps="WGS84")
        return proj(lons, lats)


def draw_map(
    ground: Ground,
    path: Path,
    title: str,
    notes: dict[str, str] | None = None,
    land: Terrain | None = None,
    day: date | None = None,
) -> Path:
    """Draw everything that has a place into a PNG, SVG or PDF, by the file's name.

    Arguments and errors as for `map_figure`; UsageError for a name of another ending.
    """
    return save(map_figure(ground, title, notes, land, day), path)


def map_figure(
    ground: Ground,
    title: str,
    notes: dict[str, str] | None = None,
    land: Terrain | None = None,
    day: date | None = None,
) -> Figure:
    """Draw everything that has a place.

    Args:
        ground: what lies where.
        title: a line above the map.
        notes: for an area's id, a few words under its name (an answer, say).
        land: the ground, for contours.
        day: when a compass is read; with it magnetic north is drawn beside true north.

    Raises:
        InputRefused: nothing has a place yet.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    plane = _plane(ground)
    figure = Figure(figsize=(12.5, 9.2), dpi=120, facecolor=PAPER)
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0.02, 0.085, 0.96, 0.855))
    axes.set_facecolor(PAPER)
    _draw_areas(axes, ground, plane)
    _draw_places(axes, ground, plane)
    _draw_sign(axes, ground, plane)
    _draw_cameras(axes, ground, plane)
    _frame(axes, title)
    if land is not None:
        _contours(axes, land, plane, ground.units)
    _scale_bar(axes, ground.units)
    _north(axes, plane, day)
    _write(axes, ground, plane, notes or {})
    return figure


def _plane(ground: Ground) -> Plane:
    points = [(s.lat, s.lon) for s in (*ground.cameras, *ground.sign)]
    points += [area_center(a.area) for a in ground.areas]
    if not points:
        raise InputRefused("there is nothing to map yet", "hang a camera or add sign first")
    lats, lons = zip(*points, strict=True)
    return Plane((min(lats) + max(lats)) / 2, (min(lons) + max(lons)) / 2)


def _draw_areas(axes: Axes, ground: Ground, plane: Plane) -> None:
    told: set[str] = set()
    for named in ground.areas:
        color, hatch = AREA_STYLES.get(named.kind, (QUIET, ""))
        for ring in _rings(named):
            x, y = plane([p[0] for p in ring], [p[1] for p in ring])
            label = None if named.kind in told else named.kind
            axes.fill(x, y, facecolor=f"{color}2b", edgecolor=f"{color}66", hatch=hatch, lw=0,
                      zorder=1, label=label)  # fmt: skip
            axes.plot(x, y, color=color, lw=1.6, zorder=2)
            told.add(named.kind)


def _rings(named: NamedArea) -> tuple[Any, ...]:
    return (circle_ring(named.area),) if isinstance(named.area, Circle) else named.area.rings


def _write(axes: Axes, ground: Ground, plane: Plane, notes: dict[str, str]) -> None:
    """Write all names, the largest first, off the marks and off one another."""
    labels = Labels(axes)
    spots = [*_in_its_places(ground.cameras), *ground.sign]
    labels.keep_free(plane(s.lon, s.lat) for s in spots)
    labels.keep_free(plane(*p.line[0]) for p in ground.places)
    tips = [t for s in spots if (t := _tip(axes, s, *plane(s.lon, s.lat))) is not None]
    labels.keep_free(tips, 3.0)
    for named in ground.areas:
        east, north = plane(*zip(*[p for ring in _rings(named) for p in ring], strict=True))
        note = notes.get(named.area_id)
        words = f"{named.name} · {named.kind}" + (f"\n{note}" if note else "")
        labels.put(words, (min(east) + max(east)) / 2, max(north), 10)
    for spot in _in_its_places(ground.cameras):
        words = (
            f"{spot.name}, moved {spot.moved_on:%b} {spot.moved_on.day}"
            if spot.moved_on
            else spot.name
        )
        labels.put(words, *plane(spot.lon, spot.lat), 9, color=CAMERA.paper, weight="bold")
    for place in ground.places:
        labels.put(place.name, *plane(*place.line[0]), 8, style="italic")


def _draw_places(axes: Axes, ground: Ground, plane: Plane) -> None:
    told: set[bool] = set()
    for place in ground.places:
        x, y = plane([p[0] for p in place.line], [p[1] for p in place.line])
        path = len(place.line) > 1
        label = None if path in told else "way in" if path else "stand, parking, water, food"
        look = {"ls": (0, (4, 3))} if path else {"ls": "", "marker": "^", "ms": 7, "mfc": PAPER}
        axes.plot(x, y, color=INK, lw=1.2, zorder=3, label=label, **look)
        told.add(path)


def _draw_sign(axes: Axes, ground: Ground, plane: Plane) -> None:
    for kind in dict.fromkeys(s.kind for s in ground.sign):
        mark = MARKS.get(kind, MARKS["trail"])
        spots = [s for s in ground.sign if s.kind == kind]
        x, y = plane([s.lon for s in spots], [s.lat for s in spots])
        faces = [mark.paper if s.fresh else PAPER for s in spots]
        axes.scatter(x, y, marker=_marker(mark), s=34, color=faces, edgecolor=mark.paper,
                     linewidths=1.1, zorder=5)  # fmt: skip
        axes.scatter([], [], marker=_marker(mark), s=34, color=PAPER, edgecolor=mark.paper,
                     label=_words(kind))  # fmt: skip


def _marker(mark: Mark) -> Any:
    """Make a mark's outlines a matplotlib marker."""
    from matplotlib.path import Path as Outline

    return Outline.make_compound_path(
        *(Outline([*ring, ring[0]], closed=True) for ring in mark.outlines)
    )


def _arrows(axes: Axes, ground: Ground, plane: Plane) -> None:
    for spot in (*ground.sign, *_in_its_places(ground.cameras)):
        x, y = plane(spot.lon, spot.lat)
        tip = _tip(axes, spot, x, y)
        if tip is None:
            continue
        color = (
            CAMERA.paper if spot.kind == "camera" else MARKS.get(spot.kind, MARKS["trail"]).paper
        )
        how = {"arrowstyle": "-|>", "color": color, "lw": 0.9, "mutation_scale": 7}
        axes.annotate("", tip, (x, y), arrowprops=how, zorder=4)


def _tip(axes: Axes, spot: CameraOrSign, x: float, y: float) -> tuple[float, float] | None:
    """Where the arrow of a spot ends, None if it says no way."""
    if spot.bearing_deg is None:
        return None
    left, right = axes.get_xlim()
    angle, length = radians(spot.bearing_deg), abs(right - left) * 0.02
    return x + length * sin(angle), y + length * cos(angle)


def _draw_cameras(axes: Axes, ground: Ground, plane: Plane) -> None:
    cameras = _in_its_places(ground.cameras)
    if cameras:
        x, y = plane([s.lon for s in cameras], [s.lat for s in cameras])
        axes.scatter(x, y, marker=_marker(CAMERA), s=105, color=CAMERA.paper, edgecolor=PAPER,
                     zorder=7, label="camera, arrow: looks")  # fmt: skip
    _make_room(axes)
    _arrows(axes, ground, plane)


def _in_its_places(cameras: Sequence[CameraOrSign]) -> list[CameraOrSign]:
    """Leave out where a camera hung before, if it hangs there again (to some 10 m)."""

    def place(spot: CameraOrSign) -> tuple[str, float, float]:
        return spot.name, round(spot.lat, 4), round(spot.lon, 4)

    still = {place(s) for s in cameras if s.moved_on is None}
    return [s for s in cameras if s.moved_on is None or place(s) not in still]


def _words(kind: str) -> str:
    return f"{kind}, arrow: travel" if kind == "rub" else kind


def _frame(axes: Axes, title: str) -> None:
    axes.set_xticks([])
    axes.set_yticks([])
    for edge in axes.spines.values():
        edge.set_color(QUIET)
        edge.set_linewidth(0.6)
    axes.set_title(title, loc="left", fontsize=13, color=INK, pad=12, weight="bold")
    axes.legend(
        loc="upper center", bbox_to_anchor=(0.5, -0.01), ncols=6, frameon=False, fontsize=9,
        title="sign: solid if it looked fresh when last seen, else hollow", title_fontsize=9,
    )  # fmt: skip


def _contours(axes: Axes, land: Terrain, plane: Plane, units: UnitSystem) -> None:
    """Height lines of the ground that is shown, every fifth heavier and with its height."""
    import numpy as np

    from camsign.report.relief import FOOT_M, cropped, levels

    x0, y0 = plane(land.plane.lon, land.plane.lat)
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    part = cropped(land.grid, (left - x0, bottom - y0, right - x0, top - y0))
    metric = units == "metric"
    heights = np.ma.masked_invalid(part.heights / (1.0 if metric else FOOT_M))
    if heights.count() < 9 or heights.min() == heights.max():
        return
    rows, columns = part.heights.shape
    x = x0 + part.west + (np.arange(columns) + 0.5) * part.cell
    y = y0 + part.north - (np.arange(rows) + 0.5) * part.cell
    thin, heavy = levels(float(heights.min()), float(heights.max()), metric)
    if thin:
        axes.contour(x, y, heights, levels=thin, colors=_CONTOUR, linewidths=0.5, alpha=0.55,
                     zorder=0)  # fmt: skip
    if heavy:
        drawn = axes.contour(x, y, heights, levels=heavy, colors=_CONTOUR, linewidths=1.0,
                             alpha=0.8, zorder=0)  # fmt: skip
        axes.clabel(drawn, fmt=f"%d {'m' if metric else 'ft'}", fontsize=7.5, colors=_CONTOUR)
    axes.set(xlim=(left, right), ylim=(bottom, top))


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


def _north(axes: Axes, plane: Plane, day: date | None) -> None:
    """True north as an arrow, and magnetic north beside it, as far off as a compass is."""
    _needle(axes, 0.0, "N", 1.4)
    if day is None:
        return
    from camsign.magnetism import declination_deg

    try:
        east = declination_deg(plane.lat, plane.lon, day)
    except UsageError:
        return
    _needle(axes, east, "M", 0.8)
    side = "E" if east >= 0 else "W"
    axes.annotate(f"compass {abs(east):.0f}° {side}", (0.955, 0.845), xycoords="axes fraction",
                  ha="center", va="top", fontsize=8, color=INK, zorder=9)  # fmt: skip


def _needle(axes: Axes, deg: float, letter: str, width: float) -> None:
    """An arrow of 50 points from one foot, turned by so many degrees."""
    angle, long = radians(deg), 50
    how = {"arrowstyle": "-|>", "color": INK, "lw": width, "shrinkA": 0, "shrinkB": 0}
    tip = (long * sin(angle), long * cos(angle))
    foot = axes.annotate(
        "", (0.955, 0.865), xytext=tip, xycoords="axes fraction", textcoords="offset points",
        arrowprops=how | {"arrowstyle": "<|-"}, zorder=9,
    )  # fmt: skip
    foot.set_in_layout(False)
    reach = 1 + 12 / hypot(*tip)
    axes.annotate(letter, (0.955, 0.865), xytext=(tip[0] * reach, tip[1] * reach), color=INK,
                  xycoords="axes fraction", textcoords="offset points", ha="center", va="center",
                  fontsize=10 if letter == "N" else 8.5, zorder=9)  # fmt: skip
