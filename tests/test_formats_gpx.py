"""GPX: against gpxpy both ways, the schema, the samples' facts, and what files do wrong."""

from __future__ import annotations

import csv
import io
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import gpxpy
import pytest
import xmlschema
from hypothesis import given, settings
from hypothesis import strategies as st

from camsign.errors import InputRefused
from camsign.formats import gpx
from camsign.formats.gpx import GpxFile, Track, TrackPoint, Waypoint, read_gpx, write_gpx

# Written by hand after the GPX 1.1 schema, as handhelds write it; an invented place.
HAND = """<?xml version="1.0" encoding="UTF-8"?>
<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="by hand">
  <metadata><name>Kettle Hollow</name><time>2024-03-02T12:00:00Z</time></metadata>
  <wpt lat="44.1234567" lon="-71.7654321">
    <ele>512.5</ele>
    <time>2024-03-02T09:15:30-05:00</time>
    <name>rub alder 2in &amp; fresh</name>
    <cmt>top 38in</cmt>
    <desc><![CDATA[faces <S>]]></desc>
    <sym>Flag, Blue</sym>
    <type>sign</type>
    <extensions><o:name xmlns:o="urn:other">not the name</o:name></extensions>
  </wpt>
  <wpt lat="44.2" lon="-71.8"/>
  <rte><name>way in</name><rtept lat="44.0" lon="-71.0"/><rtept lat="44.1" lon="-71.1"/></rte>
  <trk>
    <name>walked</name>
    <trkseg>
      <trkpt lat="44.01" lon="-71.01"><ele>500</ele><time>2024-03-02T14:00:00Z</time></trkpt>
      <trkpt lat="44.02" lon="-71.02"><time>2024-03-02T14:01:00.250Z</time></trkpt>
    </trkseg>
    <trkseg/>
    <trkseg><trkpt lat="44.03" lon="-71.03"/></trkseg>
  </trk>
</gpx>
"""


def read_text(folder: Path, text: str | bytes) -> GpxFile:
    path = folder / "in.gpx"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return read_gpx(path)


def with_waypoints(inner: str) -> str:
    return f'<gpx version="1.1" creator="x">{inner}</gpx>'


def test_a_file_written_after_the_schema(tmp_path: Path) -> None:
    found = read_text(tmp_path, HAND)
    at = datetime(2024, 3, 2, 14, 15, 30, tzinfo=UTC)
    assert found.waypoints == [
        Waypoint(
            name="rub alder 2in & fresh",
            lat=44.1234567,
            lon=-71.7654321,
            time_utc=at,
            description="faces <S>",
            comment="top 38in",
            symbol="Flag, Blue",
            kind_text="sign",
            elevation_m=512.5,
        ),
        Waypoint("", 44.2, -71.8),
    ]
    assert [point.line for point in found.waypoints] == [4, 14]
    way, walked = found.tracks
    assert (way.name, way.planned, len(way.points)) == ("way in", True, 2)
    assert (walked.name, walked.planned) == ("walked", False)
    assert [len(segment) for segment in walked.segments] == [2, 1]
    assert walked.points[1].time_utc == datetime(2024, 3, 2, 14, 1, 0, 250_000, tzinfo=UTC)
    assert found.troubles == []


def test_the_same_file_as_gpxpy_reads_it(tmp_path: Path) -> None:
    found, theirs = read_text(tmp_path, HAND), gpxpy.parse(HAND)
    for ours, other in zip(found.waypoints, theirs.waypoints, strict=True):
        assert (ours.lat, ours.lon, ours.elevation_m) == (
            other.latitude,
            other.longitude,
            other.elevation,
        )
        assert ours.time_utc == other.time
        assert (ours.name, ours.symbol) == (other.name or "", other.symbol or "")
        assert (ours.comment, ours.description) == (other.comment or "", other.description or "")
    walked = [track for track in found.tracks if not track.planned]
    assert [p.time_utc for p in walked[0].points] == [
        p.time for segment in theirs.tracks[0].segments for p in segment.points
    ]


