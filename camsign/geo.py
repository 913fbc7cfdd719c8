"""Distances, bearings and areas on the WGS 84 ellipsoid, as pure functions.

Geodesics are PROJ's: C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87 (2013) 43-55.
Latitudes and longitudes in degrees, distances in meters, bearings in degrees true.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from math import isfinite, pi
from typing import TYPE_CHECKING

from camsign.errors import UsageError

if TYPE_CHECKING:
    import numpy.typing as npt
    import pyproj
    from shapely.geometry.base import BaseGeometry

    from camsign.arrays import Floats, Ints

    Pairs = tuple[Ints, Ints, Floats, Floats]

Ring = tuple[tuple[float, float], ...]
# WGS 84 (NIMA TR8350.2, table 3.1).
_EQUATOR_M, _FLAT = 6_378_137.0, 1 / 298.257223563
# Up to so many pairs, all of them are looked at: to load the tree's library takes longer.
_FEW = 20_000


@dataclass(frozen=True, slots=True)
class Circle:
    """A round area: center [deg, WGS 84] and radius [m]."""

    lat: float
    lon: float
    radius_m: float


@dataclass(frozen=True, slots=True)
class Polygon:
    """One or more outlines, each a ring of (longitude, latitude) [deg, WGS 84], closed or not.

    A ring that lies inside the land of the rings larger than it is a hole; others add their land.
    So holes, islands in holes and several separate (or overlapping) outlines all work.
    """

    rings: tuple[Ring, ...]


Area = Circle | Polygon


def check_lat_lon(lat: float, lon: float) -> None:
    """Raise UsageError unless -90 ≤ lat ≤ 90 and -180 ≤ lon ≤ 180 [deg]."""
    if not (isfinite(lat) and abs(lat) <= 90):
        raise UsageError(f"latitude {lat:g} is not between -90 and 90")
    if not (isfinite(lon) and abs(lon) <= 180):
        raise UsageError(f"longitude {lon:g} is not between -180 and 180")


def distance_bearing(
    lat1: npt.ArrayLike, lon1: npt.ArrayLike, lat2: npt.ArrayLike, lon2: npt.ArrayLike
) -> tuple[Floats, Floats]:
    """Geodesic distance [m] and azimuth at the first point toward the second, 0 to 360 [deg].

    The four inputs [deg] broadcast as numpy arrays do; numbers in, numbers out. The azimuth is NaN
    where the two points are the same. Source: Karney 2013.
    """
    import numpy as np

    shaped = np.broadcast_arrays(*(np.asarray(a, dtype=float) for a in (lon1, lat1, lon2, lat2)))
    from_lon, from_lat, to_lon, to_lat = (np.ravel(a) for a in shaped)
    azimuth, _, distance = _geod().inv(from_lon, from_lat, to_lon, to_lat)
    azimuth = np.where(np.asarray(distance) == 0, np.nan, np.asarray(azimuth) % 360.0)
    # A tiny negative angle rounds up to 360 itself.
    azimuth = np.where(azimuth == 360.0, 0.0, azimuth)
    shape = shaped[0].shape
    return np.reshape(distance, shape)[()], np.reshape(azimuth, shape)[()]


def destination(
    lat: npt.ArrayLike, lon: npt.ArrayLike, bearing_deg: npt.ArrayLike, distance_m: npt.ArrayLike
) -> tuple[Floats, Floats]:
    """Latitude and longitude [deg] reached along a true bearing [deg] for a distance [m].

    Inputs broadcast; numbers in, numbers out. Source: Karney 2013.
    """
    import numpy as np

    given = (lon, lat, bearing_deg, distance_m)
    shaped = np.broadcast_arrays(*(np.asarray(a, dtype=float) for a in given))
    from_lon, from_lat, bearing, distance = (np.ravel(a) for a in shaped)
    to_lon, to_lat, _ = _geod().fwd(from_lon, from_lat, bearing, distance)
    shape = shaped[0].shape
    return np.reshape(to_lat, shape)[()], np.reshape(to_lon, shape)[()]


class Places:
    """Places [deg, WGS 84] among which neighbors are found, by a KD-tree where there are many.

    Straight lines through the earth, which are never longer than the way over it, say which may be
    near; these are then measured on the ellipsoid. Poles and the 180th meridian need no care.
    """

    def __init__(self, lats: npt.ArrayLike, lons: npt.ArrayLike) -> None:
        import numpy as np

        self.lats, self.lons = np.asarray(lats, float), np.asarray(lons, float)
        self._ends = _through_earth(self.lats, self.lons)

    def near(
        self, lats: npt.ArrayLike, lons: npt.ArrayLike, limit_m: float, at_once: int = 500_000
    ) -> Iterator[Pairs]:
        """Give (i, j, distance [m], bearing [deg] from i) of each i of these near a place j.

        In order of i and j, and in parts, each of about `at_once` pairs or of one i.
        """
        import numpy as np

        lats, lons = np.asarray(lats, float), np.asarray(lons, float)
        ends, reach = _through_earth(lats, lons), limit_m * (1 + 1e-9) + 1e-6
        few = len(lats) * len(self.lats) <= min(at_once, _FEW)
        for i, j in self._few(ends, reach) if few else self._many(ends, reach, at_once):
            distance, bearing = distance_bearing(lats[i], lons[i], self.lats[j], self.lons[j])
            close = distance <= limit_m
            yield i[close], j[close], distance[close], bearing[close]

    def _few(self, ends: Floats, reach: float) -> Iterator[tuple[Ints, Ints]]:
        import numpy as np

        apart = np.linalg.norm(ends[:, None, :] - self._ends[None, :, :], axis=2)
        i, j = np.nonzero(apart <= reach)
        yield i, j

    def _many(self, ends: Floats, reach: float, at_once: int) -> Iterator[tuple[Ints, Ints]]:
        import numpy as np
        from scipy.spatial import cKDTree

        tree = cKDTree(self._ends)
        counts = np.asarray(tree.query_ball_point(ends, reach, return_length=True))
        part = np.cumsum(counts) // at_once
        for which in np.split(np.arange(len(ends)), np.flatnonzero(np.diff(part)) + 1):
            if counts[which].sum():
                found = tree.query_ball_point(ends[which], reach, return_sorted=True)
                yield np.repeat(which, counts[which]), np.concatenate(found).astype(np.int64)


def _through_earth(lats: Floats, lons: Floats) -> Floats:
    """Places [deg] on the ellipsoid as x, y, z from its middle [m] (NIMA TR8350.2, 4-14)."""
    import numpy as np

    lat, lon = np.radians(lats), np.radians(lons)
    squeezed = _FLAT * (2 - _FLAT)
    normal = _EQUATOR_M / np.sqrt(1 - squeezed * np.sin(lat) ** 2)
    across = normal * np.cos(lat)
    up = normal * (1 - squeezed) * np.sin(lat)
    return np.stack([across * np.cos(lon), across * np.sin(lon), up], axis=-1)


def angle_difference_deg(a: npt.ArrayLike, b: npt.ArrayLike) -> Floats:
    """How far `a` lies clockwise of `b` [deg], -180 ≤ difference < 180; inputs broadcast."""
    import numpy as np

    turned: Floats = np.mod(np.asarray(a, dtype=float) - np.asarray(b, dtype=float) + 180, 360)
    return turned - 180


def distance_to_area(area: Area, lats: npt.ArrayLike, lons: npt.ArrayLike) -> Floats:
    """Distance [m] of each point [deg] to the area's edge, 0 inside it; the points' shape.

    A circle's is geodesic. A polygon's is measured in an azimuthal equidistant projection on the
    polygon's center, whose scale is off by less than 1e-5 within 50 km of that center (the
    factor is (d/R)/sin(d/R), J. P. Snyder, Map projections, USGS PP 1395, 1987, ch. 25).
    """
    import numpy as np
    import shapely

    if isinstance(area, Circle):
        distance, _ = distance_bearing(area.lat, area.lon, lats, lons)
        return np.maximum(distance - area.radius_m, 0.0)
    plane, shape = _on_plane(area)
    shaped = np.broadcast_arrays(np.asarray(lons, dtype=float), np.asarray(lats, dtype=float))
    x, y = plane(np.ravel(shaped[0]), np.ravel(shaped[1]))
    edge: Floats = shapely.distance(shape, shapely.points(x, y))
    return np.reshape(edge, shaped[0].shape)[()]


def area_hectares(area: Area) -> float:
    """The area's size [ha], holes taken out; planar, off by less than 1e-6 of it up to 15 km."""
    if isinstance(area, Circle):
        return pi * area.radius_m**2 / 1e4
    return float(_on_plane(area)[1].area) / 1e4


