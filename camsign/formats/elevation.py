"""Heights of the ground from a raster in any projection, onto a local plane; and the kept file.

The plane is azimuthal equidistant about a place (J. P. Snyder, Map projections, USGS PP 1395, 1987,
chapter 25), in meters: north up at that place, off by less than 1e-5 within 50 km of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from rasterio._err import CPLE_BaseError
from rasterio.enums import Resampling
from rasterio.errors import RasterioError
from rasterio.io import MemoryFile
from rasterio.transform import from_origin
from rasterio.vrt import WarpedVRT

from camsign.errors import InputRefused
from camsign.ground.grid import Grid

FINEST_M, MOST_CELLS = 5.0, 2000
# From the Dead Sea's shore to the highest summit, with room [m].
LOWEST_M, HIGHEST_M = -450.0, 8900.0
# GDAL's own error goes through where a projection is damaged, ValueError where a text is.
_DAMAGED = (RasterioError, CPLE_BaseError, ValueError)
_FOOT = {"ft": 0.3048, "foot": 0.3048, "feet": 0.3048, "us survey foot": 1200 / 3937}


@dataclass(frozen=True, slots=True)
class Elevation:
    """Heights on the plane about (lat, lon) [deg, WGS 84], and what the file was.

    `native_m`: the size of the file's own cells [m]; `unknown`: the share of cells without height.
    """

    grid: Grid
    lat: float
    lon: float
    native_m: float
    unknown: float


def read_elevation(path: Path, lat: float, lon: float, reach_m: float) -> Elevation:
    """Heights within reach_m [m] of a place to the north, south, east and west.

    Only the part that is needed is read, so the file may be far larger than memory.

    Raises:
        InputRefused: it is no raster, has no projection, lies elsewhere, or holds no heights there.
    """
    try:
        with rasterio.open(path) as source:
            if source.crs is None:
                raise InputRefused(
                    f"{path} does not say its projection", "export it as GeoTIFF with a projection"
                )
            return _read(path, source, lat, lon, reach_m)
    except _DAMAGED as err:
        why = str(err).splitlines()[0] if str(err) else type(err).__name__
        raise InputRefused(
            f"{path} is no elevation raster: {why}", "give a GeoTIFF or SRTM .hgt"
        ) from err


def _read(path: Path, source: Any, lat: float, lon: float, reach_m: float) -> Elevation:
    native = _native_m(source, lat, lon)
    cell = max(FINEST_M, native, 2 * reach_m / MOST_CELLS)
    side = 2 * ceil(reach_m / cell)
    edge = side * cell / 2
    with WarpedVRT(
        source, crs=_plane(lat, lon), transform=from_origin(-edge, edge, cell, cell), width=side,
        height=side, resampling=Resampling.bilinear, nodata=np.nan, dtype="float64",
        add_alpha=False, src_nodata=source.nodata,
    ) as warped:  # fmt: skip
        heights = np.asarray(warped.read(1, masked=True).filled(np.nan), float)
    heights = _in_meters(path, source, heights)
    known = np.isfinite(heights)
    if not known.any():
        raise InputRefused(
            f"{path} holds no heights around {lat:.4f}, {lon:.4f}",
            "get the tile that covers your property",
        )
    return Elevation(Grid(heights, -edge, edge, cell), lat, lon, native, 1 - float(known.mean()))


def _plane(lat: float, lon: float) -> str:
    return f"+proj=aeqd +lat_0={lat:.9f} +lon_0={lon:.9f} +datum=WGS84 +units=m +no_defs"


def _native_m(source: Any, lat: float, lon: float) -> float:
    """The side of the file's cells near a place [m]."""
    from rasterio.warp import transform_bounds

    left, low, right, top = transform_bounds(source.crs, _plane(lat, lon), *source.bounds)
    across = (right - left) / source.width, (top - low) / source.height
    size = min(abs(a) for a in across)
    return float(size) if np.isfinite(size) and size > 0 else FINEST_M


def _in_meters(path: Path, source: Any, heights: np.ndarray) -> np.ndarray:
    unit = (source.units[0] or "").strip().lower() if source.units else ""
    scaled = heights * _FOOT.get(unit, 1.0)
    off = np.isfinite(scaled) & ((scaled < LOWEST_M) | (scaled > HIGHEST_M))
    if off.all() and off.any():
        raise InputRefused(
            f"{path} holds no heights in meters: {float(np.nanmin(scaled)):g} to"
            f" {float(np.nanmax(scaled)):g}",
            "give an elevation raster",
        )
    return np.where(off, np.nan, scaled)


def elevation_bytes(elevation: Elevation) -> bytes:
    """The heights as a GeoTIFF that any program for maps can open."""
    grid = elevation.grid
    rows, columns = grid.heights.shape
    place = from_origin(grid.west, grid.north, grid.cell, grid.cell)
    with MemoryFile() as memory:
        with memory.open(
            driver="GTiff", height=rows, width=columns, count=1, dtype="float32", nodata=np.nan,
            crs=_plane(elevation.lat, elevation.lon), transform=place, compress="deflate",
        ) as file:  # fmt: skip
            file.write(grid.heights.astype(np.float32), 1)
            file.update_tags(
                LAT=f"{elevation.lat:.9f}", LON=f"{elevation.lon:.9f}",
                NATIVE_M=f"{elevation.native_m:.3f}",
            )  # fmt: skip
        return bytes(memory.read())


def load_elevation(path: Path) -> Elevation:
    """What elevation_bytes wrote, heights to a hundredth of a meter or better.

    Raises InputRefused: the file is missing, damaged or another one.
    """
    try:
        with rasterio.open(path) as file:
            tags, place = file.tags(), file.transform
            heights = np.asarray(file.read(1), float)
        lat, lon, native = (float(tags[name]) for name in ("LAT", "LON", "NATIVE_M"))
    except (RasterioError, KeyError, ValueError) as err:
        raise InputRefused(f"{path} is damaged", "import the ground again") from err
    grid = Grid(heights, float(place.c), float(place.f), float(place.a))
    return Elevation(grid, lat, lon, native, 1 - float(np.isfinite(heights).mean()))