def test_samples_hold_what_gpxpy_counted(samples: Path) -> None:
    """GPX_FACTS.csv was made with gpxpy; its track and segment counts include empty ones."""
    with (samples / "geo/GPX_FACTS.csv").open(encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if not row["error"]]
    assert len(rows) > 10
    for row in rows:
        found = read_gpx(samples / "geo/gpx" / row["file"])
        walked = [point for track in found.tracks if not track.planned for point in track.points]
        planned = [track for track in found.tracks if track.planned]
        points = [*found.waypoints, *walked, *(p for track in planned for p in track.points)]
        counts = (len(found.waypoints), len(walked), len(planned))
        assert counts == (int(row["wpt"]), int(row["trkpt"]), int(row["rte"])), row["file"]
        assert sum(p.time_utc is not None for p in points) == int(row["with_time"]), row["file"]
        assert sum(p.elevation_m is not None for p in points) == int(row["with_ele"]), row["file"]
        assert min(p.lat for p in points) == float(row["minlat"]), row["file"]
        assert max(p.lon for p in points) == float(row["maxlon"]), row["file"]
        times = [p.time_utc for p in points if p.time_utc]
        if times and row["no_tz"] == "0":
            # gpxpy's facts keep microseconds, as datetime does.
            assert min(times).isoformat() == row["first_time"], row["file"]
            assert max(times).isoformat() == row["last_time"], row["file"]
        assert bool(found.troubles) == (row["no_tz"] != "0"), row["file"]


def test_junk_coordinates_cost_a_line_each(samples: Path) -> None:
    found = read_gpx(samples / "geo/gpx/bad.gpx")
    assert (found.waypoints, found.tracks) == ([], [])
    assert len(found.troubles) == 5
    assert "line 13: waypoint left out: lat 'undefined'" in found.troubles[2]


texts = st.text(
    st.characters(exclude_categories=["Cs", "Cc"], exclude_characters="\ufffe\uffff"), max_size=20
).map(str.strip)
degrees = st.integers(-90 * 10**7, 90 * 10**7).map(lambda n: n / 10**7)
times = st.none() | st.datetimes(timezones=st.just(UTC), min_value=datetime(1900, 1, 1))
heights = st.none() | st.integers(-4000, 90000).map(lambda n: n / 10)
waypoints = st.builds(
    Waypoint,
    texts,
    degrees,
    degrees.map(lambda d: d * 2),
    times,
    texts,
    texts,
    texts,
    texts,
    heights,
)
track_points = st.builds(TrackPoint, degrees, degrees, times, heights)
segments = st.lists(
    st.lists(track_points, min_size=1, max_size=3).map(tuple), min_size=1, max_size=2
)
tracks = st.builds(Track, texts, segments.map(tuple)) | st.builds(
    Track, texts, segments.map(lambda found: (found[0],)), st.just(True)
)


@settings(deadline=None, max_examples=60)
@given(st.lists(waypoints, max_size=3), st.lists(tracks, max_size=2))
def test_what_is_written_is_read_back(
    tmp_path_factory: pytest.TempPathFactory, points: list[Waypoint], paths: list[Track]
) -> None:
    stream = io.StringIO()
    write_gpx(points, paths, stream)
    found = read_text(tmp_path_factory.mktemp("gpx"), stream.getvalue())
    assert found.waypoints == points
    assert sorted(found.tracks, key=lambda t: t.planned) == sorted(paths, key=lambda t: t.planned)
    assert found.troubles == []


def test_what_is_written_keeps_to_the_schema(samples: Path, tmp_path: Path) -> None:
    """Topografix' own schema, by the xmlschema package."""
    schema = xmlschema.XMLSchema(samples / "standards/gpx-1.1.xsd")
    found = read_text(tmp_path, HAND)
    stream = io.StringIO()
    write_gpx([*found.waypoints, Waypoint("bell \x07 <&>", 1e-7, -1e-7)], found.tracks, stream)
    assert [str(e) for e in schema.iter_errors(stream.getvalue())] == []
    assert schema.is_valid(HAND)


# A byte-order mark, other encodings, and one that does not say which it is.
@pytest.mark.parametrize(
    "raw",
    [
        with_waypoints('<wpt lat="1" lon="2"><name>Höhe</name></wpt>').encode("utf-8-sig"),
        (
            '<?xml version="1.0"?>' + with_waypoints('<wpt lat="1" lon="2"><name>Höhe</name></wpt>')
        ).encode("utf-16"),
        (
            '<?xml version="1.0" encoding="ISO-8859-1"?>'
            + with_waypoints('<wpt lat="1" lon="2"><name>Höhe</name></wpt>')
        ).encode("latin-1"),
    ],
)
def test_encodings_are_read_as_declared(tmp_path: Path, raw: bytes) -> None:
    found = read_text(tmp_path, raw)
    assert [point.name for point in found.waypoints] == ["Höhe"]
    assert found.troubles == []


