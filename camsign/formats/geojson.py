"""GeoJSON to plain features and back, each bad feature costing one line and not the file.

Source of the rules: RFC 7946 (positions are longitude, latitude on WGS 84).
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TextIO

from camsign.errors import InputRefused
from camsign.formats.text import decode, read_bytes

# How many lists stand around a position, and how many positions the innermost list must have.
_DEPTH = {
    "Point": (0, 1),
    "MultiPoint": (1, 1),
    "LineString": (1, 2),
    "MultiLineString": (2, 2),
    "Polygon": (2, 4),
    "MultiPolygon": (3, 4),
}
_REMEDY = "export it again as GeoJSON"


@dataclass(frozen=True, slots=True)
class GeoFeature:
    """A feature: `name` and `kind` from its properties, "" when absent, and its `geometry`.

    The geometry is a checked GeoJSON object with `type` and `coordinates` (or `geometries`),
    longitude before latitude [degrees, WGS 84]. `number` counts features in the file from 1.
    """

    name: str
    kind: str
    geometry: Mapping[str, Any]
    properties: Mapping[str, Any] = field(default_factory=dict)
    number: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class GeoFile:
    """The good features of a file, and one line for each that was left out."""

    features: list[GeoFeature]
    troubles: list[str]


class _BadFeatureError(Exception):
    """Why a feature is left out, in words that can follow its number and name."""


def read_geojson(path: Path) -> GeoFile:
    """Read a FeatureCollection, a single Feature or a bare geometry.

    Raises:
        InputRefused: missing, unreadable, empty, too large, no JSON, no GeoJSON, or in another
            reference system than WGS 84.
    """
    text, doubt = decode(read_bytes(path))
    try:
        root = json.loads(text)
    except (ValueError, RecursionError) as err:
        raise InputRefused(f"{path} is no JSON: {str(err)[:80]}", _REMEDY) from err
    troubles = [doubt] if doubt else []
    features = []
    for number, raw in enumerate(_raw_features(path, root), start=1):
        try:
            features.append(_feature(raw, number))
        except _BadFeatureError as err:
            troubles.append(f"feature {number}{_called(raw)} left out: {err}")
    return GeoFile(features, troubles)


def checked_geometry(raw: object) -> dict[str, Any]:
    """Give a geometry that stands by itself, checked. Raises InputRefused if it is none."""
    try:
        return _geometry(raw)
    except _BadFeatureError as err:
        raise InputRefused(str(err), _REMEDY) from err


def positions(coordinates: Sequence[Any]) -> Iterator[tuple[float, float]]:
    """Give every position of a geometry's coordinates in order, as latitude and longitude [deg]."""
    if coordinates and not isinstance(coordinates[0], list | tuple):
        yield float(coordinates[1]), float(coordinates[0])
        return
    for part in coordinates:
        yield from positions(part)


def write_geojson(features: Iterable[GeoFeature], stream: TextIO, title: str = "") -> None:
    """Write a FeatureCollection, UTF-8, one feature a line; name and kind join the properties.

    `title` becomes a member `name` beside its features, as RFC 7946, 6.1, allows.
    """
    head = {"type": "FeatureCollection"} | ({"name": title} if title else {})
    lines = (json.dumps(_written(feature), ensure_ascii=False) for feature in features)
    stream.write(json.dumps(head, ensure_ascii=False)[:-1] + ', "features": [\n')
    stream.write(",\n".join(lines))
    stream.write("\n]}\n")


def _written(feature: GeoFeature) -> dict[str, Any]:
    own = {"name": feature.name, "kind": feature.kind}
    properties = {**feature.properties, **{key: text for key, text in own.items() if text}}
    return {"type": "Feature", "properties": properties, "geometry": dict(feature.geometry)}


def _raw_features(path: Path, root: object) -> list[Any]:
    kind = root.get("type") if isinstance(root, dict) else None
    if not isinstance(root, dict) or not isinstance(kind, str):
        raise InputRefused(f"{path} is JSON but no GeoJSON: it has no type", _REMEDY)
    _check_reference(path, root.get("crs"))
    if kind == "FeatureCollection":
        if not isinstance(root.get("features"), list):
            raise InputRefused(f"{path} is a FeatureCollection without features", _REMEDY)
        return list(root["features"])
    if kind == "Feature":
        return [root]
    if kind in _DEPTH or kind == "GeometryCollection":
        return [{"type": "Feature", "properties": {}, "geometry": root}]
    raise InputRefused(f"{path} is no GeoJSON: its type is {kind[:40]!r}", _REMEDY)