def area_center(area: Area) -> tuple[float, float]:
    """Latitude and longitude [deg] of a circle's center or a polygon's center of mass.

    The center of mass of a crescent or of separate parts may lie outside of them.
    """
    if isinstance(area, Circle):
        return area.lat, area.lon
    plane, shape = _on_plane(area)
    lon, lat = plane(shape.centroid.x, shape.centroid.y, inverse=True)
    return float(lat), float(lon)


def shared(one: Area, other: Area) -> float:
    """The share, 0 to 1, of the smaller of two areas that lies in both of them."""
    plane = equidistant(*area_center(one))
    lands = [
        _land(Polygon((circle_ring(x),)) if isinstance(x, Circle) else x, plane)
        for x in (one, other)
    ]
    both = lands[0].intersection(lands[1]).area
    return float(both) / min(land.area for land in lands)


def circle_ring(circle: Circle, n: int = 72) -> Ring:
    """A closed ring of n + 1 (longitude, latitude) [deg] points on the circle's edge."""
    import numpy as np

    # Counter-clockwise, as GeoJSON (RFC 7946, 3.1.6) wants of an outer ring.
    bearings = -np.arange(n) * 360.0 / n
    lats, lons = destination(circle.lat, circle.lon, bearings, circle.radius_m)
    points = tuple(zip(lons.tolist(), lats.tolist(), strict=True))
    return (*points, points[0])


