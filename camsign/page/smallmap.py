"""Where a buck was seen, as the numbers of a small drawing: meters on a plane, to pixels."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import sqrt
from typing import TYPE_CHECKING

from camsign.geo import Area, Circle, circle_ring, equidistant
from camsign.logbook.settings import Settings
from camsign.page.portrait import Spot
from camsign.units import format_length

if TYPE_CHECKING:
    from pyproj import Proj

WIDTH, HEIGHT, EDGE = 460, 360, 56
_ROUND_M = (50, 100, 200, 250, 500, 1000, 2000, 5000, 10_000, 20_000, 50_000)
_ROUND_YD = tuple(n * 0.9144 for n in (50, 100, 200, 440)) + tuple(
    n * 1609.344 for n in (0.5, 1, 2, 5, 10, 20)
)
# A name, and an area's above it, need more room at the top than at the bottom.
_LOWER = 8.0
_LEAST_M = 400.0
_NAME_WIDE = 52.0
_LETTER = 6.6


@dataclass(frozen=True, slots=True)
class Dot:
    """A deployment on the drawing [pixels]; `r` grows with the square root of his visits.

    `name_y`: the baseline of its name, above the dot or, where another name stands there, below.
    """

    x: float
    y: float
    r: float
    spot: Spot
    name_y: float = 0.0


@dataclass(frozen=True, slots=True)
class Ground:
    """An area on the drawing: its edge as path data, its name and where that stands [pixels].

    `top`: the edge's uppermost point.
    """

    area_id: str
    name: str
    path: str
    x: float
    y: float
    top: float


@dataclass(frozen=True, slots=True)
class SmallMap:
    """A drawing of WIDTH by HEIGHT pixels, north up; `bar` is the scale bar [pixels]."""

    dots: list[Dot]
    areas: list[Ground]
    bar: float
    bar_words: str


def small_map(
    spots: Sequence[Spot], settings: Settings, areas: Sequence[tuple[str, str, Area]] = ()
) -> SmallMap | None:
    """Lay deployments out, and the areas (id, name, shape) near them; None without a deployment."""
    if not spots:
        return None
    lat, lon = (sum(v) / len(spots) for v in zip(*((s.lat, s.lon) for s in spots), strict=True))
    plane = equidistant(lat, lon)
    east, north = plane([s.lon for s in spots], [s.lat for s in spots])
    wide, tall = (max(_LEAST_M, max(v) - min(v)) for v in (east, north))
    scale = min((WIDTH - 2 * EDGE) / wide, (HEIGHT - 2 * EDGE) / tall)
    mid_x, mid_y = (max(east) + min(east)) / 2, (max(north) + min(north)) / 2
    most = max(1, *(s.visits for s in spots))

    def at(x: float, y: float) -> tuple[float, float]:
        return (
            round(WIDTH / 2 + (x - mid_x) * scale, 1),
            round(HEIGHT / 2 + _LOWER - (y - mid_y) * scale, 1),
        )

    dots = [
        Dot(
            *at(x, y),
            round(5 + 19 * sqrt(s.visits / most), 1) if s.visits else 4.0,
            s,
        )
        for x, y, s in zip(east, north, spots, strict=True)
    ]
    steps = _ROUND_M if settings.units == "metric" else _ROUND_YD
    bar_m = max((m for m in steps if m * scale <= WIDTH / 3), default=steps[0])
    dots.sort(key=lambda d: -d.r)
    named = _named(dots)
    drawn: list[Ground] = []
    for one in areas:
        if ground := _ground(one, plane, at):
            drawn.append(_written(ground, named, drawn))
    return SmallMap(named, drawn, round(bar_m * scale, 1), format_length(bar_m, settings.units))


def _ground(
    area: tuple[str, str, Area],
    plane: Proj,
    at: Callable[[float, float], tuple[float, float]],
) -> Ground | None:
    """Draw an area's edge; None if it lies off the drawing."""
    area_id, name, shape = area
    rings = [circle_ring(shape)] if isinstance(shape, Circle) else list(shape.rings)
    drawn = []
    for ring in rings:
        east, north = plane([p[0] for p in ring], [p[1] for p in ring])
        drawn.append([at(float(x), float(y)) for x, y in zip(east, north, strict=True)])
    points = [p for ring in drawn for p in ring]
    x = sum(p[0] for p in drawn[0]) / len(drawn[0])
    y = max(p[1] for p in points)
    if not (0 < x < WIDTH and any(0 < p[1] < HEIGHT for p in points)):
        return None
    path = "".join("M" + "L".join(f"{a} {b}" for a, b in ring) + "Z" for ring in drawn)
    top = min(p[1] for p in points)
    return Ground(area_id, name, path, round(x, 1), round(min(HEIGHT - 6.0, y + 13), 1), top)


def _written(ground: Ground, dots: Sequence[Dot], others: Sequence[Ground]) -> Ground:
    """Move an area's name to where it covers no dot and no other name, if there is room nearby."""
    half = _LETTER * len(ground.name) / 2
    low = [d.y + d.r for d in dots if abs(d.x - ground.x) < half + d.r]
    high = [d.y - d.r for d in dots if abs(d.x - ground.x) < half + d.r]
    ways = (
        ground.y, ground.top - 6, *(y + 13 for y in low), *(y - 5 for y in high),
        *(y + 28 for y in low), *(y - 19 for y in high),
    )  # fmt: skip
    free = (
        y for y in ways
        if 18 < y < HEIGHT - 5
        and not any(_covers(ground.x, y, dot, 2 * half) for dot in dots)
        and not any(
            abs(y - o.y) < 13 and abs(ground.x - o.x) < half + _LETTER * len(o.name) / 2
            for o in others
        )
    )  # fmt: skip
    nearest = min(free, key=lambda y: abs(y - ground.y), default=ground.y)
    return replace(ground, y=round(nearest, 1))


def _named(dots: Sequence[Dot]) -> list[Dot]:
    """Place each name where it covers no other name and no other dot, as far as there is room."""
    placed: list[Dot] = []
    for dot in dots:
        ways = (dot.y - dot.r - 5, dot.y + dot.r + 14, dot.y - dot.r - 19, dot.y + dot.r + 28)
        free = (y for y in ways if not any(_covers(dot.x, y, other) for other in placed))
        placed.append(replace(dot, name_y=round(next(free, ways[0]), 1)))
    return placed


def _covers(x: float, y: float, other: Dot, wide: float = _NAME_WIDE) -> bool:
    """Say whether a name at x, y [pixels], so wide, would cover another's name or dot."""
    beside = abs(x - other.x) < (wide + _NAME_WIDE) / 2
    names = other.spot.visits > 0 and beside and abs(y - other.name_y) < 13
    near_y = max(0.0, abs(y - 5 - other.y) - 7)
    dots = abs(x - other.x) < other.r + wide / 2 and near_y < other.r
    return names or dots
