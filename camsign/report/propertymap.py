"""The map of a property as one picture: cameras, sign with its travel, areas, places, scale, north.

Drawn in meters on an azimuthal equidistant plane about the middle of what is shown. Kinds differ by
shape as well as by color, areas by hatching too, so that black and white says the same. Sign that
looked fresh when it was last seen is solid, other sign hollow.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from math import cos, radians, sin
from typing import TYPE_CHECKING, Any

from camsign.answers.ground import CameraOrSign, Ground, NamedArea
from camsign.errors import InputRefused
from camsign.geo import Circle, area_center, circle_ring, equidistant
from camsign.logbook.shapes import Line
from camsign.report.labels import Labels
from camsign.report.mapframe import BAR, contours, corner, frame, make_room, norths, scale_bar
from camsign.report.mapsign import (
    WorkedOut,
    along,
    draw_hubs,
    draw_lines,
    draw_seen,
    hub_words,
    led_on,
    rims,
    words_of,
)
from camsign.report.style import INK, PAPER, QUIET, bare_figure
from camsign.sign.marks import CAMERA, MARKS, PLACES, Mark
from camsign.sits.terrain import Terrain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from pyproj import Proj

AREA_STYLES = {
    "bedding": ("#009e73", "////"),
    "doe bedding": ("#7fae63", "...."),
    "feeding": ("#e69f00", "\\\\\\\\"),
    "staging": ("#cc79a7", "----"),
    "travel": ("#56b4e9", "||||"),
}


# Width and height of a map that is a file of its own, and of one in a page [inches].
_ALONE, _IN_A_PAGE = (12.5, 9.2), (9.0, 7.0)


def map_figure(
    ground: Ground,
    title: str,
    notes: dict[str, str] | None = None,
    land: Terrain | None = None,
    day: date | None = None,
    found: WorkedOut = WorkedOut(),  # noqa: B008
    sub: str = "",
    in_a_page: bool = False,
) -> Figure:
    """Draw everything that has a place.

    Args:
        ground: what lies where.
        title: a line above the map.
        notes: for an area's id, a few words under its name (an answer, say).
        land: the ground, for contours.
        day: when a compass is read; with it magnetic north is drawn beside true north.
        found: lines of rubs, hubs, and where one buck was pictured.
        sub: a few words above the map on the right, such as a season.
        in_a_page: smaller, so that its letters are read on a page across one sheet.

    Raises:
        InputRefused: nothing has a place yet.
    """
    plane = _plane(ground)
    figure = bare_figure(*(_IN_A_PAGE if in_a_page else _ALONE))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_facecolor(PAPER)
    _draw_areas(axes, ground, plane)
    draw_lines(axes, found.lines, plane)
    _draw_places(axes, ground, plane)
    _draw_sign(axes, ground, plane)
    _draw_cameras(axes, ground, plane)
    draw_seen(axes, _in_its_places(ground.cameras), found.seen, plane)
    draw_hubs(axes, found.hubs, plane)
    frame(axes, title, sub)
    make_room(axes)
    _arrows(axes, ground, plane)
    if land is not None:
        contours(axes, land, plane, ground.units)
    scale_bar(axes, ground.units)
    norths(axes, plane, day)
    _write(axes, ground, plane, notes or {}, found)
    return figure


def _plane(ground: Ground) -> Proj:
    points = [(s.lat, s.lon) for s in (*ground.cameras, *ground.sign)]
    points += [area_center(a.area) for a in ground.areas]
    if not points:
        raise InputRefused("there is nothing to map yet", "hang a camera or add sign first")
    lats, lons = zip(*points, strict=True)
    return equidistant((min(lats) + max(lats)) / 2, (min(lons) + max(lons)) / 2)


def _draw_areas(axes: Axes, ground: Ground, plane: Proj) -> None:
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


def _write(
    axes: Axes, ground: Ground, plane: Proj, notes: dict[str, str], found: WorkedOut
) -> None:
    """Write all names, the largest first, off the marks and off one another."""
    labels = Labels(axes)
    _keep_free(labels, axes, ground, plane, found)
    for named in ground.areas:
        lons, lats = zip(*[p for ring in _rings(named) for p in ring], strict=True)
        east, north = plane(lons, lats)
        note = notes.get(named.area_id)
        words = f"{named.name} · {named.kind}" + (f"\n{note}" if note else "")
        labels.put(words, (min(east) + max(east)) / 2, max(north), 10, above=True)
    for spot in _in_its_places(ground.cameras):
        ringed = spot.id in found.seen and found.seen[spot.id].visits > 0
        labels.put(words_of(spot, found.seen), *plane(spot.lon, spot.lat), 9, 7 * ringed,
                   color=CAMERA.paper, weight="bold")  # fmt: skip
    for hub in found.hubs:
        if hub.known_as is None:
            labels.put(hub_words(hub), *plane(hub.lon, hub.lat), 9)
    for place in ground.places:
        clear = 4 if len(place.line) == 1 else 0
        labels.put(place.name, *plane(*place.line[0]), 8, clear, style="italic")


def _keep_free(labels: Labels, axes: Axes, ground: Ground, plane: Proj, found: WorkedOut) -> None:
    """Keep words off marks, arrows, lines, the needles and the scale bar."""
    for taken in (corner(axes), BAR):
        labels.keep_corner_free(*taken)
    spots = [*_in_its_places(ground.cameras), *ground.sign]
    labels.keep_free(plane(s.lon, s.lat) for s in spots)
    labels.keep_free((plane(*p.line[0]) for p in ground.places if len(p.line) == 1), 11.0)
    ways = [at for p in ground.places if len(p.line) > 1 for at in along(_flat(p.line, plane))]
    tips = [t for s in spots if (t := _tip(axes, s, *plane(s.lon, s.lat))) is not None]
    labels.keep_free((*tips, *ways, *led_on(found.lines, plane)), 3.0)
    edges = [at for a in ground.areas for ring in _rings(a) for at in along(_flat(ring, plane))]
    labels.keep_free((*edges, *rims(found.hubs, plane)), 2.0, cost=0.2)


def _flat(line: Line, plane: Proj) -> list[tuple[float, float]]:
    return [plane(*at) for at in line]


def _draw_places(axes: Axes, ground: Ground, plane: Proj) -> None:
    paths = [p for p in ground.places if len(p.line) > 1]
    for i, path in enumerate(paths):
        x, y = plane([p[0] for p in path.line], [p[1] for p in path.line])
        axes.plot(x, y, color=INK, lw=1.4, zorder=3, ls=(0, (4, 3)),
                  label=None if i else "way in")  # fmt: skip
    points = [p for p in ground.places if len(p.line) == 1]
    for kind in dict.fromkeys(p.kind for p in points):
        lons, lats = zip(*[p.line[0] for p in points if p.kind == kind], strict=True)
        x, y = plane(lons, lats)
        axes.plot(x, y, ls="", marker=_strokes(kind), ms=13, mfc="none", mec=INK, mew=1.6,
                  zorder=5.5, label=kind)  # fmt: skip


def _strokes(kind: str) -> Any:
    """Make a place's strokes a matplotlib marker; a circle for a kind without."""
    from matplotlib.path import Path as Outline

    strokes = PLACES.get(kind)
    return Outline.make_compound_path(*map(Outline, strokes)) if strokes else "o"


