"""GPX 1.0 and 1.1: waypoints, tracks and routes to plain records, and back as GPX 1.1.

Read with expat as a stream, so that one bad waypoint costs one line and not the file; written
with gpxpy. Source of the layout: the GPX 1.1 schema, topografix.com/GPX/1/1/gpx.xsd, by which
times are UTC and positions WGS 84.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TextIO

from camsign.formats.text import degrees, plain_number, read_bytes
from camsign.formats.xmltext import XmlReader, fit_for_xml

MAX_GPX_BYTES = 250_000_000
"""A GPX larger than this is refused [bytes]."""

_POINTS = {"wpt": "waypoint", "trkpt": "track point", "rtept": "route point"}
_CHILDREN = frozenset({"name", "time", "desc", "cmt", "sym", "type", "ele"})
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

    Raises InputRefused: missing, unreadable, empty, over `MAX_GPX_BYTES`, or as `XmlReader.read`.
    """
    reader = _Reader.read(path, read_bytes(path, MAX_GPX_BYTES))
    if reader.zoneless:
        told = "times without a zone, taken as UTC, as GPX lays down"
        reader.troubles.append(f"{told}: {reader.zoneless}")
    return GpxFile(reader.waypoints, reader.tracks, reader.troubles)


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
        (document.routes if track.planned else document.tracks).append(_path(track))
    stream.write(document.to_xml(version="1.1"))


def _waypoint(waypoint: Waypoint) -> Any:
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


def _path(track: Track) -> Any:
    """A route, or a track: both have a name, words and our element, and points of their own."""
    from gpxpy.gpx import GPXRoute, GPXRoutePoint, GPXTrack, GPXTrackPoint, GPXTrackSegment

    kinds: Any = (GPXRoute, GPXRoutePoint) if track.planned else (GPXTrack, GPXTrackPoint)
    made, point = kinds
    written = made(name=_xml(track.name), description=_xml(track.description))
    written.extensions = _own_element(track.cells)
    for segment in track.segments:
        points = [point(p.lat, p.lon, elevation=p.elevation_m, time=p.time_utc) for p in segment]
        if track.planned:
            written.points.extend(points)
        else:
            written.segments.append(GPXTrackSegment(points))
    return written


def _xml(text: str) -> str | None:
    return fit_for_xml(text) or None


class _Reader(XmlReader):
    """Collects points and tracks; `zoneless` counts the times without a zone."""

    kind, roots, remedy = "GPX", frozenset({"gpx"}), "export it again as GPX 1.1"

    def __init__(self, path: Path, encoding: str = "") -> None:
        super().__init__(path, encoding)
        self.waypoints: list[Waypoint] = []
        self.tracks: list[Track] = []
        self.zoneless = 0
        self._point: dict[str, str] | None = None
        self._point_depth = 0
        self._point_line = 0
        self._track: dict[str, str] = {}
        self._track_cells: dict[str, str] = {}
        self._cells: dict[str, str] = {}
        self._segments: list[list[TrackPoint]] = []

    def holds_any(self) -> bool:
        return bool(self.waypoints or self.tracks)

    def begin(self, name: str, local: str, attributes: dict[str, str]) -> None:
        if name == f"{_OURS} thing":
            own = self._cells if self._point is not None else self._track_cells
            own |= attributes
        elif self._point is None and local in _POINTS:
            self._point = {"lat": attributes.get("lat", ""), "lon": attributes.get("lon", "")}
            self._point_depth = len(self.stack)
            self._point_line = self.parser.CurrentLineNumber
            self._cells = {}
        elif local in ("trk", "rte"):
            self._track, self._track_cells, self._segments = {}, {}, [[]]
        elif local == "trkseg":
            self._segments.append([])

    def end(self, local: str, depth: int) -> None:
        if self._point is not None:
            if depth == self._point_depth:
                self._finish_point(local, self._point)
                self._point = None
            elif depth == self._point_depth + 1 and local in _CHILDREN:
                self._point[local] = self.text()
        elif local in ("name", "desc") and depth == 3 and self.stack[-1] in ("trk", "rte"):
            self._track[local] = self.text()
        elif local in ("trk", "rte") and any(self._segments):
            kept = tuple(tuple(segment) for segment in self._segments if segment)
            name, words = self._track.get("name", ""), self._track.get("desc", "")
            self.tracks.append(Track(name, kept, local == "rte", words, self._track_cells))

    def _finish_point(self, local: str, raw: dict[str, str]) -> None:
        name = raw.get("name", "")
        told = f"line {self._point_line}: {_POINTS[local]}{f' {name[:40]!r}' if name else ''}"
        lat, lon = degrees(raw["lat"], "NS"), degrees(raw["lon"], "EW")
        if lat is None or lon is None or abs(lat) > 90 or abs(lon) > 180:
            place = f"lat {raw['lat'][:20]!r}, lon {raw['lon'][:20]!r}"
            self.troubles.append(f"{told} left out: {place} is no place on earth")
            return
        time_utc = self._time(raw.get("time", ""), told)
        height = raw.get("ele", "")
        elevation = plain_number(height)
        if height and elevation is None:
            self.troubles.append(f"{told} taken without its height, which reads {height[:40]!r}")
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
                self.zoneless += 1
                return time.replace(tzinfo=UTC)
            return time.astimezone(UTC)
        except (ValueError, OverflowError):
            self.troubles.append(f"{told} taken without its time, which reads {text[:40]!r}")
            return None
