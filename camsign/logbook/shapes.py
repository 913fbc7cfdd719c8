"""How the shape of an area or place is kept: a circle, or a GeoJSON geometry, as JSON."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from camsign.errors import UsageError
from camsign.geo import Area, Circle, Polygon

Line = tuple[tuple[float, float], ...]


def of_circle(circle: Circle) -> dict[str, Any]:
    """Give a circle as it is kept: center [deg] and radius [m]."""
    return {"circle": [circle.lat, circle.lon, circle.radius_m]}


def to_area(shape: str | Mapping[str, Any]) -> Area:
    """Read a kept shape (JSON text or its value) as an area.

    Raises UsageError: it encloses nothing: a point, a path, or something unknown.
    """
    value = json.loads(shape) if isinstance(shape, str) else shape
    if "circle" in value:
        return Circle(*map(float, value["circle"]))
    if value.get("type") == "Polygon":
        return Polygon(tuple(_ring(r) for r in value["coordinates"]))
    if value.get("type") == "MultiPolygon":
        return Polygon(tuple(_ring(r) for part in value["coordinates"] for r in part))
    raise UsageError(f"a {value.get('type', 'shape')} is no area", "draw a circle or a polygon")


def to_line(shape: str | Mapping[str, Any]) -> Line:
    """Read a kept point or path as (longitude, latitude) points [deg]; a circle is its center."""
    value = json.loads(shape) if isinstance(shape, str) else shape
    if "circle" in value:
        return ((float(value["circle"][1]), float(value["circle"][0])),)
    if value.get("type") == "Point":
        return _ring([value["coordinates"]])
    if value.get("type") == "LineString":
        return _ring(value["coordinates"])
    raise UsageError(f"a {value.get('type', 'shape')} is neither a point nor a path")


def _ring(points: list[list[float]]) -> Line:
    return tuple((float(p[0]), float(p[1])) for p in points)
