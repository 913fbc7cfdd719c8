"""GPX 1.0 and 1.1: waypoints, tracks and routes to plain records, and back as GPX 1.1.

Read with expat as a stream, so that one bad waypoint costs one line and not the file; written
with gpxpy. Source of the layout: the GPX 1.1 schema, topografix.com/GPX/1/1/gpx.xsd, by which
times are UTC and positions WGS 84.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO
from xml.parsers import expat

from camsign.errors import InputRefused
from camsign.formats.text import check_size, degrees, plain_number, unreadable
from camsign.formats.xmltext import WRONG, recoded

if TYPE_CHECKING:
    from gpxpy.gpx import GPXRoute, GPXTrack, GPXWaypoint

MAX_GPX_BYTES = 250_000_000
"""A GPX larger than this is refused [bytes]."""

_POINTS = {"wpt": "waypoint", "trkpt": "track point", "rtept": "route point"}
_CHILDREN = frozenset({"name", "time", "desc", "cmt", "sym", "type", "ele"})
_NOT_IN_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_REMEDY = "export it again as GPX 1.1"
# The namespace of what camsign writes beside a waypoint's words, as the schema allows.
_OURS = "urn:camsign:1"


@dataclass(frozen=True, slots=True)
class Waypoint:
    """One waypoint: `lat`, `lon` [degrees, WGS 84], `time_utc` aware in UTC, `elevation_m` [m].

    Texts are "" when absent. `line` is where it stands in the file, for messages. `cells` are what
    camsign itself wrote beside the words, in an element of its own.
    """

    name: str
    lat: float
    lon: float
    time_utc: datetime | None = None
    description: str = ""
    comment: str = ""
    symbol: str = ""
    kind_text: str = ""
    elevation_m: float | None = None
    line: int = field(default=0, compare=False)
    cells: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class TrackPoint:
    """A point of a path: `lat`, `lon` [degrees, WGS 84], `time_utc` in UTC, `elevation_m` [m]."""

    lat: float
    lon: float
    time_utc: datetime | None = None
    elevation_m: float | None = None


@dataclass(frozen=True, slots=True)
class Track:
    """A path: walked, in pieces between which the receiver was off; or `planned`, a route.

    `description` and `cells` are as in a Waypoint.
    """

    name: str
    segments: tuple[tuple[TrackPoint, ...], ...]
    planned: bool = False
    description: str = ""
    cells: Mapping[str, str] = field(default_factory=dict)

    @property
    def points(self) -> list[TrackPoint]:
        """All points in order, across the gaps."""
        return [point for segment in self.segments for point in segment]


@dataclass(frozen=True, slots=True)
class GpxFile:
    """What a GPX holds, and one line for each thing in it that could not be taken as it stands."""

    waypoints: list[Waypoint]
    tracks: list[Track]
    troubles: list[str]


def read_gpx(path: Path) -> GpxFile:
    """Read a GPX file, good rows and all; what cannot be taken becomes a line in `troubles`.

    Raises:
        InputRefused: missing, unreadable, empty, over `MAX_GPX_BYTES`, no XML, no GPX, or with a
            document type declaration, through which XML bombs work.
    """
    try:
        check_size(path, MAX_GPX_BYTES)
        return _read(path)
    except OSError as err:
        raise unreadable(path, err) from err


def _read(path: Path) -> GpxFile:
    data, encoding = recoded(path.read_bytes(), str(path))
    reader = _Reader(path, encoding)
    try:
        reader.run(data)
    except expat.ExpatError as err:
        if err.code == WRONG:
            again = _Reader(path, "windows-1252", doubted=True)
            with contextlib.suppress(expat.ExpatError):
                again.run(data)
                return again.result()
        return _keep_or_refuse(reader, err)
    return reader.result()


def write_gpx(
    waypoints: Iterable[Waypoint], tracks: Iterable[Track], stream: TextIO, title: str = ""
) -> None:
    """Write GPX 1.1 (degrees to ten decimals; characters that XML forbids become blanks)."""
    from gpxpy.gpx import GPX

    document = GPX()
    document.name = _xml(title)
    document.creator = "camsign"
    document.nsmap["camsign"] = _OURS
    document.waypoints.extend(_waypoint(waypoint) for waypoint in waypoints)
    for track in tracks:
        if track.planned:
            document.routes.append(_route(track))
        else:
            document.tracks.append(_track(track))
    stream.write(document.to_xml(version="1.1"))


def _waypoint(waypoint: Waypoint) -> GPXWaypoint:
    from gpxpy.gpx import GPXWaypoint

    written = GPXWaypoint(
        waypoint.lat,
        waypoint.lon,
        elevation=waypoint.elevation_m,
        time=waypoint.time_utc,
        name=_xml(waypoint.name),
        description=_xml(waypoint.description),
        symbol=_xml(waypoint.symbol),
        type=_xml(waypoint.kind_text),
        comment=_xml(waypoint.comment),
    )
    written.extensions = _own_element(waypoint.cells)
    return written


def _own_element(cells: Mapping[str, str]) -> list[Any]:
    from xml.etree.ElementTree import Element
    from xml.sax.saxutils import escape

    # gpxpy writes the attributes of an extension as they are (seen in 1.6.2).
    quoted = {'"': "&quot;", "\n": "&#10;", "\t": "&#9;"}
    kept = {name: escape(text, quoted) for name, said in cells.items() if (text := _xml(said))}
    return [Element(f"{{{_OURS}}}thing", kept)] if kept else []


def _route(track: Track) -> GPXRoute:
    from gpxpy.gpx import GPXRoute, GPXRoutePoint

    route = GPXRoute(name=_xml(track.name), description=_xml(track.description))
    route.extensions = _own_element(track.cells)
    route.points.extend(
        GPXRoutePoint(p.lat, p.lon, elevation=p.elevation_m, time=p.time_utc) for p in track.points
    )
    return route


def _track(track: Track) -> GPXTrack:
    from gpxpy.gpx import GPXTrack, GPXTrackPoint, GPXTrackSegment

    written = GPXTrack(name=_xml(track.name), description=_xml(track.description))
    written.extensions = _own_element(track.cells)
    for segment in track.segments:
        points = [
            GPXTrackPoint(p.lat, p.lon, elevation=p.elevation_m, time=p.time_utc) for p in segment
        ]
        written.segments.append(GPXTrackSegment(points))
    return written


def _xml(text: str) -> str | None:
    return _NOT_IN_XML.sub(" ", text) or None


def _keep_or_refuse(reader: _Reader, err: expat.ExpatError) -> GpxFile:
    """A file cut short keeps what stands before the damage; one that gave nothing is refused."""
    why = expat.ErrorString(err.code)
    if not (reader.waypoints or reader.tracks):
        what = "is a damaged GPX" if reader.root else "is not XML, so it is no GPX"
        raise InputRefused(f"{reader.path} {what}: {why}, line {err.lineno}", _REMEDY) from err
    reader.troubles.append(f"damaged at line {err.lineno} ({why}): nothing behind it was read")
    return reader.result()


class _Reader:
    """Expat's callbacks: collects points and tracks as their elements end."""

    def __init__(self, path: Path, encoding: str = "", doubted: bool = False) -> None:
        self.path = path
        self.waypoints: list[Waypoint] = []
        self.tracks: list[Track] = []
        self.troubles: list[str] = []
        if doubted:
            self.troubles.append(
                f"its bytes are not as declared; read as {encoding}: check accents"
            )
        self.root = ""
        self._zoneless = 0
        self._stack: list[str] = []
        self._point: dict[str, str] | None = None
        self._point_depth = 0
        self._point_line = 0
        self._text: list[str] = []
        self._track: dict[str, str] = {}
        self._track_cells: dict[str, str] = {}
        self._cells: dict[str, str] = {}
        self._segments: list[list[TrackPoint]] = []
        self.parser = expat.ParserCreate(encoding or None, " ")
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._text.append
        self.parser.StartDoctypeDeclHandler = self._refuse_doctype

    def run(self, data: bytes) -> None:
        self.parser.Parse(data, True)

    def result(self) -> GpxFile:
        if self._zoneless:
            told = "times without a zone, taken as UTC, as GPX lays down"
            self.troubles.append(f"{told}: {self._zoneless}")
        return GpxFile(self.waypoints, self.tracks, self.troubles)

    def _refuse_doctype(self, *_: object) -> None:
        raise InputRefused(
            f"{self.path} declares a document type, which no GPX needs and XML bombs use", _REMEDY
        )

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        local = name.rpartition(" ")[2]
        if not self._stack:
            self.root = local
            if local != "gpx":
                raise InputRefused(f"{self.path} is no GPX: its root is <{local[:40]}>", _REMEDY)
        self._stack.append(local)
        self._text.clear()
        if name == f"{_OURS} thing":
            own = self._cells if self._point is not None else self._track_cells
            own |= attributes
        elif self._point is None and local in _POINTS:
            self._point = {"lat": attributes.get("lat", ""), "lon": attributes.get("lon", "")}
            self._point_depth = len(self._stack)
            self._point_line = self.parser.CurrentLineNumber
            self._cells = {}
        elif local in ("trk", "rte"):
            self._track, self._track_cells, self._segments = {}, {}, [[]]
        elif local == "trkseg":
            self._segments.append([])

    def _end(self, name: str) -> None:
        local = self._stack.pop()
        depth = len(self._stack) + 1
        if self._point is not None:
            if depth == self._point_depth:
                self._finish_point(local, self._point)
                self._point = None
            elif depth == self._point_depth + 1 and local in _CHILDREN:
                self._point[local] = "".join(self._text).strip()
        elif local in ("name", "desc") and depth == 3 and self._stack[-1] in ("trk", "rte"):
            self._track[local] = "".join(self._text).strip()
        elif local in ("trk", "rte"):
            self._finish_track(planned=local == "rte")
        self._text.clear()

    def _finish_track(self, planned: bool) -> None:
        kept = tuple(tuple(segment) for segment in self._segments if segment)
        if kept:
            name, words = self._track.get("name", ""), self._track.get("desc", "")
            self.tracks.append(Track(name, kept, planned, words, self._track_cells))

    def _finish_point(self, local: str, raw: dict[str, str]) -> None:
        name = raw.get("name", "")
        told = f"line {self._point_line}: {_POINTS[local]}{f' {name[:40]!r}' if name else ''}"
        lat, lon = degrees(raw["lat"], "NS"), degrees(raw["lon"], "EW")
        if lat is None or lon is None or abs(lat) > 90 or abs(lon) > 180:
            place = f"lat {raw['lat'][:20]!r}, lon {raw['lon'][:20]!r}"
            self.troubles.append(f"{told} left out: {place} is no place on earth")
            return
        time_utc = self._time(raw.get("time", ""), told)
        elevation = self._elevation(raw.get("ele", ""), told)
        if local != "wpt":
            self._segments[-1].append(TrackPoint(lat, lon, time_utc, elevation))
            return
        self.waypoints.append(
            Waypoint(
                name,
                lat,
                lon,
                time_utc,
                description=raw.get("desc", ""),
                comment=raw.get("cmt", ""),
                symbol=raw.get("sym", ""),
                kind_text=raw.get("type", ""),
                elevation_m=elevation,
                line=self._point_line,
                cells=self._cells,
            )
        )

    def _time(self, text: str, told: str) -> datetime | None:
        if not text:
            return None
        try:
            time = datetime.fromisoformat(text)
            if time.tzinfo is None:
                self._zoneless += 1
                return time.replace(tzinfo=UTC)
            return time.astimezone(UTC)
        except (ValueError, OverflowError):
            self.troubles.append(f"{told} taken without its time, which reads {text[:40]!r}")
            return None

    def _elevation(self, text: str, told: str) -> float | None:
        elevation = plain_number(text)
        if elevation is None and text:
            self.troubles.append(f"{told} taken without its height, which reads {text[:40]!r}")
        return elevation
