"""A handheld's or phone's files: sorted by their words, shown, taken once, nothing lost."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any, TypeVar

import pytest

from camsign.answers.result import plain
from camsign.derive.opening import open_logbook
from camsign.errors import InputRefused
from camsign.flows.fieldwork.handheld import import_cameras, sort_files, take
from camsign.flows.fieldwork.sign_tables import Choices
from camsign.flows.fieldwork.sorted_files import GROUPS, FieldTaken, SortedFiles
from camsign.logbook.folder import Folder, create
from camsign.logbook.session import Session
from camsign.places.areas import areas
from camsign.places.deployments import deployments, remove_deployment
from camsign.places.points import places
from camsign.sign.record import signs

HERE = (44.2, -71.4)
NOON = "2025-10-05T16:00:00"
T = TypeVar("T")


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    return create(tmp_path / "hollow", "America/New_York", HERE, "imperial")


def do(folder: Folder, verb: Callable[[Session], T]) -> T:
    with open_logbook(folder) as session:
        return verb(session)


def show(folder: Folder, *paths: Path, **how: Any) -> SortedFiles:
    return do(folder, lambda s: sort_files(s, paths, **how))


def accept(folder: Folder, *paths: Path, as_one: bool = False, **how: Any) -> FieldTaken:
    return do(folder, lambda s: take(s, sort_files(s, paths, **how), as_one))


def lines(folder: Folder) -> int:
    path = folder.journal / f"{folder.writer}.jsonl"
    return len(path.read_bytes().splitlines()) if path.exists() else 0


def waypoints(path: Path, points: list[tuple[float, float, str, str]]) -> Path:
    """Waypoints with a time [UTC] each."""
    from gpxpy.gpx import GPX, GPXWaypoint

    document = GPX()
    for lat, lon, name, when in points:
        moment = datetime.fromisoformat(when).replace(tzinfo=UTC)
        document.waypoints.append(GPXWaypoint(lat, lon, time=moment, name=name))
    path.write_text(document.to_xml(), encoding="utf-8")
    return path


def gpx(path: Path, points: list[tuple[float, float, str, str]], tracks: list[Any] = []) -> Path:  # noqa: B006
    from gpxpy.gpx import GPX, GPXTrack, GPXTrackPoint, GPXTrackSegment, GPXWaypoint

    document = GPX()
    moment = datetime.fromisoformat(NOON).replace(tzinfo=UTC)
    for lat, lon, name, text in points:
        document.waypoints.append(GPXWaypoint(lat, lon, time=moment, name=name, description=text))
    for name, line in tracks:
        track = GPXTrack(name)
        points_ = [GPXTrackPoint(lat, lon, time=moment) for lat, lon in line]
        track.segments.append(GPXTrackSegment(points_))
        document.tracks.append(track)
    path.write_text(document.to_xml(), encoding="utf-8")
    return path


@pytest.fixture
def handheld(tmp_path: Path) -> Path:
    walked = [(44.2 + i * 1e-4, -71.4) for i in range(50)]
    return gpx(
        tmp_path / "handheld.gpx",
        [
            (44.2001, -71.4001, "CAM07", "facing NE"),
            (44.2101, -71.4001, "cam ridge", ""),
            (44.2001, -71.4002, "stand north oak", ""),
            (44.2001, -71.4003, "Parking", ""),
            (44.2001, -71.4004, "rub 1", "alder 2in top 38in fresh S"),
            (44.2001, -71.4005, "scrape active", ""),
            (44.2001, -71.4006, "bedding spruce knob", "60yd"),
            (44.2001, -71.4007, "lunch rock", "good view"),
            (44.2001, -71.4008, "rub 2", "top 41m"),
            (0.0, 0.0, "rub 3", ""),
        ],
        [("Evening", walked), ("way in brook", walked[:10])],
    )


def test_one_file_is_sorted_shown_and_taken(folder: Folder, handheld: Path) -> None:
    found = show(folder, handheld)
    told = "2 camera spots, 3 places, 2 pieces of sign, 1 area, 1 walk, 1 not understood"
    assert found.in_words() == told
    assert {i.state for i in found.items} == {"new"}
    assert len(found.refused) == 2 and all("\n" not in line for line in found.refused)
    assert "41 m" in found.refused[0] and "without a fix" in found.refused[1]
    told = plain(found)
    assert told.keys() == {*GROUPS, "twins", "refused", "notes"}
    row = told["cameras"][0]
    assert (row["name"], row["where"]) == ("CAM07", found.cameras[0].where)
    assert "edits" not in row
    assert lines(folder) == 0, "shown, not taken"

    done = accept(folder, handheld)
    assert done == FieldTaken(2, 3, 2, 1, 1, 1, 0, done.refused, said=True)
    assert lines(folder) == 1, "one act"
    hung = do(folder, deployments)
    assert [h.camera for h in hung] == ["CAM07", "ridge"]
    assert hung[0].facing_deg == 45.0
    assert hung[0].hung.isoformat() == "2025-10-05T12:00:00-04:00"
    assert {(p.place, p.kind) for p in do(folder, places)} == {
        ("north oak", "stand"), ("parking", "parking"), ("brook", "way in"),
    }  # fmt: skip
    assert [(a.area, a.kind, round(a.radius_m, 2)) for a in do(folder, areas)] == [
        ("spruce knob", "bedding", 54.86)
    ]
    rub = next(s for s in do(folder, signs) if s.kind == "rub")
    assert (rub.travel_deg, rub.state, rub.seen_on) == (180.0, "fresh", date(2025, 10, 5))
    kept = do(folder, lambda s: s.con.execute("SELECT name, text FROM waypoints").fetchall())
    assert kept == [("lunch rock", "good view")]
    (walk,) = do(folder, lambda s: s.con.execute("SELECT name, shape FROM walks").fetchall())
    assert walk[0] == "Evening" and json.loads(walk[1])["type"] == "LineString"


@pytest.mark.thorough
def test_the_same_file_again_adds_nothing(folder: Folder, handheld: Path) -> None:
    accept(folder, handheld)
    again = show(folder, handheld)
    assert {i.state for i in again.items} == {"known"}
    done = accept(folder, handheld, handheld)
    assert sum((done.cameras, done.places, done.sign, done.areas, done.walks)) == 0
    assert lines(folder) == 1
    wrong = do(folder, deployments)[1].deployment
    do(folder, lambda s: remove_deployment(s, wrong))
    accept(folder, handheld)
    assert [h.camera for h in do(folder, deployments)] == ["CAM07"], "removed stays removed"


def test_a_camera_that_hangs_elsewhere_is_refused_and_named(folder: Folder, tmp_path: Path) -> None:
    first = gpx(tmp_path / "a.gpx", [(44.2, -71.4, "CAM07", "")])
    accept(folder, first)
    near = gpx(tmp_path / "b.gpx", [(44.2002, -71.4, "cam07", ""), (44.2, -71.4, "rub", "")])
    assert show(folder, near).cameras[0].state == "known"  # 22 m off: the same spot
    far = gpx(tmp_path / "c.gpx", [(44.21, -71.4, "CAM07", ""), (44.2, -71.4, "rub", "")])
    found = show(folder, far)
    assert found.cameras == [] and "can't hang in two places" in found.refused[0]
    twice = gpx(tmp_path / "d.gpx", [(44.2, -71.4, "CAM09", ""), (44.3, -71.4, "CAM09", "")])
    assert "comes twice" in show(folder, twice).refused[0]


def test_a_camera_that_was_moved_hangs_in_both_places(folder: Folder, tmp_path: Path) -> None:
    table = tmp_path / "cams.csv"
    table.write_text(
        "camera,lat,lon,from,until\nCAM01,44.2,-71.4,2025-08-01,2025-10-04\n"
        "CAM01,44.21,-71.4,2025-10-05,\nCAM01,44.22,-71.4,2025-11-01,\n",
        encoding="utf-8",
    )
    done = do(folder, lambda s: import_cameras(s, table))
    assert (done.cameras, done.refused) == (3, [])
    ends = [h.until and h.until.date() for h in do(folder, deployments)]
    assert ends == [date(2025, 10, 5), date(2025, 11, 1), None]  # whole days: to their midnight
    again = do(folder, lambda s: import_cameras(s, table))
    assert (again.cameras, again.known) == (0, 3)
    # A handheld marked it anew at both places, each on its own day.
    moved = [
        (44.2, -71.4, "CAM01", "2025-08-01T12:00:00"),
        (44.21, -71.4, "CAM01", "2025-10-05T18:00:00"),
    ]
    file = waypoints(tmp_path / "h.gpx", moved)
    found = show(folder, file)
    assert [i.state for i in found.cameras] == ["known", "known"] and found.refused == []


@pytest.mark.thorough
@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
@pytest.mark.parametrize("at_once", [True, False])
def test_one_that_nobody_took_down_hung_until_it_was_hung_elsewhere(
    folder: Folder, tmp_path: Path, order: tuple[int, int], at_once: bool
) -> None:
    marked = [
        (44.2, -71.4, "CAM06", "2025-08-11T13:00:00"),
        (44.21, -71.4, "CAM06", "2025-10-04T18:05:00"),
    ]
    points = [marked[i] for i in order]
    if not at_once:
        accept(folder, waypoints(tmp_path / "a.gpx", points[:1]))
    found = show(folder, waypoints(tmp_path / "b.gpx", points))
    assert found.refused == [] and found.cameras[-1].state == "new"
    assert "moved" in found.cameras[-1].why or "until" in found.cameras[-1].why
    accept(folder, tmp_path / "b.gpx")
    first, second = do(folder, deployments)
    assert first.until == second.hung == datetime(2025, 10, 4, 18, 5, tzinfo=UTC)
    assert (first.lat, second.lat, second.until) == (44.2, 44.21, None)
    again = accept(folder, tmp_path / "b.gpx")
    assert (again.cameras, again.known, again.refused) == (0, 2, [])


def test_places_keep_their_names_apart(folder: Folder, tmp_path: Path) -> None:
    file = gpx(tmp_path / "a.gpx", [(44.2, -71.4, "parking", ""), (44.25, -71.4, "Parking", "")])
    accept(folder, file)
    assert [p.place for p in do(folder, places)] == ["parking", "parking 2"]
    assert {i.state for i in show(folder, file).places} == {"known"}
    moved = gpx(tmp_path / "b.gpx", [(44.202, -71.4, "parking", "")])
    assert show(folder, moved).places[0].state == "changed"
    accept(folder, moved)
    assert [p.lat for p in do(folder, places)] == [44.202, 44.25]


def test_an_outline_that_crosses_itself_is_left_out_in_one_line(
    folder: Folder, tmp_path: Path
) -> None:
    kml, track = tmp_path / "phone.kml", tmp_path / "walk.geojson"
    corners = "-71.4,44.2 -71.39,44.21 -71.39,44.2 -71.4,44.21 -71.4,44.2"
    kml.write_text(
        f"""<kml xmlns="http://www.opengis.net/kml/2.2"><Document>
        <Placemark><name>Bedding Low knob</name><Polygon><outerBoundaryIs><LinearRing>
          <coordinates>{corners}</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>
        <Placemark><name>parking</name><Point><coordinates>-71.4,44.2</coordinates></Point>
        </Placemark></Document></kml>""",
        encoding="utf-8",
    )
    ring = [[float(x) for x in c.split(",")] for c in corners.split()]
    shape = {"type": "Polygon", "coordinates": [ring]}
    about = {"name": "Low knob", "kind": "bedding"}
    feature = {"type": "Feature", "properties": about, "geometry": shape}
    track.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    found = show(folder, kml, track)
    assert found.in_words() == "1 place" and len(found.refused) == 2
    assert all("crosses itself near 44.20500,-71.39500" in line for line in found.refused)


def test_kml_geojson_and_tables_are_sorted_alike(folder: Folder, tmp_path: Path) -> None:
    kml = tmp_path / "phone.kml"
    kml.write_text(
        """<kml xmlns="http://www.opengis.net/kml/2.2"><Document>
        <Placemark><name>old rub</name><TimeStamp><when>2026-03-14T15:00:00Z</when></TimeStamp>
          <Point><coordinates>-71.4,44.2</coordinates></Point></Placemark>
        <Placemark><name>Feeding North cut</name><Polygon><outerBoundaryIs><LinearRing>
          <coordinates>-71.4,44.2 -71.39,44.2 -71.39,44.21 -71.4,44.2</coordinates>
          </LinearRing></outerBoundaryIs></Polygon></Placemark>
        <Placemark><name>Ridge line</name><LineString>
          <coordinates>-71.4,44.2 -71.39,44.2</coordinates></LineString></Placemark>
        </Document></kml>""",
        encoding="utf-8",
    )
    geo = tmp_path / "g.geojson"
    features = [
        ({"name": "Spruce knob", "kind": "bedding"}, "Polygon",
         [[[-71.42, 44.2], [-71.41, 44.2], [-71.41, 44.21], [-71.42, 44.2]]]),
        ({"kind": "rub", "seen_on": "2026-03-14", "travel": "bare SW"}, "Point", [-71.4, 44.21]),
        ({"camera": "CAM01", "from": "2026-03-14"}, "Point", [-71.41, 44.21]),
    ]  # fmt: skip
    geo.write_text(json.dumps({"type": "FeatureCollection", "features": [
        {"type": "Feature", "properties": p, "geometry": {"type": t, "coordinates": c}}
        for p, t, c in features]}), encoding="utf-8")  # fmt: skip
    table = tmp_path / "t.csv"
    table.write_text(
        "kind,name,lat,lon,seen_on,radius\nstand,Low pine,44.2,-71.45,,\n"
        "bed,,44.2,-71.46,2026-03-14,\nstaging,Apple flat,44.2,-71.47,,80\nunicorn,,44.2,-71.4,,\n",
        encoding="utf-8",
    )
    found = show(folder, kml, geo, table)
    assert found.in_words() == "1 camera spot, 1 place, 3 pieces of sign, 3 areas"
    assert len(found.refused) == 2
    assert "a drawn line" in found.refused[0] and "'unicorn'" in found.refused[1]
    do(folder, lambda s: take(s, sort_files(s, [kml, geo, table])))
    assert {(a.area, a.kind) for a in do(folder, areas)} == {
        ("North cut", "feeding"), ("Spruce knob", "bedding"), ("Apple flat", "staging"),
    }  # fmt: skip
    assert {(s.kind, s.travel_deg) for s in do(folder, signs)} == {
        ("rub", None), ("rub", 45.0), ("bed", None),
    }  # fmt: skip
    again = show(folder, kml, geo, table)
    assert {i.state for i in again.items} == {"known"}


@pytest.mark.thorough
def test_two_devices_copies_are_offered_as_one(folder: Folder, tmp_path: Path) -> None:
    mine = gpx(tmp_path / "mine.gpx", [(44.2, -71.4, "rub 1", ""), (44.20001, -71.4, "rub 2", "")])
    accept(folder, mine)
    assert show(folder, mine).twins == [], "two waypoints of one file are two rubs"
    rest = [(44.2003, -71.4, "Rub B", ""), (44.2, -71.4, "bed", "")]
    theirs = gpx(tmp_path / "theirs.gpx", [(44.20002, -71.40001, "Rub A", ""), *rest])
    found = show(folder, theirs)
    (twin,) = found.twins
    assert twin.kind == "rub" and twin.distance_m < 5 and "'Rub A'" in twin.where
    done = accept(folder, theirs, as_one=True)
    assert (done.sign, done.known) == (2, 1)
    rows = do(folder, signs)
    assert len({row.sign for row in rows}) == 4 and len(rows) == 5, "a look more at one of them"
    again = show(folder, theirs)
    assert {i.state for i in again.sign} == {"known"} and again.twins == []
    # What was said to be one stays one when its waypoint changes.
    gpx(theirs, [(44.20002, -71.40001, "Rub A", "NE"), *rest])
    assert [i.state for i in show(folder, theirs).sign] == ["changed", "known", "known"]
    accept(folder, theirs)
    after = do(folder, signs)
    assert {row.sign for row in after} == {row.sign for row in rows}
    assert [row.travel_deg for row in after if row.sign == twin.other] == [None, 45.0]


def test_cameras_alone(folder: Folder, tmp_path: Path) -> None:
    table = tmp_path / "cams.csv"
    table.write_text(
        "Camera,lat,lon,from,until,facing\nCAM01,44.2,-71.4,2025-08-01,2025-11-01,NE\n"
        "CAM02,44.21,-71.4,2025-08-01 17:30,,\nCAM03,95,-71.4,2025-08-01,,\n",
        encoding="utf-8",
    )
    done = do(folder, lambda s: import_cameras(s, table))
    assert done.cameras == 2 and "latitude 95" in done.refused[0]
    one, two = do(folder, deployments)
    assert (one.camera, one.facing_deg, one.until is not None) == ("CAM01", 45.0, True)
    assert two.hung.isoformat() == "2025-08-01T17:30:00-04:00"
    empty = gpx(tmp_path / "e.gpx", [(44.2, -71.4, "rub", "")])
    with pytest.raises(InputRefused, match="holds no camera"):
        do(folder, lambda s: import_cameras(s, empty))


def photo(path: Path, words: str = "", direction: float | None = 225.0, place: bool = True) -> Path:
    """A phone's photo, its EXIF written by Pillow."""
    from PIL import Image

    picture = Image.new("RGB", (64, 48))
    exif = picture.getexif()
    exif[0x010E] = words
    exif.get_ifd(0x8769)[0x9003] = "2026:03:14 15:30:00"
    gps = exif.get_ifd(0x8825)
    if place:
        gps[1], gps[2], gps[3], gps[4] = "N", (44.0, 12.0, 0.0), "W", (71.0, 24.0, 0.0)
        gps[31] = 4.5
    if direction is not None:
        gps[16], gps[17] = "T", direction
    picture.save(path, "JPEG", exif=exif)
    return path


