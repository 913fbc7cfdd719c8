"""What files of the field hold, whatever their format: points with words, paths, polygons."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any

from camsign.errors import InputRefused
from camsign.formats.gpx import Track, Waypoint, read_gpx
from camsign.formats.kinds import HEAD_BYTES, Kind, sniff
from camsign.formats.table import Row, Table, read_table


@dataclass(frozen=True, slots=True)
class Found:
    """A point as a file gives it. lat, lon [deg, WGS 84] or None where its cells hold them.

    `where` names it in messages; `when` is its time (aware) if it has one. `cells` are a table's
    columns or a feature's properties, names in lower case; {} where only words stand.
    """

    where: str
    name: str = ""
    text: str = ""
    lat: float | None = None
    lon: float | None = None
    when: datetime | None = None
    day: date | None = None
    cells: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Drawn:
    """A polygon as a file gives it, as a checked GeoJSON geometry."""

    where: str
    name: str
    kind: str
    geometry: Mapping[str, Any]


@dataclass(slots=True)
class FieldFile:
    """All of a file, and one line for each thing in it that could not be read."""

    name: str
    points: list[Found] = field(default_factory=list)
    paths: list[Track] = field(default_factory=list)
    polygons: list[Drawn] = field(default_factory=list)
    troubles: list[str] = field(default_factory=list)


def read_field_file(path: Path, columns: Mapping[str, str] | None = None) -> FieldFile:
    """Read a GPX or a table, told apart by content.

    Args:
        path: the file.
        columns: what a table's own column names mean, such as {"Breite": "lat"}.

    Raises:
        InputRefused: it is neither, or nothing of it can be read.
    """
    kind = _kind(path)
    if kind is Kind.GPX:
        return of_gpx(path)
    if kind in (Kind.OTHER, Kind.EMPTY):
        return of_table(path, read_table(path), columns or {})
    raise InputRefused(f"{path} is no GPX and no table (it looks like {kind.value})")


def of_gpx(path: Path) -> FieldFile:
    """Read waypoints and tracks of a GPX file."""
    file = read_gpx(path)
    points = [_of_waypoint(waypoint) for waypoint in file.waypoints]
    return FieldFile(path.name, points, list(file.tracks), [], list(file.troubles))


def of_table(path: Path, table: Table, columns: Mapping[str, str]) -> FieldFile:
    """Read the rows of a table; their places and days are still text."""
    renamed = {theirs.strip().lower(): ours for theirs, ours in columns.items()}
    missing = [name for name in renamed if name not in {c.lower() for c in table.columns}]
    if missing:
        told = f"{path} has no column {missing[0]!r}"
        raise InputRefused(told, f"it has {', '.join(table.columns)}")
    points = [_of_row(row, renamed) for row in table.rows]
    return FieldFile(path.name, points, [], [], list(table.troubles))


def _kind(path: Path) -> Kind:
    if path.is_dir():
        raise InputRefused(f"{path} is a folder", "name the file in it")
    try:
        with path.open("rb") as file:
            return sniff(file.read(HEAD_BYTES))
    except OSError as e:
        told = f"{path} cannot be read: {e.strerror or e}"
        raise InputRefused(told, "check the name and rights") from e


def _of_waypoint(waypoint: Waypoint) -> Found:
    said = [waypoint.description]
    said += [waypoint.comment] if waypoint.comment != waypoint.description else []
    # The symbol and type are the receiver's own words; a few people use them for the kind.
    text = " ".join(part for part in (*said, waypoint.kind_text) if part)
    named = f" {waypoint.name[:40]!r}" if waypoint.name else ""
    where = f"line {waypoint.line}: waypoint{named}"
    return Found(where, waypoint.name, text, waypoint.lat, waypoint.lon, waypoint.time_utc)


def _of_row(row: Row, renamed: Mapping[str, str]) -> Found:
    cells = {renamed.get(name.lower(), name.lower()): text for name, text in row.cells.items()}
    return Found(f"line {row.line}", cells.get("name", ""), cells=cells)
