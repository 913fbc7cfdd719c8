"""What files of the field hold, whatever their format: points with words, paths, polygons."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from camsign.errors import InputRefused
from camsign.formats.exif import PictureFacts, read_exif
from camsign.formats.geojson import read_geojson
from camsign.formats.gpx import Track, TrackPoint, Waypoint, read_gpx
from camsign.formats.kinds import HEAD_BYTES, PICTURES, Kind, sniff
from camsign.formats.kml import read_kml
from camsign.formats.marked import cell_text
from camsign.formats.table import Table, read_table
from camsign.formats.text import unreadable
from camsign.logbook.folder import refuse_logbook
from camsign.sign.heading import SaidHeading
from camsign.units import Bearing

# EXIF of a JPEG stands within its first part; a HEIC's may stand behind its picture.
_PHOTO_HEAD, _PHOTO_MOST = 1 << 20, 1 << 26
# No receiver told the time before its satellites did.
_FIRST_YEAR = 1980
# A phone that had no fix yet writes its last one; by then its owner may be elsewhere.
_FRESH_H = 1.0


@dataclass(frozen=True, slots=True)
class ParsedPoint:
    """A point as a file gives it. lat, lon [deg, WGS 84] or None where its cells hold them.

    `where` names it in messages; `when` is its time (aware) if it has one. `cells` are a table's
    columns or a feature's properties, names in lower case; {} where only words stand. `offered` is
    a travel that a photo's direction offers; `accuracy_m` how far off its place may be [m]. `hint`
    is the type or symbol that a receiver gave it: never a reason to leave it out.
    `made` is its id if camsign wrote it, `untouched` whether nobody changed it since, `rounded`
    whether its place was rounded before.
    """

    where: str
    name: str = ""
    text: str = ""
    lat: float | None = None
    lon: float | None = None
    when: datetime | None = None
    day: date | None = None
    cells: Mapping[str, str] = field(default_factory=dict)
    offered: SaidHeading | None = None
    accuracy_m: float | None = None
    hint: str = ""
    made: str = ""
    untouched: bool = False
    rounded: bool = False


@dataclass(frozen=True, slots=True)
class ParsedShape:
    """A polygon as a file gives it, as a checked GeoJSON geometry or as a logbook keeps a circle.

    `cells` are a feature's properties; `made`, `untouched` as in ParsedPoint.
    """

    where: str
    name: str
    kind: str
    geometry: Mapping[str, Any]
    cells: Mapping[str, str] = field(default_factory=dict)
    text: str = ""
    made: str = ""
    untouched: bool = False


@dataclass(slots=True)
class FieldFile:
    """All of a file, and one line for each thing in it that could not be read."""

    name: str
    points: list[ParsedPoint] = field(default_factory=list)
    # Of a path that camsign wrote, `cells` hold its id as `made`, and `untouched`.
    paths: list[Track] = field(default_factory=list)
    polygons: list[ParsedShape] = field(default_factory=list)
    troubles: list[str] = field(default_factory=list)


def read_field_file(path: Path, columns: Mapping[str, str] | None = None) -> FieldFile:
    """Read a GPX, KML, KMZ, GeoJSON, table or phone photo, told apart by content.

    Args:
        path: the file.
        columns: what a table's own column names mean, such as {"Y": "lat"}.

    Raises:
        InputRefused: it is none of them, or nothing of it can be read.
    """
    head = _head(path)
    kind = sniff(head)
    if kind is Kind.GPX:
        return of_gpx(path)
    if kind is Kind.KML or head.startswith(b"PK\x03\x04") or path.suffix.lower() == ".kml":
        return of_kml(path)
    if kind in PICTURES:
        return of_photo(path)
    if head.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{"):
        return of_geojson(path)
    is_text = b"\0" not in head or head.startswith((b"\xff\xfe", b"\xfe\xff"))
    if kind is Kind.EMPTY or (kind is Kind.OTHER and is_text):
        return of_table(path, read_table(path), columns or {})
    told = f"{path} is no GPX, KML, GeoJSON, table or photo"
    raise InputRefused(told if kind is Kind.OTHER else f"{told} (it looks like {kind.value})")


def of_gpx(path: Path) -> FieldFile:
    """Read waypoints and tracks of a GPX file."""
    file = read_gpx(path)
    found = FieldFile(path.name, [], list(file.tracks), [], list(file.troubles))
    for waypoint in file.waypoints:
        found.points.append(_timed(found, _of_waypoint(waypoint)))
    return found


def of_table(path: Path, table: Table, columns: Mapping[str, str]) -> FieldFile:
    """Read the rows of a table; their places and days are still text."""
    renamed = {theirs.strip().lower(): ours for theirs, ours in columns.items()}
    missing = [name for name in renamed if name not in {c.lower() for c in table.columns}]
    if missing:
        told = f"{path} has no column {missing[0]!r}"
        raise InputRefused(told, f"it has {', '.join(table.columns)}")
    points = []
    for row in table.rows:
        cells = {renamed.get(name.lower(), name.lower()): text for name, text in row.cells.items()}
        points.append(ParsedPoint(f"line {row.line}", cells.get("name", ""), cells=cells))
    return FieldFile(path.name, points, [], [], list(table.troubles))


def of_kml(path: Path) -> FieldFile:
    """Read the placemarks of a KML or KMZ: points, lines and polygons."""
    file = read_kml(path)
    found = FieldFile(path.name, troubles=list(file.troubles))
    for mark in file.placemarks:
        where = f"line {mark.line}: placemark{f' {mark.name[:40]!r}' if mark.name else ''}"
        cells = {name.lower(): text for name, text in mark.properties.items()}
        said = ParsedPoint(where, mark.name, mark.description, when=mark.when, cells=cells)
        for shape in _in_one(mark.shapes):
            _sort_shape(found, said, shape, mark.times)
    return found


def of_geojson(path: Path) -> FieldFile:
    """Read the features of a GeoJSON file: points, lines and polygons."""
    file = read_geojson(path)
    found = FieldFile(path.name, troubles=list(file.troubles))
    for feature in file.features:
        named = f" {feature.name[:40]!r}" if feature.name else ""
        where = f"feature {feature.number}{named}"
        cells = {k.lower(): cell_text(v) for k, v in feature.properties.items() if v is not None}
        said = ParsedPoint(where, feature.name, cells.get("description", ""), cells=cells)
        for shape in feature.geometry.get("geometries", [feature.geometry]):
            _sort_shape(found, said, shape)
    return found


def of_photo(path: Path) -> FieldFile:
    """Read where and when a photo was taken, and which way the camera looked.

    For a rub photographed square on, the camera looked the way the buck went; it is offered, never
    taken by itself. The words are the file's name and what is written in the picture.
    """
    with path.open("rb") as file:
        data = file.read(_PHOTO_HEAD)
        if sniff(data[:HEAD_BYTES]) is Kind.HEIC:
            data += file.read(_PHOTO_MOST)
    facts = read_exif(data)
    found = FieldFile(path.name)
    if facts.lat is None or facts.lon is None:
        found.troubles.append(f"{path.name} left out: the photo does not say where it was taken")
        return found
    offered = None
    if facts.img_direction_deg is not None:
        reference: Any = facts.img_direction_ref or None
        offered = SaidHeading(Bearing(facts.img_direction_deg % 360.0, reference))
    when = datetime.fromisoformat(facts.gps_utc) if facts.gps_utc else None
    if when is not None and (hours := _fixed_before(facts, when)):
        found.troubles.append(
            f"{path.name}: its place was found {hours:.0f} hours before the picture; check it"
        )
    found.points.append(
        ParsedPoint(
            f"photo {path.name}",
            path.stem.replace("_", " "),
            " ".join(part for part in (facts.description, facts.comment) if part),
            facts.lat,
            facts.lon,
            when if when is None or when.tzinfo else when.replace(tzinfo=UTC),
            date(facts.shown.year, facts.shown.month, facts.shown.day) if facts.shown else None,
            offered=offered,
            accuracy_m=facts.accuracy_m,
        )
    )
    return found


def _fixed_before(facts: PictureFacts, fixed: datetime) -> float:
    """Give how old the fix of a photo was [h], 0 where it may have been fresh.

    Without an offset the photo's clock may be 12 h behind UTC and up to 14 h before it.
    """
    if facts.shown is None:
        return 0.0
    taken = datetime.fromisoformat(facts.shown.iso()).replace(tzinfo=UTC)
    offset = timedelta(minutes=facts.offset_minutes or 0)
    hours = (taken - offset - fixed.astimezone(UTC)).total_seconds() / 3600
    fresh = _FRESH_H if facts.offset_minutes is not None else 14 + _FRESH_H
    return hours if hours > fresh else 0.0


def _timed(found: FieldFile, point: ParsedPoint) -> ParsedPoint:
    """Take no time from a clock that was never set: 1970 is where it begins to count."""
    if point.when is None or point.when.year >= _FIRST_YEAR:
        return point
    found.troubles.append(f"{point.where} taken without its time: {point.when.year} is no real one")
    return replace(point, when=None)


def _sort_shape(
    found: FieldFile,
    said: ParsedPoint,
    shape: Mapping[str, Any],
    times: Sequence[datetime | None] = (),
) -> None:
    """Sort a shape by its type; `said` is all that its file says of it but the place."""
    kind, at, cells = shape["type"], shape["coordinates"], said.cells
    if kind == "Point":
        found.points.append(_timed(found, replace(said, lat=at[1], lon=at[0])))
    elif kind == "MultiPoint":
        found.points += [replace(said, lat=p[1], lon=p[0]) for p in at]
    elif kind in ("Polygon", "MultiPolygon"):
        kind = cells.get("kind", "")
        found.polygons.append(ParsedShape(said.where, said.name, kind, shape, cells, said.text))
    else:
        lines = [at] if kind == "LineString" else at
        timed = times if len(lines) == 1 and len(times) == len(at) else ()
        points = [[TrackPoint(p[1], p[0]) for p in line] for line in lines]
        if timed:
            points[0] = [TrackPoint(p.lat, p.lon, t) for p, t in zip(points[0], timed, strict=True)]
        segments = tuple(tuple(line) for line in points)
        found.paths.append(Track(said.name, segments, not timed, said.text, cells))


def _in_one(shapes: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Make one area of all outlines that a placemark has."""
    outlines = [s["coordinates"] for s in shapes if s["type"] == "Polygon"]
    if len(outlines) < 2:
        return list(shapes)
    others = [s for s in shapes if s["type"] != "Polygon"]
    return [*others, {"type": "MultiPolygon", "coordinates": outlines}]


def _head(path: Path) -> bytes:
    refuse_logbook(path)
    if path.is_dir():
        raise InputRefused(f"{path} is a folder", "name the file in it")
    try:
        with path.open("rb") as file:
            return file.read(HEAD_BYTES)
    except OSError as e:
        raise unreadable(path, e) from e


def _of_waypoint(waypoint: Waypoint) -> ParsedPoint:
    said = [waypoint.description]
    said += [waypoint.comment] if waypoint.comment != waypoint.description else []
    text = " ".join(part for part in said if part)
    hint = waypoint.kind_text or waypoint.symbol
    named = f" {waypoint.name[:40]!r}" if waypoint.name else ""
    where = f"line {waypoint.line}: waypoint{named}"
    at, when = (waypoint.lat, waypoint.lon), waypoint.time_utc
    return ParsedPoint(where, waypoint.name, text, *at, when, hint=hint, cells=waypoint.cells)
