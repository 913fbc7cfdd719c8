"""The ground of a property: an elevation file taken in once and kept in the logbook."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from camsign.errors import InputRefused
from camsign.ground.drainage import slopes_of
from camsign.ground.grid import aspect_deg, sampled, slope_deg
from camsign.ground.horizon import horizon_deg, in_sun
from camsign.logbook import placing
from camsign.sits.plane import Plane
from camsign.sun import sun_bearing, sun_height

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from camsign.formats.elevation import Elevation
    from camsign.ground.drainage import Slopes
    from camsign.ground.grid import Grid
    from camsign.logbook.folder import Folder

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


@dataclass(frozen=True, slots=True)
class Lie:
    """How a place lies: height [m], slope and the bearing it falls to [deg]; None if unknown."""

    height_m: float | None
    slope_deg: float | None
    falls_toward_deg: float | None


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
    if not path.exists():
        return None
    from camsign.formats.elevation import load_elevation

    read = load_elevation(path)
    return _terrain(read)


def _terrain(read: Elevation) -> Terrain:
    plane = Plane(read.lat, read.lon)
    return Terrain(read.grid, plane, read.native_m, read.unknown, slopes_of(read.grid))


def lies(terrain: Terrain, places: Sequence[tuple[float, float]]) -> list[Lie]:
    """How each place (lat, lon [deg]) lies."""
    points = terrain.plane.xy([p[0] for p in places], [p[1] for p in places])
    heights = terrain.grid.at(points[:, 0], points[:, 1])
    where = terrain.grid.index_of(points[:, 0], points[:, 1])
    steep = sampled(slope_deg(terrain.grid), *where)
    near = [np.clip(np.rint(np.nan_to_num(w)), 0, s - 1).astype(int) for w, s in zip(
        where, terrain.grid.heights.shape, strict=True)]  # fmt: skip
    falls = aspect_deg(terrain.grid)[near[0], near[1]]
    return [Lie(_or_none(h), _or_none(s), _or_none(f)) for h, s, f in zip(
        heights, steep, falls, strict=True)]  # fmt: skip


def _or_none(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


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


def sun_leaves(terrain: Terrain, x: float, y: float, utc: np.ndarray) -> np.datetime64 | None:
    """The first of the times (rising) after which no sun falls on a place; None: it never did."""
    lit = np.flatnonzero(sunlit(terrain, x, y, utc))
    if not len(lit):
        return None
    return np.datetime64(utc[min(lit[-1] + 1, len(utc) - 1)])
