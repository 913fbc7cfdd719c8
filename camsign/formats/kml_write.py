"""Placemarks to KML 2.2, which every reader of KML knows.

Source of the layout: OGC KML 2.2 (07-147r2); positions are longitude, latitude on WGS 84.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any, TextIO
from xml.sax.saxutils import escape, quoteattr

from camsign.formats.kml import Placemark

_NOT_IN_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def write_kml(marks: Iterable[Placemark], stream: TextIO, name: str = "", words: str = "") -> None:
    """Write a document of placemarks: a folder for each `kind` among their properties.

    Args:
        marks: the placemarks; `properties` become extended data.
        stream: where to write, as UTF-8.
        name: of the document.
        words: a description of it.
    """
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
            f"<Data name={quoteattr(_clean(k))}><value>{_xml(v)}</value></Data>"
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


def _clean(text: str) -> str:
    return _NOT_IN_XML.sub(" ", text)


def _xml(text: str) -> str:
    return escape(_clean(text))
