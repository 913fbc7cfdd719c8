"""KML and KMZ, other people's files included: good placemarks come out, bad ones cost a line."""

from __future__ import annotations

import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest

from camsign.errors import InputRefused
from camsign.flows.fieldwork.parsed import read_field_file
from camsign.formats.kml import Placemark, read_kml

HEAD = '<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2" '
HEAD += 'xmlns:gx="http://www.google.com/kml/ext/2.2"><Document>'
TAIL = "</Document></kml>"


def kml(path: Path, body: str) -> Path:
    path.write_text(HEAD + body + TAIL, encoding="utf-8")
    return path


def one(path: Path, body: str) -> Placemark:
    file = read_kml(kml(path / "f.kml", f"<Placemark>{body}</Placemark>"))
    assert file.troubles == []
    return file.placemarks[0]


def test_a_point_with_its_words(tmp_path: Path) -> None:
    body = """<name>rub 12</name>
    <description><![CDATA[<b>alder</b> 2in&nbsp;top 38in]]></description>
    <TimeStamp><when>2025-10-05T12:00:00Z</when></TimeStamp>
    <ExtendedData><Data name="look"><value>fresh</value></Data></ExtendedData>
    <Point><coordinates> -71.4, 44.2,300 </coordinates></Point>"""
    mark = one(tmp_path, body)
    assert (mark.name, mark.description) == ("rub 12", "alder 2in top 38in")
    assert mark.when == datetime(2025, 10, 5, 12, tzinfo=UTC)
    assert mark.properties == {"look": "fresh"}
    assert mark.shapes == ({"type": "Point", "coordinates": [-71.4, 44.2]},)


def test_lines_polygons_and_several_shapes(tmp_path: Path) -> None:
    ring = "<coordinates>0,0 0,1 1,1</coordinates>"
    body = f"""<MultiGeometry><LineString><coordinates>0,0 0,1,5
      1,1</coordinates></LineString><Polygon><outerBoundaryIs><LinearRing>{ring}</LinearRing>
      </outerBoundaryIs><innerBoundaryIs><LinearRing>{ring}</LinearRing></innerBoundaryIs></Polygon>
      </MultiGeometry>"""
    line, polygon = one(tmp_path, body).shapes
    assert line == {"type": "LineString", "coordinates": [[0, 0], [0, 1], [1, 1]]}
    closed = [[0, 0], [0, 1], [1, 1], [0, 0]]
    assert polygon == {"type": "Polygon", "coordinates": [closed, closed]}


def test_a_recorded_track(tmp_path: Path) -> None:
    body = """<gx:Track><when>2025-10-05T12:00:00Z</when><when>2025-10-05T12:10:00Z</when>
    <gx:coord>-71.4 44.2 300</gx:coord><gx:coord>-71.41 44.2 300</gx:coord></gx:Track>"""
    mark = one(tmp_path, body)
    assert mark.shapes[0]["coordinates"] == [[-71.4, 44.2], [-71.41, 44.2]]
    assert [t.minute for t in mark.times] == [0, 10]


def test_bad_placemarks_cost_a_line_each(tmp_path: Path) -> None:
    file = read_kml(kml(tmp_path / "f.kml", """
    <Placemark><name>far</name><Point><coordinates>200,44</coordinates></Point></Placemark>
    <Placemark><name>words</name><Point><coordinates>a,b</coordinates></Point></Placemark>
    <Placemark><name>nowhere</name></Placemark>
    <Placemark><name>good</name><TimeStamp><when>last week</when></TimeStamp>
      <Point><coordinates>-71.4,44.2</coordinates></Point></Placemark>"""))  # fmt: skip
    assert [m.name for m in file.placemarks] == ["good"]
    assert len(file.troubles) == 4 and all("\n" not in line for line in file.troubles)
    for words, line in zip(
        ("no place on earth", "'a,b'", "nowhere", "time"), file.troubles, strict=True
    ):
        assert words in line


def test_files_that_are_none(tmp_path: Path) -> None:
    made = tmp_path / "f.kml"
    for text, words in (
        ("", "is empty"),
        ("hello", "not XML"),
        ("<gpx/>", "its root is <gpx>"),
        ("<kml><Document>", "damaged KML"),
        ("<!DOCTYPE kml [<!ENTITY a 'a'>]><kml/>", "document type"),
        ("<kml>" + "<Folder>" * 400, "nested more than"),
    ):
        made.write_text(text, encoding="utf-8")
        with pytest.raises(InputRefused, match=words):
            read_kml(made)
    with pytest.raises(InputRefused, match=r"there is no file .*absent\.kml; check the name"):
        read_kml(tmp_path / "absent.kml")


def test_a_kmz_is_unpacked(tmp_path: Path) -> None:
    inner = kml(
        tmp_path / "doc.kml", "<Placemark><Point><coordinates>1,2</coordinates></Point></Placemark>"
    )
    with zipfile.ZipFile(tmp_path / "f.kmz", "w") as archive:
        archive.write(inner, "doc.kml")
    assert len(read_kml(tmp_path / "f.kmz").placemarks) == 1
    with zipfile.ZipFile(tmp_path / "g.kmz", "w") as archive:
        archive.writestr("picture.png", b"x")
    with pytest.raises(InputRefused, match="ZIP without a KML"):
        read_kml(tmp_path / "g.kmz")
    (tmp_path / "h.kmz").write_bytes(b"PK\x03\x04" + b"\x00" * 40)
    with pytest.raises(InputRefused, match="damaged KMZ"):
        read_kml(tmp_path / "h.kmz")


def test_other_peoples_files(samples: Path) -> None:
    """libkml's own test files: what is in them is read, bombs and junk refused in one line."""
    refused, read = [], {}
    for path in sorted(
        [*(samples / "geo" / "kml").iterdir(), *(samples / "geo" / "kmz").iterdir()]
    ):
        try:
            read[path.name] = read_kml(path)
        except InputRefused as e:
            assert "\n" not in str(e)
            refused.append(path.name)
    assert "billion.kml" in refused and "bad.kmz" in refused and "nokml.kmz" in refused
    assert len(read["gnis-ak-first-101.kml"].placemarks) == 101
    # Twenty <Placemark> by grep, one of them without a geometry.
    assert len(read["kmlsamples.kml"].placemarks) == 19
    assert "'Descriptive HTML' left out: it lies nowhere" in read["kmlsamples.kml"].troubles[0]
    # Four points written as lon,lat,alt,lon,lat,alt… without blanks.
    (line,) = read["badcoords.kml"].placemarks
    assert len(line.shapes[0]["coordinates"]) == 4
    (parcel,) = read["outline_space.kml"].placemarks
    assert [s["type"] for s in parcel.shapes] == ["Point", "Polygon"]
    assert read["schemadata.kml"].placemarks[0].properties == {"sfield1": "one", "sfield2": "2"}


@pytest.mark.parametrize("root", ["Document", "Folder", "Placemark"])
def test_a_piece_cut_out_of_a_kml_is_read(tmp_path: Path, root: str) -> None:
    point = "<Point><coordinates>-71.2,44.6</coordinates></Point>"
    mark = f"<Placemark><name>rub NE</name>{point}</Placemark>"
    path = tmp_path / "piece.kml"
    path.write_text(mark if root == "Placemark" else f"<{root}>{mark}</{root}>")
    (one,) = read_kml(path).placemarks
    assert one.name == "rub NE" and one.shapes[0]["coordinates"][:2] == [-71.2, 44.6]
    assert [p.name for p in read_field_file(path).points] == ["rub NE"]
