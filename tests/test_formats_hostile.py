"""Files of the field in strange encodings, with holes and slips: each good point is kept."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from camsign.errors import InputRefused
from camsign.flows.fieldwork.parsed import read_field_file
from camsign.formats import kml
from camsign.formats.gpx import read_gpx
from camsign.formats.kml import read_kml
from camsign.formats.text import degrees

GPX = (
    '<?xml version="1.0" encoding="{0}"?><gpx version="1.1" creator="x"'
    ' xmlns="http://www.topografix.com/GPX/1/1">'
    '<wpt lat="44.2" lon="-71.4"><name>{1}</name></wpt></gpx>'
)
KML = (
    '<?xml version="1.0" encoding="{0}"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>'
    "<Placemark><name>rub</name><Point><coordinates>-71.4,44.2</coordinates></Point></Placemark>"
    "<Placemark><name>{1}</name><Point><coordinates>-71.4,44.3</coordinates></Point></Placemark>"
    "<Placemark><name>bed</name><Point><coordinates>-71.4,44.4</coordinates></Point></Placemark>"
    "</Document></kml>"
)


@pytest.mark.parametrize(
    ("encoding", "name"), [("Shift_JIS", "木"), ("GB18030", "树"), ("EUC-JP", "木")]
)
def test_encodings_of_several_bytes(tmp_path: Path, encoding: str, name: str) -> None:
    gpx, map_ = tmp_path / "a.gpx", tmp_path / "a.kml"
    gpx.write_bytes(GPX.format(encoding, name).encode(encoding))
    map_.write_bytes(KML.format(encoding, name).encode(encoding))
    assert [w.name for w in read_gpx(gpx).waypoints] == [name]
    assert [m.name for m in read_kml(map_).placemarks] == ["rub", name, "bed"]


@pytest.mark.parametrize("read", [read_gpx, read_kml])
def test_an_encoding_that_nobody_knows_is_one_line(tmp_path: Path, read: object) -> None:
    path = tmp_path / "a.xml"
    path.write_bytes((GPX if read is read_gpx else KML).format("klingon-1", "x").encode())
    with pytest.raises(InputRefused, match="klingon-1"):
        read(path)  # type: ignore[operator]


def test_a_kml_that_says_utf_8_and_is_not_keeps_all_points(tmp_path: Path) -> None:
    path = tmp_path / "a.kml"
    path.write_bytes(KML.format("UTF-8", "Kälte").encode("latin-1"))
    found = read_kml(path)
    assert [m.name for m in found.placemarks] == ["rub", "Kälte", "bed"]
    assert "not as declared" in found.troubles[0]


def test_a_phone_track_with_holes_is_a_walk(tmp_path: Path) -> None:
    path = tmp_path / "a.kml"
    path.write_text(
        '<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="http://www.google.com/kml/ext/2.2">'
        "<Placemark><name>Evening</name><gx:Track><when>2025-10-05T12:00:00Z</when>"
        "<when>2025-10-05T12:01:00Z</when><when>2025-10-05T12:02:00Z</when>"
        "<gx:coord>-71.4 44.2 300</gx:coord><gx:coord/><gx:coord>-71.41 44.2 300</gx:coord>"
        "</gx:Track></Placemark></kml>",
        encoding="utf-8",
    )
    (track,) = read_field_file(path).paths
    assert not track.planned
    assert [p.time_utc and p.time_utc.minute for p in track.points] == [0, 2]


def test_all_documents_of_an_archive_are_read_and_a_large_one_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.kmz"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("files/a.kml", KML.format("UTF-8", "one"))
        archive.writestr("doc.kml", KML.format("UTF-8", "two"))
    assert [m.name for m in read_kml(path).placemarks] == ["rub", "two", "bed", "rub", "one", "bed"]
    monkeypatch.setattr(kml, "MAX_UNPACKED_BYTES", 500)
    with pytest.raises(InputRefused, match="unpacks to more"):
        read_kml(path)


def test_a_clock_that_was_never_set_is_no_date(tmp_path: Path) -> None:
    path = tmp_path / "a.gpx"
    text = GPX.format("UTF-8", "rub").replace("<name>", "<time>1970-01-01T00:00:00Z</time><name>")
    path.write_text(text, encoding="utf-8")
    found = read_field_file(path)
    assert found.points[0].when is None
    assert "1970" in found.troubles[0]


@pytest.mark.parametrize(
    ("text", "letters", "value"),
    [
        ("N44 36.600", "NS", 44.61),
        ("44.62N", "NS", 44.62),
        ("W 71 14.100", "EW", -71.235),
        ("44°37'12\"N", "NS", 44.62),
        ("-71.4", "EW", -71.4),
        ("N44 36.6", "EW", None),
        ("44.5 30N", "NS", None),
        ("N44 72", "NS", None),
        ("undefined", "NS", None),
    ],
)
def test_degrees_and_minutes(text: str, letters: str, value: float | None) -> None:
    assert degrees(text, letters) == (None if value is None else pytest.approx(value))
