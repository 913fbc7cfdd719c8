"""Shapes of areas and places as people draw them, checked; see `camsign.logbook.shapes`."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import pi
from typing import Any

from camsign.errors import UsageError
from camsign.geo import Circle, area_center, area_hectares, check_lat_lon
from camsign.logbook.shapes import of_circle, to_area, to_line

MAX_RADIUS_M = 20_000.0
MAX_HECTARES = 1e6
SLIVER = 0.02


def circle_shape(lat: float, lon: float, radius_m: float) -> dict[str, Any]:
    """Give a circle's shape. Center [deg, WGS 84], radius [m].

    Raises:
        UsageError: no such place, or a radius of nothing or of more than 20 km.
    """
    check_lat_lon(lat, lon)
    if not 0 < radius_m <= MAX_RADIUS_M:
        raise UsageError(
            "an area reaches more than nothing and at most 12 miles (20 km) from its middle",
            "give another radius, such as 80yd",
        )
    return of_circle(Circle(lat, lon, radius_m))


def polygon_shape(geometry: Mapping[str, Any]) -> dict[str, Any]:
    """Give a polygon's shape from a checked GeoJSON geometry, heights left out.

    Raises:
        UsageError: it is no polygon, encloses nothing, crosses itself, or is larger than a
            million hectares.
    """
    if geometry["type"] not in ("Polygon", "MultiPolygon"):
        raise UsageError(f"it is a {geometry['type']}, and an area must be a polygon")
    shape = {"type": geometry["type"], "coordinates": _flat(geometry["coordinates"])}
    for ring in rings_of(shape):
        _refuse_crossing(ring)
    if area_hectares(to_area(shape)) > MAX_HECTARES:
        raise UsageError("it is larger than a million hectares: its corners cannot be right")
    return shape


def path_shape(points: Sequence[tuple[float, float]]) -> dict[str, Any]:
    """Give a path's shape from its (lat, lon) points [deg]; one point makes a point.

    Raises:
        UsageError: no point, or no such place.
    """
    if not points:
        raise UsageError("a path needs at least one point")
    for lat, lon in points:
        check_lat_lon(lat, lon)
    line = [[lon, lat] for lat, lon in points]
    if len(line) == 1:
        return {"type": "Point", "coordinates": line[0]}
    return {"type": "LineString", "coordinates": line}


def center_and_size(shape: str | Mapping[str, Any]) -> tuple[float, float, float, float]:
    """Give an area's center [deg], the radius of a circle of its size [m], and its size [ha]."""
    area = to_area(shape)
    lat, lon = area_center(area)
    hectares = area_hectares(area)
    if isinstance(area, Circle):
        return lat, lon, area.radius_m, hectares
    return lat, lon, (hectares * 1e4 / pi) ** 0.5, hectares


def points_of(shape: str | Mapping[str, Any]) -> list[tuple[float, float]]:
    """Give the (lat, lon) points [deg] of a point's or path's shape."""
    return [(lat, lon) for lon, lat in to_line(shape)]


def rings_of(shape: Mapping[str, Any]) -> list[Any]:
    """Give the rings of a Polygon or MultiPolygon, each a list of [lon, lat] positions [deg]."""
    parts = [shape["coordinates"]] if shape["type"] == "Polygon" else shape["coordinates"]
    return [ring for part in parts for ring in part]


def _refuse_crossing(ring: Sequence[Sequence[float]]) -> None:
    """Raise UsageError if a ring crosses itself so that what it encloses is not clear.

    What a walked outline's unsteady fixes tangle is no more than a sliver, and is taken.
    """
    import shapely

    polygon = shapely.Polygon(ring)
    if polygon.is_valid:
        return
    around = abs(_signed(ring))
    enclosed = shapely.make_valid(polygon).area
    if abs(enclosed - around) > SLIVER * max(enclosed, around):
        where = re.search(r"\[(\S+) (\S+)\]", shapely.is_valid_reason(polygon))
        near = f" near {float(where[2]):.5f},{float(where[1]):.5f}" if where else ""
        raise UsageError(f"its outline crosses itself{near}", "draw it again without the crossing")


def _signed(ring: Sequence[Sequence[float]]) -> float:
    """Give the area that a ring winds around, by the shoelace formula [square degrees].

    A part that is gone around the other way counts against the rest.
    """
    x0, y0 = ring[0][:2]
    crosses = ((a[0] - x0) * (b[1] - y0) - (b[0] - x0) * (a[1] - y0) for a, b in pairwise(ring))
    return sum(crosses) / 2


def _flat(coordinates: Any) -> Any:
    if coordinates and not isinstance(coordinates[0], list):
        return list(coordinates[:2])
    return [_flat(part) for part in coordinates]
