"""KML and KMZ: placemarks to plain records, one bad placemark costing one line and not the file.

Read with expat as a stream. Source of the layout: OGC KML 2.3 (12-007r2); positions are longitude,
latitude and height on WGS 84. A KMZ is a ZIP; every .kml in it is read.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from html import unescape
from pathlib import Path
from typing import Any
from xml.parsers import expat

from camsign.errors import InputRefused
from camsign.formats.text import check_size, plain_number, unreadable
from camsign.formats.xmltext import WRONG, recoded

MAX_KML_BYTES = 250_000_000
"""A KML larger than this is refused [bytes]."""
MAX_UNPACKED_BYTES = 50_000_000
"""All of a KMZ's documents together, unpacked, are no larger [bytes]."""
_MAX_DOCUMENTS = 100

_MAX_DEPTH = 200
_TOO_LARGE = "unpacks to more than 50 MB, or to more than 100 documents"
_REMEDY = "export it again as KML or GPX"
_TAG = re.compile(r"<[^>]*>")
_TEXTS = frozenset({"name", "description", "coordinates", "coord", "when", "begin", "value"})
_ROOTS = frozenset({"kml", "Document", "Folder", "Placemark"})
"""A piece cut out of a KML begins with one of the others."""
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
        InputRefused: missing, unreadable, empty, too large, no XML, no KML, a ZIP without one, or
            with a document type declaration, through which XML bombs work.
    """
    try:
        check_size(path, MAX_KML_BYTES)
        with path.open("rb") as file:
            packed = file.read(4) == b"PK\x03\x04"
        documents = _unpacked(path) if packed else {"": path.read_bytes()}
    except OSError as err:
        raise unreadable(path, err) from err
    marks: list[Placemark] = []
    troubles: list[str] = []
    for name, data in documents.items():
        try:
            one = _parsed(path, data)
        except InputRefused as err:
            if len(documents) == 1:
                raise
            troubles.append(f"{name[:60]} left out: {err}")
            continue
        marks += one.placemarks
        troubles += one.troubles
    return KmlFile(marks, troubles)


def _parsed(path: Path, raw: bytes) -> KmlFile:
    """Read one document; bytes that are not as declared are read as Windows-1252, and told."""
    data, encoding = recoded(raw, str(path))
    try:
        return _Reader(path, encoding).run(data)
    except _WrongBytesError:
        again = _Reader(path, "windows-1252")
        again.troubles.append("its bytes are not as declared; read as windows-1252: check accents")
        return again.run(data, last=True)


class _WrongBytesError(Exception):
    """A byte stands in a file that its encoding does not have."""


def _unpacked(path: Path) -> dict[str, bytes]:
    try:
        with zipfile.ZipFile(path) as archive:
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


class _Reader:
    """Expat's callbacks: collects placemarks as their elements end."""

    def __init__(self, path: Path, encoding: str = "") -> None:
        self.path = path
        self.placemarks: list[Placemark] = []
        self.troubles: list[str] = []
        self._stack: list[str] = []
        self._mark: _Mark | None = None
        self._text: list[str] = []
        self._field = ""
        self.parser = expat.ParserCreate(encoding or None, " ")
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._text.append
        self.parser.StartDoctypeDeclHandler = self._refuse_doctype

    def run(self, data: bytes, last: bool = False) -> KmlFile:
        try:
            self.parser.Parse(data, True)
        except expat.ExpatError as err:
            if err.code == WRONG and not last:
                raise _WrongBytesError from err
            why = expat.ErrorString(err.code)
            if not self.placemarks:
                what = "is a damaged KML" if self._stack else "is not XML, so it is no KML"
                told = f"{self.path} {what}: {why}, line {err.lineno}"
                raise InputRefused(told, _REMEDY) from err
            self.troubles.append(f"damaged at line {err.lineno} ({why}): nothing behind was read")
        return KmlFile(self.placemarks, self.troubles)

    def _refuse_doctype(self, *_: object) -> None:
        told = f"{self.path} declares a document type, which no KML needs and XML bombs use"
        raise InputRefused(told, _REMEDY)

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        local = name.rpartition(" ")[2]
        if not self._stack and local not in _ROOTS:
            raise InputRefused(f"{self.path} is no KML: its root is <{local[:40]}>", _REMEDY)
        if len(self._stack) >= _MAX_DEPTH:
            raise InputRefused(f"{self.path} is nested more than {_MAX_DEPTH} deep", _REMEDY)
        self._stack.append(local)
        self._text.clear()
        if local == "Placemark" and self._mark is None:
            self._mark = _Mark(self.parser.CurrentLineNumber, len(self._stack))
        elif self._mark is not None and local in ("Data", "SimpleData"):
            self._field = attributes.get("name", "")
        elif self._mark is not None and local in _SHAPES:
            self._mark.open(local)

    def _end(self, name: str) -> None:
        local = self._stack.pop()
        mark = self._mark
        if mark is not None:
            text = "".join(self._text).strip()
            if local in _TEXTS or local == "SimpleData":
                self._take(mark, local, text)
            elif local in _SHAPES:
                mark.close(local)
            elif local == "Placemark" and len(self._stack) + 1 == mark.depth:
                self._finish(mark)
                self._mark = None
        self._text.clear()

    def _take(self, mark: _Mark, local: str, text: str) -> None:
        depth = len(self._stack) + 1
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
                _plain(mark.texts.get("description", "")),
                tuple(mark.shapes),
                times[0] if times else None,
                tuple(times) if len(times) > 1 else (),
                {k: v for k, v in mark.properties.items() if k},
                mark.line,
            )
        )


class _Mark:
    """A placemark on its way."""

    def __init__(self, line: int, depth: int) -> None:
        self.line = line
        self.depth = depth
        self.texts: dict[str, str] = {}
        self.properties: dict[str, str] = {}
        self.when: list[str] = []
        self.numbers: list[str] = []
        self.holes: set[int] = set()
        self.lone = False
        self.rings: list[list[list[float]]] = []
        self.shapes: list[dict[str, Any]] = []
        self.bad = ""

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
        triples = [text.split()] if spaced else [t.split(",") for t in _tuples(text)]
        for parts in triples:
            if not any(parts):
                continue
            numbers = [plain_number(part) for part in parts[:2]]
            if len(numbers) < 2 or None in numbers:
                raise ValueError(f"its coordinates hold {','.join(parts)[:40]!r}")
            lon, lat = (float(n or 0.0) for n in numbers)
            if abs(lon) > 180 or abs(lat) > 90:
                raise ValueError(f"longitude {lon:g}, latitude {lat:g} is no place on earth")
            yield [lon, lat]


def _tuples(text: str) -> list[str]:
    """Tuples parted by blanks, with blanks behind commas forgiven, and threes without blanks."""
    joined = re.sub(r"\s*,\s*", ",", text.strip())
    found = []
    for piece in joined.split():
        numbers = piece.split(",")
        if len(numbers) > 3 and len(numbers) % 3 == 0:
            found += [",".join(numbers[i : i + 3]) for i in range(0, len(numbers), 3)]
        else:
            found.append(piece)
    return found


def _time(text: str) -> datetime | None:
    """A time of KML (xsd:dateTime or xsd:date); without a zone it is UTC, as for GPX."""
    try:
        time = datetime.fromisoformat(text)
        return time.replace(tzinfo=UTC) if time.tzinfo is None else time.astimezone(UTC)
    except (ValueError, OverflowError):
        return None


def _plain(description: str) -> str:
    """A description without the HTML that phones write into it."""
    return " ".join(unescape(_TAG.sub(" ", description)).split())
