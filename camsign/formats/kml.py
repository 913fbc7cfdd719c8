"""KML and KMZ: placemarks to plain records, a bad one costing one line, and back as KML 2.2.

Source of the layout: OGC KML 2.3 (12-007r2), and 2.2 (07-147r2), which every reader knows;
positions are longitude, latitude and height on WGS 84. A KMZ is a ZIP; every .kml in it is read.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from html import unescape
from pathlib import Path
from typing import Any, TextIO
from xml.sax.saxutils import escape, quoteattr

from camsign.errors import InputRefused
from camsign.formats.text import plain_number, read_bytes
from camsign.formats.xmltext import XmlReader, fit_for_xml

MAX_KML_BYTES = 250_000_000
"""A KML larger than this is refused [bytes]."""
MAX_UNPACKED_BYTES = 50_000_000
"""All of a KMZ's documents together, unpacked, are no larger [bytes]."""
_MAX_DOCUMENTS = 100

_TOO_LARGE = "unpacks to more than 50 MB, or to more than 100 documents"
_REMEDY = "export it again as KML or GPX"
_TAG = re.compile(r"<[^>]*>")  # phones write HTML into descriptions
_TEXTS = frozenset({"name", "description", "coordinates", "coord", "when", "begin", "value"})
_SHAPES = frozenset({"Point", "LineString", "LinearRing", "Polygon", "Track"})


@dataclass(frozen=True, slots=True)
class Placemark:
    """A placemark: its texts, its time (aware, UTC) and its shapes as GeoJSON geometries.

    `times` are those of a recorded track's points (aware, UTC). `properties` are its extended
    data. `line` is where it stands in the file, for messages.
    """

    name: str
    description: str
    shapes: tuple[Mapping[str, Any], ...]
    when: datetime | None = None
    times: tuple[datetime, ...] = ()
    properties: Mapping[str, str] = field(default_factory=dict)
    line: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class KmlFile:
    """The good placemarks of a file, and one line for each that was left out."""

    placemarks: list[Placemark]
    troubles: list[str]


def read_kml(path: Path) -> KmlFile:
    """Read a KML, or the document of a KMZ.

    Raises:
        InputRefused: missing, unreadable, empty, too large, a ZIP without a KML, or as
            `XmlReader.read`.
    """
    raw = read_bytes(path, MAX_KML_BYTES)
    documents = _unpacked(path, raw) if raw.startswith(b"PK\x03\x04") else {"": raw}
    marks: list[Placemark] = []
    troubles: list[str] = []
    for name, data in documents.items():
        try:
            one = _Reader.read(path, data)
        except InputRefused as err:
            if len(documents) == 1:
                raise
            troubles.append(f"{name[:60]} left out: {err}")
            continue
        marks += one.placemarks
        troubles += one.troubles
    return KmlFile(marks, troubles)


def _unpacked(path: Path, raw: bytes) -> dict[str, bytes]:
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            names = [i for i in archive.infolist() if i.filename.lower().endswith(".kml")]
            if not names:
                raise InputRefused(f"{path} is a ZIP without a KML in it", _REMEDY)
            return _documents(path, archive, names)
    except (
        zipfile.BadZipFile,
        zipfile.LargeZipFile,
        EOFError,
        NotImplementedError,
        ValueError,
    ) as err:
        raise InputRefused(f"{path} is a damaged KMZ: {err}", _REMEDY) from err
    except (RuntimeError, zipfile.zlib.error) as err:  # type: ignore[attr-defined]
        raise InputRefused(f"{path} cannot be unpacked: {err}", _REMEDY) from err


def _documents(
    path: Path, archive: zipfile.ZipFile, names: list[zipfile.ZipInfo]
) -> dict[str, bytes]:
    """Unpack the documents, doc.kml first; what a ZIP claims of its sizes is not trusted."""
    found: dict[str, bytes] = {}
    left = MAX_UNPACKED_BYTES
    if len(names) > _MAX_DOCUMENTS or sum(i.file_size for i in names) > left:
        raise InputRefused(f"{path} {_TOO_LARGE}", "export it in parts")
    for info in sorted(names, key=lambda i: (i.filename.count("/"), i.filename.lower())):
        with archive.open(info) as file:
            data = file.read(left + 1)
        left -= len(data)
        if left < 0:
            raise InputRefused(f"{path} {_TOO_LARGE}", "export it in parts")
        found[info.filename] = data
    return found


