"""The invented property's hills as an elevation file, its stands and the ways in to them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from camsign.demo.land import KNOB, MIDDLE, ORIGIN, SHELF, SWALE, Metres, moved, place

if TYPE_CHECKING:
    import numpy.typing as npt

    from camsign.api import Logbook

    Floats = npt.NDArray[np.float64]

CELL_M, REACH_M = 10.0, 4500.0
# Height over the valley [m] and how far a hill reaches [m], with its middle.
_HILLS: tuple[tuple[float, float, Metres], ...] = (
    (95.0, 380.0, MIDDLE[KNOB]),
    (60.0, 420.0, MIDDLE[SHELF]),
    (-40.0, 350.0, MIDDLE[SWALE]),
    (150.0, 900.0, (-2300.0, 500.0)),
    (110.0, 700.0, (2600.0, 900.0)),
)


@dataclass(frozen=True, slots=True)
class Drawn:
    """A stand or a way in, as it is drawn: kind, name, points (lat, lon [deg])."""

    kind: str
    name: str
    points: tuple[tuple[float, float], ...]


def _at(middle: Metres, *steps: tuple[float, float]) -> tuple[tuple[float, float], ...]:
    return tuple(place(moved(middle, bearing, by)) for bearing, by in steps)


DRAWN = (
    Drawn("stand", "Ledge Pine", _at(MIDDLE[KNOB], (221, 188))),
    Drawn("stand", "East Oak", _at(MIDDLE[KNOB], (92, 150))),
    Drawn("stand", "Shelf Birch", _at(MIDDLE[SHELF], (303, 165))),
    Drawn("way in", "Brook path", _at(MIDDLE[KNOB], (236, 700), (231, 420), (222, 195))),
    Drawn("way in", "Tote road", _at(MIDDLE[SHELF], (330, 620), (318, 380), (304, 172))),
)


def heights(x: Floats, y: Floats) -> Floats:
    """Height of the ground [m] at places in meters east and north of the property's origin."""
    total = np.full(np.broadcast(x, y).shape, 540.0)
    for tall, wide, (east, north) in _HILLS:
        total = total + tall * np.exp(-((x - east) ** 2 + (y - north) ** 2) / (2 * wide**2))
    lie: Floats = total + 6 * np.sin(x / 170) * np.cos(y / 230)
    return lie


def write_ground(folder: Path) -> Path:
    """Write folder/notes/ground.tif. Raises OSError if the folder cannot be written."""
    from camsign.formats.elevation import Elevation, elevation_bytes
    from camsign.ground.grid import Grid

    middle = np.arange(-REACH_M, REACH_M, CELL_M) + CELL_M / 2
    grid = Grid(heights(middle[None, :], middle[::-1, None]), -REACH_M, REACH_M, CELL_M)
    path = folder / "notes" / "ground.tif"
    path.write_bytes(elevation_bytes(Elevation(grid, *ORIGIN, CELL_M, 0.0)))
    return path


def draw_stands(book: Logbook) -> tuple[int, int]:
    """Draw stands and ways in into a logbook; give how many of each."""
    from camsign.places.points import add_place

    with book.session() as session:
        for one in DRAWN:
            add_place(session, one.kind, one.name, one.points)
    stands = sum(one.kind == "stand" for one in DRAWN)
    return stands, len(DRAWN) - stands