@cache
def _geod() -> pyproj.Geod:
    import pyproj

    return pyproj.Geod(ellps="WGS84")


@lru_cache(maxsize=512)
def _on_plane(area: Polygon) -> tuple[pyproj.Proj, BaseGeometry]:
    """The polygon in meters, in a projection centerd on its own center of mass."""
    corners = [corner for ring in area.rings for corner in ring]
    for lon, lat in corners:
        check_lat_lon(lat, lon)
    rough = equidistant(*(corners or [(0.0, 0.0)])[0][::-1])
    center = _land(area, rough).centroid
    lon, lat = rough(center.x, center.y, inverse=True)
    plane = equidistant(lat, lon)
    return plane, _land(area, plane)


def equidistant(lat: float, lon: float) -> pyproj.Proj:
    """Give the azimuthal equidistant projection about a place [deg], in meters."""
    import pyproj

    return pyproj.Proj(proj="aeqd", lat_0=lat, lon_0=lon, ellps="WGS84")


def _land(area: Polygon, plane: pyproj.Proj) -> BaseGeometry:
    """Holes cut out, parts put together, in the projection's meters."""
    import shapely

    parts = sorted((_ring(ring, plane) for ring in area.rings), key=lambda part: -part.area)
    land: BaseGeometry = shapely.Polygon()
    for part in parts:
        land = land.difference(part) if land.contains(part) else land.union(part)
    if land.area == 0:
        raise UsageError("an area's outline encloses nothing", "give it at least three corners")
    shapely.prepare(land)
    return land


def _ring(ring: Ring, plane: pyproj.Proj) -> BaseGeometry:
    import shapely

    if len(set(ring)) < 3:
        raise UsageError("an area's outline needs at least three corners")
    x, y = plane([lon for lon, _ in ring], [lat for _, lat in ring])
    return shapely.make_valid(shapely.Polygon(list(zip(x, y, strict=True))))