class _Reader(XmlReader):
    """Collects placemarks."""

    # A piece cut out of a KML begins with one of the others.
    kind, roots = "KML", frozenset({"kml", "Document", "Folder", "Placemark"})
    remedy = _REMEDY

    def __init__(self, path: Path, encoding: str = "") -> None:
        super().__init__(path, encoding)
        self.placemarks: list[Placemark] = []
        self._mark: _Mark | None = None
        self._field = ""

    def holds_any(self) -> bool:
        return bool(self.placemarks)

    def begin(self, name: str, local: str, attributes: dict[str, str]) -> None:
        if local == "Placemark" and self._mark is None:
            self._mark = _Mark(self.parser.CurrentLineNumber, len(self.stack))
        elif self._mark is not None and local in ("Data", "SimpleData"):
            self._field = attributes.get("name", "")
        elif self._mark is not None and local in _SHAPES:
            self._mark.open(local)

    def end(self, local: str, depth: int) -> None:
        mark = self._mark
        if mark is None:
            return
        if local in _TEXTS or local == "SimpleData":
            self._take(mark, local, self.text(), depth)
        elif local in _SHAPES:
            mark.close(local)
        elif local == "Placemark" and depth == mark.depth:
            self._finish(mark)
            self._mark = None

    def _take(self, mark: _Mark, local: str, text: str, depth: int) -> None:
        if local in ("value", "SimpleData"):
            mark.properties[self._field] = text
        elif local in ("name", "description"):
            if depth == mark.depth + 1:
                mark.texts[local] = text
        elif local in ("when", "begin"):
            mark.when.append(text)
        else:
            mark.numbers.append(text)

    def _finish(self, mark: _Mark) -> None:
        name = mark.texts.get("name", "")
        told = f"line {mark.line}: placemark{f' {name[:40]!r}' if name else ''}"
        if mark.bad:
            self.troubles.append(f"{told} left out: {mark.bad}")
            return
        if not mark.shapes:
            why = "it has one point, so nothing was walked" if mark.lone else "it lies nowhere"
            self.troubles.append(f"{told} left out: {why}")
            return
        if mark.holes and len(mark.when) == len(mark.numbers):
            mark.when = [w for i, w in enumerate(mark.when) if i not in mark.holes]
        times = [time for text in mark.when if (time := _time(text)) is not None]
        if len(times) < len(mark.when):
            self.troubles.append(f"{told} taken without a time that cannot be read")
        self.placemarks.append(
            Placemark(
                name,
                " ".join(unescape(_TAG.sub(" ", mark.texts.get("description", ""))).split()),
                tuple(mark.shapes),
                times[0] if times else None,
                tuple(times) if len(times) > 1 else (),
                {k: v for k, v in mark.properties.items() if k},
                mark.line,
            )
        )


@dataclass(slots=True)
class _Mark:
    """A placemark on its way."""

    line: int
    depth: int
    texts: dict[str, str] = field(default_factory=dict)
    properties: dict[str, str] = field(default_factory=dict)
    when: list[str] = field(default_factory=list)
    numbers: list[str] = field(default_factory=list)
    holes: set[int] = field(default_factory=set)
    lone: bool = False
    rings: list[list[list[float]]] = field(default_factory=list)
    shapes: list[dict[str, Any]] = field(default_factory=list)
    bad: str = ""

    def open(self, shape: str) -> None:
        self.numbers = []
        if shape == "Polygon":
            self.rings = []

    def close(self, shape: str) -> None:
        if shape == "Polygon":
            if self.rings:
                self.shapes.append({"type": "Polygon", "coordinates": self.rings})
            return
        if shape == "Track":
            self.holes = {i for i, text in enumerate(self.numbers) if not text}
        try:
            points = list(_points(self.numbers, spaced=shape == "Track"))
        except ValueError as err:
            self.bad = str(err)
            return
        if shape == "LinearRing":
            if len(points) >= 3:
                closed = points if points[0] == points[-1] else [*points, points[0]]
                self.rings.append(closed)
        elif shape == "Point" and points:
            self.shapes.append({"type": "Point", "coordinates": points[0]})
        elif len(points) == 1:
            self.lone = True
        elif len(points) >= 2:
            self.shapes.append({"type": "LineString", "coordinates": points})