def test_an_undeclared_encoding_is_read_and_doubted(tmp_path: Path) -> None:
    raw = with_waypoints('<wpt lat="1" lon="2"><name>Höhe</name></wpt>').encode("cp1252")
    found = read_text(tmp_path, raw)
    assert [point.name for point in found.waypoints] == ["Höhe"]
    assert "windows-1252" in found.troubles[0]


@pytest.mark.parametrize(
    ("attributes", "left_out"),
    [
        ('lat="95" lon="10"', "lat '95'"),
        ('lat="45" lon="181"', "lon '181'"),
        ('lat="45"', "lon ''"),
        ('lat="nan" lon="10"', "lat 'nan'"),
        ('lat="4_5" lon="10"', "lat '4_5'"),
        ('lat="45,5" lon="10"', "lat '45,5'"),
    ],
)
def test_a_bad_place_costs_its_row_and_no_other(
    tmp_path: Path, attributes: str, left_out: str
) -> None:
    inner = (
        f'<wpt {attributes}><name>bad</name></wpt><wpt lat="45" lon="10"><name>good</name></wpt>'
    )
    found = read_text(tmp_path, with_waypoints(inner))
    assert [point.name for point in found.waypoints] == ["good"]
    assert len(found.troubles) == 1
    assert "waypoint 'bad' left out" in found.troubles[0]
    assert left_out in found.troubles[0]


def test_a_bad_time_or_height_is_left_out_and_the_place_kept(tmp_path: Path) -> None:
    inner = '<wpt lat="45" lon="10"><ele>high</ele><time>noon</time><name>n</name></wpt>'
    found = read_text(tmp_path, with_waypoints(inner))
    assert found.waypoints == [Waypoint("n", 45, 10)]
    assert len(found.troubles) == 2


def test_a_file_cut_short_keeps_what_stands_before(tmp_path: Path) -> None:
    found = read_text(tmp_path, HAND[: HAND.index("<rte>")])
    assert len(found.waypoints) == 2
    assert "damaged at line" in found.troubles[0]


@pytest.mark.parametrize(
    ("raw", "why"),
    [
        (b"", "is empty"),
        (b"lat,lon\n1,2\n", "not XML"),
        (b"<kml/>", "root is <kml>"),
        (b"<gpx><wpt", "damaged GPX"),
        (b'<!DOCTYPE gpx [<!ENTITY a "b">]><gpx/>', "document type"),
        (b'<!DOCTYPE gpx SYSTEM "file:///etc/passwd"><gpx/>', "document type"),
        (b"<gpx>&undefined;</gpx>", "undefined entity"),
        (b"\xff\xd8\xff\xe0 a picture", "not XML"),
    ],
)
def test_what_is_no_gpx_is_refused_in_one_line(tmp_path: Path, raw: bytes, why: str) -> None:
    with pytest.raises(InputRefused) as refused:
        read_text(tmp_path, raw)
    assert why in str(refused.value)
    assert "in.gpx" in str(refused.value)
    assert "\n" not in str(refused.value)
    assert refused.value.remedy


def test_an_entity_bomb_is_refused_at_once(samples: Path) -> None:
    start = time.process_time()
    with pytest.raises(InputRefused, match="document type"):
        read_gpx(samples / "geo/kml/billion.kml")
    assert time.process_time() - start < 0.5


def test_a_file_too_large_or_absent_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(InputRefused, match=r"there is no file .*absent\.gpx; check the name"):
        read_gpx(tmp_path / "absent.gpx")
    with pytest.raises(InputRefused, match="folder"):
        read_gpx(tmp_path)
    monkeypatch.setattr(gpx, "MAX_GPX_BYTES", 500)
    with pytest.raises(InputRefused, match="in parts"):
        read_text(tmp_path, HAND)


def test_many_waypoints_take_at_most_twice_the_time_of_gpxpy(tmp_path: Path) -> None:
    inner = "".join(
        f'<wpt lat="{44 + i / 1e5}" lon="-71.5"><time>2024-03-02T12:00:00Z</time>'
        f"<name>rub {i}</name><desc>alder, fresh</desc></wpt>"
        for i in range(3000)
    )
    text = with_waypoints(inner)
    assert len(read_text(tmp_path, text).waypoints) == len(gpxpy.parse(text).waypoints) == 3000
    ours = min(_timed(lambda: read_gpx(tmp_path / "in.gpx")) for _ in range(3))
    assert ours < 2 * min(_timed(lambda: gpxpy.parse(text)) for _ in range(3))


def _timed(call: Callable[[], object]) -> float:
    start = time.process_time()
    call()
    return time.process_time() - start