def _check_reference(path: Path, crs: object) -> None:
    """GeoJSON of 2008 could name another reference system, whose numbers mean other places."""
    inner = crs.get("properties") if isinstance(crs, dict) else None
    name = str(inner.get("name")) if isinstance(inner, dict) else ""
    if crs is not None and not name.endswith(("CRS84", ":4326")):
        what = f"{path} is in another reference system ({name[:40] or 'unnamed'})"
        raise InputRefused(what, "export it as WGS 84 (EPSG:4326)")


def _feature(raw: object, number: int) -> GeoFeature:
    if not isinstance(raw, dict) or raw.get("type") != "Feature":
        raise _BadFeatureError("its type is not Feature")
    if isinstance(raw.get("id", ""), bool) or not isinstance(raw.get("id", ""), str | int | float):
        raise _BadFeatureError("its id is neither text nor number")
    if not isinstance(raw.get("properties", ""), dict | None):
        raise _BadFeatureError("it has no properties")
    if "geometry" not in raw:
        raise _BadFeatureError("it has no geometry")
    _check_bbox(raw)
    properties = raw["properties"] or {}
    geometry = _geometry(raw["geometry"])
    return GeoFeature(
        _property(properties, "name"), _property(properties, "kind"), geometry, properties, number
    )


def _geometry(raw: object, nested: bool = False) -> dict[str, Any]:
    if raw is None:
        raise _BadFeatureError("its geometry is empty: it lies nowhere")
    kind = raw.get("type") if isinstance(raw, dict) else None
    if not isinstance(raw, dict) or not isinstance(kind, str):
        raise _BadFeatureError("its geometry has no type")
    _check_bbox(raw)
    if kind == "GeometryCollection":
        parts = raw.get("geometries")
        if not isinstance(parts, list) or nested:
            raise _BadFeatureError("its GeometryCollection has no plain geometries")
        return {"type": kind, "geometries": [_geometry(part, nested=True) for part in parts]}
    if kind not in _DEPTH:
        raise _BadFeatureError(f"its geometry is of unknown type {kind[:40]!r}")
    if raw.get("coordinates") == []:
        raise _BadFeatureError("its geometry is empty: it lies nowhere")
    _check_coordinates(raw.get("coordinates"), kind, _DEPTH[kind][0])
    return {"type": kind, "coordinates": raw["coordinates"]}


def _check_coordinates(raw: object, kind: str, depth: int) -> None:
    if depth == 0:
        _check_position(raw)
        return
    if not isinstance(raw, list):
        raise _BadFeatureError(f"the coordinates of its {kind} are not nested as they should be")
    for part in raw:
        _check_coordinates(part, kind, depth - 1)
    if depth > 1:
        return
    least = _DEPTH[kind][1]
    if len(raw) < least:
        raise _BadFeatureError(f"its {kind} has {len(raw)} positions where {least} are the least")
    if "Polygon" in kind and raw[0] != raw[-1]:
        raise _BadFeatureError(f"a ring of its {kind} does not end where it begins")


def _check_position(raw: object) -> None:
    if not isinstance(raw, list) or len(raw) < 2 or not all(_is_number(part) for part in raw):
        raise _BadFeatureError("a position in it is not [longitude, latitude]")
    lon, lat = raw[:2]
    if abs(lon) > 180 or abs(lat) > 90:
        swapped = ", or the two are swapped" if abs(lat) <= 180 and abs(lon) <= 90 else ""
        raise _BadFeatureError(f"longitude {lon}, latitude {lat} is no place on earth{swapped}")


def _check_bbox(raw: Mapping[str, Any]) -> None:
    box = raw.get("bbox", [0, 0, 0, 0])
    if not isinstance(box, list) or len(box) < 4 or len(box) % 2:
        raise _BadFeatureError("its bbox is not two corners")


def _is_number(value: object) -> bool:
    if isinstance(value, float):
        return math.isfinite(value)
    return isinstance(value, int) and not isinstance(value, bool)


def _property(properties: Mapping[str, Any], key: str) -> str:
    for name, value in properties.items():
        if name.lower() == key and isinstance(value, str | int | float):
            return str(value).strip()
    return ""


def _called(raw: object) -> str:
    properties = raw.get("properties") if isinstance(raw, dict) else None
    name = _property(properties, "name") if isinstance(properties, dict) else ""
    return f" {name[:40]!r}" if name else ""
