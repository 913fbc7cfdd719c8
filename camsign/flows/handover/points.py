"""Cameras, sign, places, areas and walks as GPX, KML, GeoJSON or CSV, by the file's name."""

from __future__ import annotations

import io
import json
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TextIO

from camsign.errors import InputRefused, UsageError
from camsign.flows.handover.rounded import rounded_thing
from camsign.flows.handover.things import Position, Thing, Wanted, things
from camsign.formats.geojson import GeoFeature, write_geojson
from camsign.formats.gpx import Track, TrackPoint, Waypoint, write_gpx
from camsign.formats.kml import Placemark, write_kml
from camsign.formats.marked import cell_text, marked_text, sealed
from camsign.formats.table import write_csv
from camsign.logbook.placing import place
from camsign.logbook.session import Session

EXACT = "exact places"
ROUNDED = "places rounded to 1 km"


@dataclass(frozen=True, slots=True)
class HandedOn:
    """What was written: the files, how many of what, and whether places in it are exact."""

    written: tuple[Path, ...]
    counts: dict[str, int]
    exact_places: bool


def hand_on(
    session: Session,
    path: Path,
    wanted: Wanted = Wanted(),  # noqa: B008
    exact: bool = False,
) -> HandedOn:
    """Write what has a place into a file; its ending says how: .gpx, .kml, .geojson or .csv.

    Args:
        session: the open logbook.
        path: the file; it is replaced as a whole.
        wanted: what of it.
        exact: places as they are; else rounded to 1 km, paths and outlines to one point each.

    Raises:
        UsageError: the ending names no format.
        InputRefused: there is nothing to hand on.
    """
    write = _WRITERS.get(path.suffix.lower())
    if write is None:
        raise UsageError(
            f"{path.name} does not say in which format", f"end it in {', '.join(_WRITERS)}"
        )
    found = things(session, wanted)
    if not found:
        raise InputRefused("there is nothing to hand on", "hang a camera or add sign first")
    made = [t if exact else rounded_thing(t) for t in found]
    text = io.StringIO()
    write(made, text, f"{session.folder.root.resolve().name}: {EXACT if exact else ROUNDED}")
    place(path, text.getvalue().encode(), read_only=False)
    return HandedOn((path,), dict(Counter(t.what for t in made)), exact)


def _cells(thing: Thing, name: str, where: Sequence[Position]) -> dict[str, Any]:
    """Give the cells with what the thing is known by again; one without id is known by nothing."""
    return sealed(thing.cells, name, thing.words, where) if thing.id else dict(thing.cells)


def _words(thing: Thing, name: str) -> str:
    return marked_text(thing.id, name, thing.words, thing.where) if thing.id else thing.words


def _texts(cells: Mapping[str, Any]) -> dict[str, str]:
    return {name: cell_text(value) for name, value in cells.items() if value is not None}


def _utc(thing: Thing) -> datetime | None:
    """Give when it was in UTC, as GPX 1.1 lays down: handhelds pass an offset over."""
    return thing.when and thing.when.astimezone(UTC)


def _gpx(made: Sequence[Thing], stream: TextIO, title: str) -> None:
    points = [_waypoint(t) for t in made if t.shape["type"] == "Point"]
    tracks = [_track(t) for t in made if t.shape["type"] != "Point"]
    write_gpx(points, tracks, stream, title)


def _waypoint(thing: Thing) -> Waypoint:
    lat, lon = thing.where[0]
    words, cells = _words(thing, thing.name), _cells(thing, thing.name, thing.where)
    return Waypoint(
        thing.name, lat, lon, _utc(thing), words, words, kind_text=thing.kind, cells=_texts(cells)
    )


def _track(thing: Thing) -> Track:
    """A path, or an outline with each ring as a stretch, since GPX knows no outlines."""
    kind, at = thing.shape["type"], thing.shape["coordinates"]
    lines = (
        [at] if kind == "LineString" else at if kind == "Polygon" else [r for p in at for r in p]
    )
    segments = [[TrackPoint(p[1], p[0]) for p in line] for line in lines]
    if thing.when is not None:
        segments[0][0] = replace(segments[0][0], time_utc=_utc(thing))
    name = thing.name if thing.what in ("walks", "lines") else f"{thing.kind} {thing.name}"
    cells = _texts(_cells(thing, name, thing.where))
    return Track(name, tuple(map(tuple, segments)), description=_words(thing, name), cells=cells)


def _kml(made: Sequence[Thing], stream: TextIO, title: str) -> None:
    marks = (
        Placemark(t.name, t.words, (t.shape,), t.when,
                  properties=_texts(_cells(t, t.name, t.where))) for t in made
    )  # fmt: skip
    write_kml(marks, stream, title, title)


def _geojson(made: Sequence[Thing], stream: TextIO, title: str) -> None:
    features = []
    for t in made:
        words = {"description": t.words} if t.words else {}
        features.append(GeoFeature(t.name, "", t.shape, {**_cells(t, t.name, t.where), **words}))
    write_geojson(features, stream, title)


_FIRST = ("kind", "name", "lat", "lon", "description")


def _csv(made: Sequence[Thing], stream: TextIO, title: str) -> None:
    rows = [_row(t) for t in made]
    columns = dict.fromkeys((*_FIRST, *(name for row in rows for name in row)))
    write_csv([{name: row.get(name) for name in columns} for row in rows], stream)


def _row(thing: Thing) -> dict[str, Any]:
    lat, lon = thing.where[0]
    drawn = {} if thing.shape["type"] == "Point" else {"shape": json.dumps(thing.shape)}
    whole = replace(thing, cells={**drawn, **thing.cells})
    said = {"name": thing.name, "lat": lat, "lon": lon, "description": thing.words}
    return {**_cells(whole, thing.name, [(lat, lon)]), **said}


_Write = Callable[[Sequence[Thing], TextIO, str], None]
_WRITERS: dict[str, _Write] = {".gpx": _gpx, ".kml": _kml, ".geojson": _geojson, ".csv": _csv}
