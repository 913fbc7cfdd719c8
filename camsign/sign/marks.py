"""How each kind of sign is drawn, on the page and on paper: one table of outlines and colors.

Outlines are polygons in a square from -1 to 1, east and north. Kinds differ by shape as well as by
color, so that nobody needs to tell colors apart; on paper the colors are darker.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin

Outline = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Mark:
    """A kind's mark: outlines, colors on the dark page and on paper, many of it in words."""

    outlines: tuple[Outline, ...]
    dark: str
    paper: str
    plural: str


def _disc(x: float, y: float, r: float, corners: int = 12) -> Outline:
    turns = (2 * pi * i / corners for i in range(corners))
    return tuple((round(x + r * sin(t), 3), round(y + r * cos(t), 3)) for t in turns)


def _box(x0: float, y0: float, x1: float, y1: float) -> Outline:
    return ((x0, y0), (x0, y1), (x1, y1), (x1, y0))


# fmt: off
_CROSS = ((-0.3, 1.0), (0.3, 1.0), (0.3, 0.3), (1.0, 0.3), (1.0, -0.3), (0.3, -0.3),
          (0.3, -1.0), (-0.3, -1.0), (-0.3, -0.3), (-1.0, -0.3), (-1.0, 0.3), (-0.3, 0.3))
# fmt: on
_DIAMOND = ((0.0, 1.0), (1.0, 0.0), (0.0, -1.0), (-1.0, 0.0))
_DROPPED = (_disc(-0.5, -0.3, 0.4, 8), _disc(0.5, -0.3, 0.4, 8), _disc(0.0, 0.5, 0.4, 8))
_HOOVES = (_box(-0.62, -1.0, -0.2, 1.0), _box(0.2, -1.0, 0.62, 1.0))

MARKS = {
    "rub": Mark((((0.0, 1.0), (1.0, -0.8), (-1.0, -0.8)),), "#ff9e5e", "#a5430a", "rubs"),
    "scrape": Mark((_disc(0, 0, 0.95),), "#cfa6f2", "#7a4d9e", "scrapes"),
    "bed": Mark((_box(-1.0, -0.62, 1.0, 0.62),), "#59d3a8", "#00634a", "beds"),
    "track": Mark(_HOOVES, "#b3bbbd", "#6b7a72", "tracks"),
    "droppings": Mark(_DROPPED, "#b3bbbd", "#6b7a72", "droppings"),
    "trail": Mark((_box(-1.0, -0.25, 1.0, 0.25),), "#b3bbbd", "#6b7a72", "trails"),
    "browse": Mark((((0.0, -1.0), (1.0, 0.8), (-1.0, 0.8)),), "#dccb6d", "#8a6d00", "browse"),
    "shed": Mark((_CROSS,), "#8fbaff", "#0072b2", "shed antlers"),
}
# fmt: off
PLACES: dict[str, tuple[Outline, ...]] = {
    "stand": (((-0.78, -0.89), (-0.33, 0.89), (0.33, 0.89), (0.78, -0.89)),
              ((-0.56, -0.11), (0.56, -0.11))),
    "parking": (((-0.89, -0.89), (-0.89, 0.89), (0.89, 0.89), (0.89, -0.89), (-0.89, -0.89)),
                ((-0.3, -0.56), (-0.3, 0.56), (0.15, 0.56), (0.4, 0.4), (0.4, 0.1), (0.15, -0.08),
                 (-0.3, -0.08))),
    "water": (((0.0, 1.0), (0.42, 0.2), (0.6, -0.25), (0.5, -0.65), (0.2, -0.88), (-0.2, -0.88),
               (-0.5, -0.65), (-0.6, -0.25), (-0.42, 0.2), (0.0, 1.0)),),
    "food": (((0.0, -1.0), (0.0, 1.0)), ((-0.67, 0.78), (0.0, 0.22), (0.67, 0.78)),
             ((-0.67, 0.11), (0.0, -0.44), (0.67, 0.11))),
}
# fmt: on
"""How a place is drawn, as strokes in the same square; a path is a dashed line."""
CAMERA = Mark((_DIAMOND,), "#6cc0f0", "#0072b2", "cameras")