@pytest.mark.parametrize(
    ("fixed", "offset", "told"),
    [
        ("2026:03:13 12:30:00", None, "27 hours before"),
        ("2026:03:14 13:30:00", "-04:00", "6 hours before"),
        ("2026:03:14 19:29:00", "-04:00", ""),
        ("2026:03:14 04:00:00", None, ""),  # somewhere on earth it is so early then
    ],
)
def test_an_old_fix_of_a_photo_is_told(
    folder: Folder, tmp_path: Path, fixed: str, offset: str | None, told: str
) -> None:
    from PIL import Image

    path = photo(tmp_path / "IMG_9.jpg", "rub")
    picture = Image.open(path)
    exif = picture.getexif()
    clock = tuple(float(n) for n in fixed[11:].split(":"))
    exif.get_ifd(0x8825)[7], exif.get_ifd(0x8825)[29] = clock, fixed[:10]
    if offset:
        exif.get_ifd(0x8769)[0x9011] = offset
    picture.save(path, exif=exif)
    found = show(folder, path)
    assert [told in line for line in found.refused] == ([True] if told else [])
    assert found.sign[0].day == date(2026, 3, 14)


def test_photos_say_where_and_when_and_offer_the_way(folder: Folder, tmp_path: Path) -> None:
    rub = photo(tmp_path / "IMG_1.jpg", "rub alder 2in")
    plain = photo(tmp_path / "IMG_2.jpg")
    nowhere = photo(tmp_path / "IMG_3.jpg", "rub", place=False)
    found = show(folder, rub, plain, nowhere)
    assert found.in_words() == "1 piece of sign, 1 not understood"
    assert "does not say where" in found.refused[0]
    assert found.sign[0].day == date(2026, 3, 14) and found.sign[0].way == ""
    assert any("looked 225; not taken" in note for note in found.notes)
    both = show(folder, rub, plain, choices=Choices(photo_direction=True, photo_kind="rub"))
    assert [i.way for i in both.sign] == ["↙ going SW"] * 2
    assert any("as its camera looked" in note for note in both.notes)
    accept(folder, rub, choices=Choices(photo_direction=True))
    (row,) = do(folder, signs)
    assert (row.travel_deg, row.taken_as, row.lat) == (225.0, "225T", 44.2)
    said = photo(tmp_path / "IMG_4.jpg", "rub going N")
    assert show(folder, said, choices=Choices(photo_direction=True)).sign[0].way == "↑ going N"


