"""Where a buck was seen, as the numbers of a small drawing: meters on a plane, to pixels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt

from camsign.logbook.settings import Settings
from camsign.page.portrait import Spot
from camsign.page.words import length
from camsign.report.propertymap import Plane

WIDTH, HEIGHT, EDGE = 460, 360, 56
_ROUND_M = (50, 100, 200, 250, 500, 1000, 2000, 5000, 10_000, 20_000, 50_000)
_ROUND_YD = tuple(n * 0.9144 for n in (50, 100, 200, 440)) + tuple(
    n * 1609.344 for n in (0.5, 1, 2, 5, 10, 20)
)
_LEAST_M = 400.0
_NAME_WIDE = 52.0


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
class SmallMap:
    """A drawing of WIDTH by HEIGHT pixels, north up; `bar` is the scale bar [pixels]."""

    dots: list[Dot]
    bar: float
    bar_words: str


def small_map(spots: Sequence[Spot], settings: Settings) -> SmallMap | None:
    """Lay deployments out; None without any."""
    if not spots:
        return None
    lat, lon = (sum(v) / len(spots) for v in zip(*((s.lat, s.lon) for s in spots), strict=True))
    east, north = Plane(lat, lon)([s.lon for s in spots], [s.lat for s in spots])
    wide, tall = (max(_LEAST_M, max(v) - min(v)) for v in (east, north))
    scale = min((WIDTH - 2 * EDGE) / wide, (HEIGHT - 2 * EDGE) / tall)
    mid_x, mid_y = (max(east) + min(east)) / 2, (max(north) + min(north)) / 2
    most = max(1, *(s.visits for s in spots))
    dots = [
        Dot(
            round(WIDTH / 2 + (x - mid_x) * scale, 1),
            round(HEIGHT / 2 - (y - mid_y) * scale, 1),
            round(5 + 19 * sqrt(s.visits / most), 1) if s.visits else 4.0,
            s,
        )
        for x, y, s in zip(east, north, spots, strict=True)
    ]
    steps = _ROUND_M if settings.units == "metric" else _ROUND_YD
    bar_m = max((m for m in steps if m * scale <= WIDTH / 3), default=steps[0])
    dots.sort(key=lambda d: -d.r)
    return SmallMap(_named(dots), round(bar_m * scale, 1), length(bar_m, settings))


def _named(dots: Sequence[Dot]) -> list[Dot]:
    """Place each name where it covers no other name and no other dot, as far as there is room."""
    placed: list[Dot] = []
    for dot in dots:
        ways = (dot.y - dot.r - 5, dot.y + dot.r + 14, dot.y - dot.r - 19, dot.y + dot.r + 28)
        free = (y for y in ways if not any(_covers(dot.x, y, other) for other in placed))
        placed.append(replace(dot, name_y=round(next(free, ways[0]), 1)))
    return placed


def _covers(x: float, y: float, other: Dot) -> bool:
    """Say whether a name at x, y [pixels] would cover another's name or dot."""
    names = other.spot.visits > 0 and abs(x - other.x) < _NAME_WIDE and abs(y - other.name_y) < 13
    near_y = max(0.0, abs(y - 5 - other.y) - 7)
    dots = abs(x - other.x) < other.r + _NAME_WIDE / 2 and near_y < other.r
    return names or dots
