"""Shapes of areas and places as people draw them, checked; see `camsign.logbook.shapes`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import pi
from typing import Any

from camsign.errors import UsageError
from camsign.geo import Circle, area_centre, area_hectares, check_lat_lon
from camsign.logbook.shapes import of_circle, to_area, to_line

MAX_RADIUS_M = 20_000.0
MAX_HECTARES = 1e6


def circle_shape(lat: float, lon: float, radius_m: float) -> dict[str, Any]:
    """Give a circle's shape. Centre [deg, WGS 84], radius [m].

    Raises:
        UsageError: no such place, or a radius of nothing or of more than 20 km.
    """
    check_lat_lon(lat, lon)
    if not 0 < radius_m <= MAX_RADIUS_M:
        raise UsageError(f"a radius of {radius_m:g} m is not between 0 and {MAX_RADIUS_M:g} m")
    return of_circle(Circle(lat, lon, radius_m))


def polygon_shape(geometry: Mapping[str, Any]) -> dict[str, Any]:
    """Give a polygon's shape from a checked GeoJSON geometry, heights left out.

    Raises:
        UsageError: it is no polygon, encloses nothing, or is larger than a million hectares.
    """
    if geometry["type"] not in ("Polygon", "MultiPolygon"):
        raise UsageError(f"it is a {geometry['type']}, and an area must be a polygon")
    shape = {"type": geometry["type"], "coordinates": _flat(geometry["coordinates"])}
    if area_hectares(to_area(shape)) > MAX_HECTARES:
        raise UsageError("it is larger than a million hectares: its corners cannot be right")
    return shape


def point_shape(lat: float, lon: float) -> dict[str, Any]:
    """Give a point's shape [deg, WGS 84]. Raises UsageError if there is no such place."""
    check_lat_lon(lat, lon)
    return {"type": "Point", "coordinates": [lon, lat]}


def path_shape(points: Sequence[tuple[float, float]]) -> dict[str, Any]:
    """Give a path's shape from its (lat, lon) points [deg]; one point makes a point.

    Raises:
        UsageError: no point, or no such place.
    """
    if len(points) == 1:
        return point_shape(*points[0])
    if not points:
        raise UsageError("a path needs at least one point")
    for lat, lon in points:
        check_lat_lon(lat, lon)
    return {"type": "LineString", "coordinates": [[lon, lat] for lat, lon in points]}


def centre_and_size(shape: str | Mapping[str, Any]) -> tuple[float, float, float, float]:
    """Give an area's centre [deg], the radius of a circle of its size [m], and its size [ha]."""
    area = to_area(shape)
    lat, lon = area_centre(area)
    hectares = area_hectares(area)
    if isinstance(area, Circle):
        return lat, lon, area.radius_m, hectares
    return lat, lon, (hectares * 1e4 / pi) ** 0.5, hectares


def points_of(shape: str | Mapping[str, Any]) -> list[tuple[float, float]]:
    """Give the (lat, lon) points [deg] of a point's or path's shape."""
    return [(lat, lon) for lon, lat in to_line(shape)]


def _flat(coordinates: Any) -> Any:
    if coordinates and not isinstance(coordinates[0], list):
        return list(coordinates[:2])
    return [_flat(part) for part in coordinates]