def _points(texts: list[str], spaced: bool) -> Iterator[list[float]]:
    """Longitude, latitude of `lon,lat[,height] …`, or of one `lon lat height` a text."""
    for text in texts:
        for parts in [text.split()] if spaced else _tuples(text):
            if not any(parts):
                continue
            numbers = [plain_number(part) for part in parts[:2]]
            if len(numbers) < 2 or None in numbers:
                raise ValueError(f"its coordinates hold {','.join(parts)[:40]!r}")
            lon, lat = (float(n or 0.0) for n in numbers)
            if abs(lon) > 180 or abs(lat) > 90:
                raise ValueError(f"longitude {lon:g}, latitude {lat:g} is no place on earth")
            yield [lon, lat]


def _tuples(text: str) -> Iterator[list[str]]:
    """Tuples parted by blanks, with blanks behind commas forgiven, and threes without blanks."""
    for piece in re.sub(r"\s*,\s*", ",", text.strip()).split():
        numbers = piece.split(",")
        size = 3 if len(numbers) % 3 == 0 else len(numbers)
        yield from (numbers[i : i + size] for i in range(0, len(numbers), size))


def _time(text: str) -> datetime | None:
    """A time of KML (xsd:dateTime or xsd:date); without a zone it is UTC, as for GPX."""
    try:
        time = datetime.fromisoformat(text)
        return time.replace(tzinfo=UTC) if time.tzinfo is None else time.astimezone(UTC)
    except (ValueError, OverflowError):
        return None


def write_kml(marks: Iterable[Placemark], stream: TextIO, name: str = "", words: str = "") -> None:
    """Write a document, in UTF-8, with a folder for each `kind` among its placemarks' properties,
    which become extended data; `name` and `words` are the document's own."""
    stream.write('<?xml version="1.0" encoding="UTF-8"?>\n')
    stream.write('<kml xmlns="http://www.opengis.net/kml/2.2">\n<Document>\n')
    stream.write(f"<name>{_xml(name)}</name>\n<description>{_xml(words)}</description>\n")
    folders: dict[str, list[Placemark]] = {}
    for mark in marks:
        folders.setdefault(mark.properties.get("kind", "") or "camera", []).append(mark)
    for kind, held in folders.items():
        stream.write(f"<Folder>\n<name>{_xml(kind)}</name>\n")
        stream.writelines(_placemark(mark) for mark in held)
        stream.write("</Folder>\n")
    stream.write("</Document>\n</kml>\n")


def _placemark(mark: Placemark) -> str:
    parts = [f"<name>{_xml(mark.name)}</name>"]
    if mark.description:
        parts.append(f"<description>{_xml(mark.description)}</description>")
    if mark.when is not None:
        parts.append(f"<TimeStamp><when>{mark.when.isoformat()}</when></TimeStamp>")
    if mark.properties:
        data = "".join(
            f"<Data name={quoteattr(fit_for_xml(k))}><value>{_xml(v)}</value></Data>"
            for k, v in mark.properties.items()
        )
        parts.append(f"<ExtendedData>{data}</ExtendedData>")
    parts += [_shape(shape) for shape in mark.shapes]
    return f"<Placemark>{''.join(parts)}</Placemark>\n"


def _shape(shape: Mapping[str, Any]) -> str:
    kind, at = shape["type"], shape["coordinates"]
    if kind == "Point":
        return f"<Point><coordinates>{_position(at)}</coordinates></Point>"
    if kind == "LineString":
        return f"<LineString><coordinates>{_line(at)}</coordinates></LineString>"
    if kind == "Polygon":
        return _polygon(at)
    return f"<MultiGeometry>{''.join(_polygon(part) for part in at)}</MultiGeometry>"


def _polygon(rings: Any) -> str:
    outer, *inner = [f"<LinearRing><coordinates>{_line(r)}</coordinates></LinearRing>"
                     for r in rings]  # fmt: skip
    holes = "".join(f"<innerBoundaryIs>{ring}</innerBoundaryIs>" for ring in inner)
    return f"<Polygon><outerBoundaryIs>{outer}</outerBoundaryIs>{holes}</Polygon>"


def _line(points: Any) -> str:
    return " ".join(_position(p) for p in points)


def _position(point: Any) -> str:
    return f"{point[0]!r},{point[1]!r}"


def _xml(text: str) -> str:
    return escape(fit_for_xml(text))