def test_files_that_hold_nothing(folder: Folder, tmp_path: Path) -> None:
    bad = tmp_path / "bad.xml"
    bad.write_text("<html></html>", encoding="utf-8")
    with pytest.raises(InputRefused, match="there is nothing in it"):
        show(folder, bad)
    good = gpx(tmp_path / "g.gpx", [(44.2, -71.4, "rub", "")])
    found = show(folder, bad, good)
    assert found.in_words() == "1 piece of sign"
    absent = show(folder, tmp_path / "absent.gpx", good)
    assert "absent.gpx; check the name" in absent.refused[0] and len(absent.sign) == 1
    with pytest.raises(InputRefused, match="nothing in it"):
        show(folder, gpx(tmp_path / "e.gpx", []))


def test_other_peoples_files_end_in_lines_for_people(folder: Folder, samples: Path) -> None:
    choices = Choices(on=date(2026, 3, 14), anywhere=True)
    geo = samples / "geo"
    paths = [*geo.glob("gpx/*.gpx"), *geo.glob("kml/*"), *geo.glob("kmz/*"), *geo.glob("csv/*")]
    paths += [samples / "exif" / "exif-samples" / "DSCN0010.jpg"]
    with open_logbook(folder) as session:
        found = sort_files(session, sorted(paths), choices)
    assert all("\n" not in line for line in [*found.refused, *found.notes])
    assert len(found.not_understood) > 100 and len(found.walks) > 0
    photo_ = next(i for i in found.not_understood if "DSCN0010" in i.where)
    # exiftool's reading in MANIFEST.csv: 43.4674 N, 11.8851 E.
    assert photo_.lat == pytest.approx(43.4674, abs=1e-4)
    assert photo_.lon == pytest.approx(11.8851, abs=1e-4)


