"""Things that camsign wrote into a file itself, met again: known by their ids, not doubled.

What nobody touched since is known, even if it was corrected or removed here meanwhile. Where a
person changed the words, the words are read; where other cells or the place, those are taken.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from camsign.errors import InputRefused
from camsign.flows.fieldwork.parsed import FieldFile, ParsedPoint, ParsedShape
from camsign.formats.geojson import checked_geometry, positions
from camsign.formats.gpx import Track, TrackPoint
from camsign.formats.marked import WORDS, Mark, is_rounded, mark_of, without_mark
from camsign.formats.text import plain_number
from camsign.logbook.things import AREA_KINDS

WORKED_OUT = ("rub line", "proposal")
"""Kinds that camsign works out anew wherever it is asked: never taken in."""
ROUNDED = "its place was rounded to 1 km before it was handed on: ask for one with exact places"


def met_again(file: FieldFile) -> FieldFile:
    """Give a file with all that camsign itself wrote told apart, each under its id."""
    points = [_point(p) for p in file.points]
    shaped = [p for p in points if p.cells.get("shape") and p.made]
    file.points = [p for p in points if not (p.cells.get("shape") and p.made)]
    file.polygons = [_drawn(d) for d in file.polygons]
    file.paths = [kept for path in file.paths if (kept := _path(file, path)) is not None]
    for point in shaped:
        _shaped(file, point)
    return file


def _point(point: ParsedPoint) -> ParsedPoint:
    cells = point.cells
    text = point.text or cells.get("description", "")
    lat, lon = point.lat, point.lon
    if lat is None or lon is None:
        lat, lon = plain_number(cells.get("lat", "")), plain_number(cells.get("lon", ""))
    where = [] if lat is None or lon is None else [(lat, lon)]
    mark = mark_of(cells, point.name, text, where)
    point = replace(point, rounded=is_rounded(cells, text), text=without_mark(point.text))
    if mark is None:
        return point
    if not mark.same_words and WORDS in cells:
        kept = () if mark.id.startswith("s") else _KEPT
        cells = {k: v for k, v in cells.items() if k in (*kept, "lat", "lon")}
        return replace(point, made=mark.id, cells=cells, text=without_mark(text))
    told = {k: v for k, v in cells.items() if k != "description"}
    if mark.id.startswith("s"):
        told.pop("name", None)
    return replace(point, made=mark.id, untouched=mark.untouched, cells=told,
                   text="" if cells else point.text)  # fmt: skip


# What says which thing it is, also where a person gave it other words.
_KEPT = ("kind", "camera", "from", "until", "facing", "clock", "tz")


def _drawn(drawn: ParsedShape) -> ParsedShape:
    cells = drawn.cells
    rings = list(positions(drawn.geometry["coordinates"]))
    mark = mark_of(cells, drawn.name, drawn.text, rings)
    if mark is None:
        return drawn
    shape = _shape(cells) if mark.untouched else None
    return replace(drawn, made=mark.id, untouched=mark.untouched, geometry=shape or drawn.geometry)


def _path(file: FieldFile, path: Track) -> Track | None:
    """Give a path with its id, or None where it is the outline of an area, which is kept as one."""
    where = [(p.lat, p.lon) for p in path.points]
    mark = mark_of(path.cells, path.name, path.description, where)
    kind = path.cells.get("kind", "")
    if mark is None:
        return replace(path, cells={"kind": kind} if kind in WORKED_OUT else {})
    name = path.name if not mark.same_words else path.cells.get("name", "") or path.name
    if kind not in AREA_KINDS:
        return replace(path, name=name, cells=_told(path.cells, mark))
    shape = (_shape(path.cells) if mark.untouched else None) or _rings(path)
    told = f"path {path.name[:40]!r}"
    drawn = ParsedShape(told, name.removeprefix(kind).strip(), kind, shape, path.cells)
    file.polygons.append(replace(drawn, made=mark.id, untouched=mark.untouched))
    return None


def _told(cells: Mapping[str, str], mark: Mark) -> dict[str, str]:
    return {**cells, "made": mark.id, "untouched": "yes" if mark.untouched else ""}


def _rings(path: Track) -> dict[str, Any]:
    rings = [[[p.lon, p.lat] for p in segment] for segment in path.segments]
    return {"type": "Polygon", "coordinates": [r if r[0] == r[-1] else [*r, r[0]] for r in rings]}


def _shaped(file: FieldFile, point: ParsedPoint) -> None:
    """A row of a table that holds a path or an outline."""
    shape = _shape(point.cells)
    kind = point.cells.get("kind", "")
    mark = Mark(point.made, point.untouched, True)
    if shape is None:
        file.troubles.append(f"{point.where} left out: its shape cannot be read")
    elif kind in AREA_KINDS:
        drawn = ParsedShape(point.where, point.name, kind, shape, point.cells)
        file.polygons.append(replace(drawn, made=mark.id, untouched=mark.untouched))
    elif shape.get("type") == "LineString":
        line = tuple(TrackPoint(lat, lon) for lat, lon in positions(shape["coordinates"]))
        file.paths.append(Track(point.name, (line,), True, "", _told(point.cells, mark)))


def _shape(cells: Mapping[str, str]) -> dict[str, Any] | None:
    try:
        value = json.loads(cells.get("shape", ""))
        if isinstance(value, dict) and "circle" in value:
            lat, lon, radius = map(float, value["circle"])
            return {"circle": [lat, lon, radius]}
        return checked_geometry(value)
    except (ValueError, TypeError, InputRefused):
        return None