def _draw_sign(axes: Axes, ground: Ground, plane: Proj) -> None:
    for kind in dict.fromkeys(s.kind for s in ground.sign):
        mark = _mark(kind)
        spots = [s for s in ground.sign if s.kind == kind]
        x, y = plane([s.lon for s in spots], [s.lat for s in spots])
        faces = [mark.paper if s.fresh else PAPER for s in spots]
        axes.scatter(x, y, marker=_marker(mark), s=34, color=faces, edgecolor=mark.paper,
                     linewidths=1.1, zorder=5)  # fmt: skip
        axes.scatter([], [], marker=_marker(mark), s=34, color=PAPER, edgecolor=mark.paper,
                     label=_words(kind))  # fmt: skip


def _mark(kind: str) -> Mark:
    return CAMERA if kind == "camera" else MARKS.get(kind, MARKS["trail"])


def _marker(mark: Mark) -> Any:
    """Make a mark's outlines a matplotlib marker."""
    from matplotlib.path import Path as Outline

    return Outline.make_compound_path(
        *(Outline([*ring, ring[0]], closed=True) for ring in mark.outlines)
    )


def _arrows(axes: Axes, ground: Ground, plane: Proj) -> None:
    for spot in (*ground.sign, *_in_its_places(ground.cameras)):
        x, y = plane(spot.lon, spot.lat)
        tip = _tip(axes, spot, x, y)
        if tip is None:
            continue
        color = _mark(spot.kind).paper
        how = {"arrowstyle": "-|>", "color": color, "lw": 0.9, "mutation_scale": 7}
        axes.annotate("", tip, (x, y), arrowprops=how, zorder=4)


def _tip(axes: Axes, spot: CameraOrSign, x: float, y: float) -> tuple[float, float] | None:
    """Where the arrow of a spot ends, None if it says no way."""
    if spot.bearing_deg is None:
        return None
    left, right = axes.get_xlim()
    angle, length = radians(spot.bearing_deg), abs(right - left) * 0.02
    return x + length * sin(angle), y + length * cos(angle)


def _draw_cameras(axes: Axes, ground: Ground, plane: Proj) -> None:
    cameras = _in_its_places(ground.cameras)
    if cameras:
        x, y = plane([s.lon for s in cameras], [s.lat for s in cameras])
        axes.scatter(x, y, marker=_marker(CAMERA), s=105, color=CAMERA.paper, edgecolor=PAPER,
                     zorder=7, label="camera, arrow: faces")  # fmt: skip


def _in_its_places(cameras: Sequence[CameraOrSign]) -> list[CameraOrSign]:
    """Leave out where a camera hung before, if it hangs there again (to some 10 m)."""

    def place(spot: CameraOrSign) -> tuple[str, float, float]:
        return spot.name, round(spot.lat, 4), round(spot.lon, 4)

    still = {place(s) for s in cameras if s.moved_on is None}
    return [s for s in cameras if s.moved_on is None or place(s) not in still]


def _words(kind: str) -> str:
    return f"{kind}, arrow: travel" if kind == "rub" else kind
