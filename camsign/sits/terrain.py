"""The ground of a property: an elevation file taken in once and kept in the logbook."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from camsign.errors import InputRefused
from camsign.ground.drainage import Slopes, slopes_of
from camsign.ground.grid import Grid
from camsign.ground.horizon import horizon_deg, in_sun
from camsign.logbook import placing
from camsign.logbook.folder import Folder
from camsign.sits.plane import Plane
from camsign.sun import sun_bearing, sun_height

if TYPE_CHECKING:
    from camsign.formats.elevation import Elevation

FOLDER, FILE = "ground", "elevation.tif"
REACH_M = 4000.0


@dataclass(frozen=True, slots=True)
class Terrain:
    """The kept ground: a grid of heights on the plane about its origin."""

    grid: Grid
    plane: Plane
    native_m: float
    unknown: float
    slopes: Slopes


def import_ground(folder: Folder, path: Path, reach_m: float = REACH_M) -> Terrain:
    """Take heights within reach_m [m] of home into the logbook; what was there is replaced.

    Raises:
        InputRefused: no home, or the file is no elevation of this place.
    """
    from camsign.formats.elevation import elevation_bytes, read_elevation

    home = folder.settings.home
    if home is None:
        raise InputRefused("this logbook has no home", "set home = [LAT, LON] in logbook.toml")
    read = read_elevation(path, *home, reach_m)
    kept = folder.root / FOLDER
    kept.mkdir(exist_ok=True)
    placing.place(kept / FILE, elevation_bytes(read))
    return _terrain(read)


def terrain_of(folder: Folder) -> Terrain | None:
    """The kept ground, None where none was taken in.

    Raises:
        InputRefused: the kept file is damaged.
    """
    path = folder.root / FOLDER / FILE
    try:
        stat = path.stat()
    except FileNotFoundError:
        return None
    return _kept(path, stat.st_mtime_ns, stat.st_size)


@lru_cache(maxsize=2)
def _kept(path: Path, _mtime_ns: int, _size: int) -> Terrain:
    """Read the kept ground once as long as it is the same: pages ask for it with every answer."""
    from camsign.formats.elevation import load_elevation

    return _terrain(load_elevation(path))


def _terrain(read: Elevation) -> Terrain:
    plane = Plane(read.lat, read.lon)
    return Terrain(read.grid, plane, read.native_m, read.unknown, slopes_of(read.grid))


def sunlit(terrain: Terrain, x: float, y: float, utc: np.ndarray) -> np.ndarray:
    """Whether the sun shines on a place x, y [m] at times (datetime64, UTC), trees apart."""
    lat, lon = terrain.plane.lat_lon(np.array([[x, y]]))[0]
    height, bearing = sun_height(lat, lon, utc, apparent=True), sun_bearing(lat, lon, utc)
    # Only where the sun stands: the whole round costs ten times as much.
    below = np.floor(np.ravel(bearing)).astype(int)
    wanted = np.unique(np.concatenate([below, below + 1]) % 360)
    horizon = np.zeros(360)
    horizon[wanted] = horizon_deg(terrain.grid, x, y, 0.0, wanted)
    if not np.isfinite(horizon).all():
        return np.asarray(height > 0)
    return in_sun(horizon, bearing, height)
