"""The made-up property's hills as an elevation file, its stands and the ways in to them."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import numpy as np

from camsign.api import Logbook
from camsign.arrays import Floats
from camsign.demo.land import DATA, MIDDLE, ORIGIN, moved, place
from camsign.formats.elevation import Elevation, elevation_bytes
from camsign.ground.grid import Grid
from camsign.places.points import add_place
from camsign.sits.journal import add_sit

_CELL_M, _REACH_M = 10.0, 4500.0


def heights(x: Floats, y: Floats) -> Floats:
    """Height of the ground [m] at places in meters east and north of the property's origin."""
    total: Floats = np.full(np.broadcast(x, y).shape, DATA["ground"]["height"])
    for tall, wide, east, north in DATA["ground"]["hills"]:
        total = total + tall * np.exp(-((x - east) ** 2 + (y - north) ** 2) / (2 * wide**2))
    lie: Floats = total + 6 * np.sin(x / 170) * np.cos(y / 230)
    return lie


def write_ground(folder: Path) -> Path:
    """Write folder/notes/ground.tif. Raises OSError if the folder cannot be written."""
    middle = np.arange(-_REACH_M, _REACH_M, _CELL_M) + _CELL_M / 2
    grid = Grid(heights(middle[None, :], middle[::-1, None]), -_REACH_M, _REACH_M, _CELL_M)
    path = folder / "notes" / "ground.tif"
    path.write_bytes(elevation_bytes(Elevation(grid, *ORIGIN, _CELL_M, 0.0)))
    return path


def draw_stands(book: Logbook) -> Counter[str]:
    """Draw stands and ways in into a logbook; give how many of each kind."""
    with book.session() as session:
        for row in DATA["drawn"]:
            points = [place(moved(MIDDLE[row["from"]], *step)) for step in row["at"]]
            add_place(session, row["kind"], row["name"], tuple(points))
    return Counter(row["kind"] for row in DATA["drawn"])


def note_sits(book: Logbook) -> int:
    """Put the season's sits into the journal; give how many."""
    for row in DATA["sits"]:
        with book.session() as session:
            add_sit(session, **row)
    return len(DATA["sits"])