def test_what_is_left_out_says_why_and_keeps_nothing(folder: Folder, tmp_path: Path) -> None:
    file = tmp_path / "table.csv"
    file.write_text(
        "name,lat,lon,date\n"
        "CAM07 facing NE,44.2,-71.4,2025-09-31\n"
        "CAM08 facing NE,44.2,-71.4,2025-09-30\n"
        "rub alder 2in NE big,-71.4,44.2,2025-09-20\n",
        encoding="utf-8",
    )
    with open_logbook(folder) as session:
        found = sort_files(session, [file])
    no_day, swapped = found.refused
    assert "'2025-09-31' is not a day" in no_day
    assert "looks swapped" in swapped
    assert not any("kept as a note" in note for note in found.notes)
    (camera,) = found.cameras
    assert (camera.name, camera.day) == ("CAM08", date(2025, 9, 30))


def test_does_beds_of_a_phone_are_shown_and_kept_as_theirs(folder: Folder, tmp_path: Path) -> None:
    file = gpx(
        tmp_path / "phone.gpx",
        [(44.2001, -71.4001, "doe beds x4", ""), (44.2009, -71.4, "bed", "")],
    )
    assert [item.why for item in show(folder, file).sign] == ["a doe's bed", ""]
    accept(folder, file)
    kept = "SELECT bed_of, note FROM signs ORDER BY note"
    assert do(folder, lambda s: s.con.execute(kept).fetchall()) == [
        (None, "bed"), ("doe", "doe beds x4"),
    ]  # fmt: skip


def test_a_way_in_keeps_its_words_where_a_stand_has_its_name(
    folder: Folder, tmp_path: Path
) -> None:
    walked = [(44.2 + i * 1e-4, -71.4) for i in range(20)]
    file = gpx(
        tmp_path / "phone.gpx",
        [(44.2, -71.4, "stand pine", "")],
        [("way in pine", walked), ("way in brook", walked[3:])],
    )
    accept(folder, file)
    named = {("pine", "stand"), ("way in pine", "way in"), ("brook", "way in")}
    assert {(p.place, p.kind) for p in do(folder, places)} == named
    assert {item.state for item in show(folder, file).items} == {"known"}
