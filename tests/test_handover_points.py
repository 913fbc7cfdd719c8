"""What has a place leaves as GPX, KML, GeoJSON or CSV and comes back the same, not doubled."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

import pytest

from camsign.derive.opening import open_logbook
from camsign.errors import InputRefused, UsageError
from camsign.flows.fieldwork.handheld import sort_files, take
from camsign.flows.fieldwork.sorted_files import FieldTaken, SortedFiles
from camsign.flows.handover.points import HandedOn, hand_on
from camsign.flows.handover.rounded import rounded
from camsign.flows.handover.things import WHAT, Wanted
from camsign.geo import distance_bearing
from camsign.logbook.edits import SetFields, new_id
from camsign.logbook.folder import Folder, create
from camsign.logbook.session import Session
from camsign.places.areas import add_area, set_area
from camsign.places.deployments import hang
from camsign.places.points import add_place, remove_place, set_place
from camsign.places.shapes import polygon_shape
from camsign.sign.heading import SaidHeading
from camsign.sign.record import SaidSighting, add_sign, look_again, move_sign, remove_sign
from camsign.sits.journal import add_sit, remove_sit, sits
from camsign.units import Bearing, parse_when

HERE = (44.2, -71.4)
FORMATS = ("gpx", "kml", "geojson", "csv")
KEPT = ("cameras", "sign", "places", "areas", "walks", "sits")
T = TypeVar("T")


def do(folder: Folder, verb: Callable[[Session], T]) -> T:
    with open_logbook(folder) as session:
        return verb(session)


def fill(s: Session) -> None:
    """One of everything, with texts that formats and spreadsheets stumble over."""
    hang(s, "CAM07", (44.2011234, -71.4012345), parse_when("2025-08-10"), facing=Bearing(45.0))
    hang(s, "C-2", (44.2, -71.41), parse_when("2025-08-01"), parse_when("2025-11-30 10:15"),
         Bearing(210.0, "true"), "local", note="=HYPERLINK(1) <oak> & \"pine\"")  # fmt: skip
    measures = {"diameter_m": 0.11, "top_m": 1.1, "snow_m": 0.3, "marks": ["nicks", "gouges"]}
    add_sign(s, "rub", (44.20501, -71.40502),
                   SaidSighting(date(2026, 3, 14), "fresh", SaidHeading(Bearing(45.0, "magnetic")),
                        date(2025, 10, 1), date(2025, 11, 20), measures, "seen; note"),
                   "red oak", "+1 by the \u2018big\u2019 ledge, 2 < 3")  # fmt: skip
    add_sign(
        s,
        "rub",
        (44.2051, -71.4051),
        SaidSighting(date(2025, 11, 2), None, SaidHeading(Bearing(225.0), bare=True)),
    )
    long = {"length_m": 1.3, "aspect_deg": 170.0, "hair": True}
    bed = SaidSighting(date(2025, 11, 3), measures=long)
    add_sign(s, "bed", (44.206, -71.406), bed, note="-5 rows", bed_of="buck")
    add_sign(
        s,
        "shed",
        (44.207, -71.407),
        SaidSighting(date(2026, 3, 1), measures={"points": 4, "side": ["left"]}),
    )
    add_place(s, "stand", "Bed Ridge ladder", [(44.203, -71.403)])
    add_place(s, "way in", "By the brook", [(44.2, -71.4), (44.2015, -71.4018), (44.203, -71.403)])
    add_area(s, "bedding", "Brindle Knob", (44.2042, -71.4042), 73.0)
    ring = [[-71.41, 44.21], [-71.41, 44.212], [-71.407, 44.212], [-71.407, 44.21], [-71.41, 44.21]]
    hole = [
        [-71.409, 44.2105],
        [-71.408, 44.2105],
        [-71.408, 44.211],
        [-71.409, 44.211],
        [-71.409, 44.2105],
    ]
    outline(s, "feeding", 'Oak, "flat"', {"type": "Polygon", "coordinates": [ring, hole]})
    far = [[[x + 0.01, y] for x, y in ring]]
    both = {"type": "MultiPolygon", "coordinates": [[ring], far]}
    outline(s, "doe bedding", "Two parts", both)
    line = {"type": "LineString", "coordinates": [[-71.40, 44.20], [-71.405, 44.206]]}
    walk = {"name": "scouting (1)", "shape": line, "started": "2026-03-14T13:00:00+00:00",
            "ended": "2026-03-14T16:00:00+00:00", "source": "x.gpx"}  # fmt: skip
    s.say("walked", [SetFields("walk", "w-0123456789ab", walk)])
    buck(s)


def buck(s: Session) -> None:
    s.say("added a buck", [SetFields("buck", "b-0123456789ab", {"name": "Old Quarrel"})])


def outline(s: Session, kind: str, name: str, geometry: dict[str, Any]) -> None:
    fields = {"name": name, "kind": kind, "shape": polygon_shape(geometry)}
    s.say("drew an area", [SetFields("area", new_id("a"), fields)])


def look(s: Session) -> None:
    rub = s.con.execute("SELECT sign FROM signs WHERE species = 'red oak'").fetchone()
    assert rub
    look_again(s, rub[0], SaidSighting(date(2026, 4, 11), "absent"))
    seen, spooked = "Old Quarrel 40yd E 4:40pm; 2 does", "a mature 8pt 3:30pm"
    hours = (date(2025, 11, 7), "3-dark", "SW 6mph")
    add_sit(s, "Bed Ridge ladder", *hours, seen, spooked, "=1+1 too warm")
    add_sit(s, "Bed Ridge ladder", date(2025, 11, 8), "light-9:30", "calm")


@pytest.fixture
def full(tmp_path: Path) -> Folder:
    folder = create(tmp_path / "hollow", "America/New_York", HERE, "imperial")
    do(folder, fill)
    do(folder, look)
    return folder


@pytest.fixture
def other(tmp_path: Path) -> Folder:
    """Another logbook that knows the buck, as one does that has taken in his table."""
    folder = create(tmp_path / "friend", "America/New_York", HERE, "metric")
    do(folder, buck)
    return folder


def export(folder: Folder, path: Path, exact: bool = True, **how: Any) -> HandedOn:
    wanted = Wanted(**({"what": KEPT} | how))
    return do(folder, lambda s: hand_on(s, path, wanted, exact))


def accept(folder: Folder, path: Path) -> FieldTaken:
    return do(folder, lambda s: take(s, sort_files(s, [path])))


def sort(folder: Folder, path: Path) -> SortedFiles:
    return do(folder, lambda s: sort_files(s, [path]))


def said(folder: Folder) -> dict[str, list[tuple[Any, ...]]]:
    """All that stands of things with a place, shapes as they enclose."""
    tables = {
        "deployments": "deployment, camera, round(lat, 9), round(lon, 9), hung, taken_down,"
        " worked_to_end, round(facing_deg, 6), coalesce(clock, 'hung'), tz, note",
        "signs": "sign, kind, round(lat, 9), round(lon, 9), species, note, bed_of",
        "sightings": "sighting, sign, seen_on, made_from, made_to, state, round(travel_deg, 4),"
        " taken_as, measures, note",
        "places": "place, name, kind, shape, shoots_m",
        "areas": "area, name, kind, shape",
        "walks": "walk, name, started, ended, shape",
        "sits": "sit, stand, start, stop, round(wind_deg, 6), round(wind_ms, 6), note",
        "encounters": "encounter, sit, what, buck, points, mature, count, seen_at,"
        " round(from_deg, 6), round(distance_m, 6), coalesce(spooked, FALSE), note",
    }  # fmt: skip

    def read(s: Session) -> dict[str, list[tuple[Any, ...]]]:
        return {
            name: s.con.execute(
                f"SELECT {columns} FROM {name} WHERE gone IS NOT TRUE ORDER BY 1"
            ).fetchall()
            for name, columns in tables.items()
        }

    found = do(folder, read)
    return {name: [tuple(map(_plain, row)) for row in rows] for name, rows in found.items()}


def _plain(value: Any) -> Any:
    if not (isinstance(value, str) and value.startswith("{")):
        return value
    value = json.loads(value)
    if value.get("type") in ("Polygon", "MultiPolygon"):
        import shapely

        shape = shapely.geometry.shape(value)
        return shapely.normalize(shapely.set_precision(shape, 1e-9)).wkt
    return json.dumps(
        {k: round(v, 6) if isinstance(v, float) else v for k, v in value.items()}, sort_keys=True
    )


@pytest.mark.thorough
@pytest.mark.parametrize("ending", FORMATS)
def test_another_logbook_takes_in_the_same(
    full: Folder, other: Folder, tmp_path: Path, ending: str
) -> None:
    path = tmp_path / f"all.{ending}"
    done = export(full, path)
    assert done.exact_places
    assert done.counts == {"cameras": 2, "sign": 5, "places": 2, "areas": 3, "walks": 1, "sits": 2}
    taken = accept(other, path)
    assert not taken.refused
    assert said(other) == said(full)
    assert accept(other, path).said is False
    again = tmp_path / f"again.{ending}"
    export(other, again)
    assert accept(full, again).said is False


@pytest.mark.thorough
@pytest.mark.parametrize("ending", FORMATS)
def test_the_own_file_is_known_even_when_things_were_corrected_since(
    full: Folder, tmp_path: Path, ending: str
) -> None:
    path = tmp_path / f"all.{ending}"
    export(full, path)

    def correct(s: Session) -> None:
        sign = s.con.execute("SELECT sign FROM signs WHERE kind = 'bed'").fetchone()
        shed = s.con.execute("SELECT sign FROM signs WHERE kind = 'shed'").fetchone()
        assert sign and shed
        move_sign(s, sign[0], (44.2065, -71.4065))
        remove_sign(s, shed[0])
        set_area(s, "Brindle Knob", name="Brindle")
        set_place(s, "By the brook", name="Brook")
        remove_place(s, "Bed Ridge ladder")

    do(full, correct)
    before = said(full)
    taken = accept(full, path)
    assert (taken.said, taken.known, taken.refused) == (False, 15, [])
    assert said(full) == before


def test_a_handheld_has_each_camera_once_where_it_hung_last(full: Folder, tmp_path: Path) -> None:
    """Last season's tree had the same name in its list: it led there as well."""
    old = (HERE[0] + 0.02, HERE[1])
    days = parse_when("2024-08-10"), parse_when("2025-01-10")
    do(full, lambda s: hang(s, "CAM07", old, *days))
    found = {newest: tmp_path / f"{newest}.csv" for newest in (False, True)}
    for newest, path in found.items():
        export(full, path, what=("cameras",), newest=newest)
    names = {k: [row["name"] for row in csv.DictReader(path.open())] for k, path in found.items()}
    assert names[False].count("CAM07") == 2 and names[True].count("CAM07") == 1
    (row,) = (r for r in csv.DictReader(found[True].open()) if r["name"] == "CAM07")
    assert float(row["lat"]) != pytest.approx(old[0], abs=1e-4)


@pytest.mark.thorough
def test_a_handheld_that_drops_what_it_does_not_know_changes_nothing(
    full: Folder, tmp_path: Path
) -> None:
    """Most receivers keep name, comment, description and time, and drop extensions."""
    path = tmp_path / "all.gpx"
    export(full, path, newest=True)
    plain = re.sub(r"<extensions>.*?</extensions>", "", path.read_text("utf-8"), flags=re.S)
    path.write_text(plain, "utf-8")
    before = said(full)
    found = sort(full, path)
    assert {i.state for i in found.items if i.what != "walk"} == {"known"}, found
    taken = accept(full, path)
    assert not taken.refused
    assert said(full) == before


@pytest.mark.thorough
def test_what_was_changed_on_the_phone_changes_the_same_thing(full: Folder, tmp_path: Path) -> None:
    path = tmp_path / "all.gpx"
    export(full, path, what=("sign", "places"), newest=True)
    text = path.read_text("utf-8")
    text = re.sub(r"going SW(?=[^\]]*\])", "going N", text)
    text = text.replace("Bed Ridge ladder", "Bed Ridge")
    path.write_text(re.sub(r"<cmt>.*?</cmt>", "", text), "utf-8")
    found = sort(full, path)
    assert sorted(i.state for i in found.items) == ["changed"] * 1 + ["known"] * 4 or found
    before = said(full)
    accept(full, path)
    after = said(full)
    assert len(after["signs"]) == len(before["signs"])
    assert len(after["places"]) == len(before["places"])


@pytest.mark.thorough
@pytest.mark.parametrize("ending", FORMATS)
def test_rounded_places_lie_within_a_kilometer_and_are_never_taken_as_places(
    full: Folder, other: Folder, tmp_path: Path, ending: str
) -> None:
    path = tmp_path / f"vague.{ending}"
    assert not export(full, path, exact=False, what=WHAT).exact_places
    text = path.read_text("utf-8")
    for exact in ("44.2011", "44.2050", "44.2042", "71.40423", "44.2015"):
        assert exact not in text
    for folder in (full, other):
        before = said(folder)
        try:
            assert not accept(folder, path).said
        except InputRefused as e:
            assert "rounded to 1 km" in str(e)
        assert said(folder) == before


def test_rounding_hides_within_half_a_diagonal_and_keeps_to_one_grid() -> None:
    for lat in (-54.93, -0.0001, 0.0, 44.20501, 67.3):
        for lon in (-179.9999, -71.40502, 0.0, 12.3456):
            there = rounded(lat, lon)
            assert float(distance_bearing(lat, lon, *there)[0]) <= 715
            assert rounded(*there) == there


def test_geojson_is_wound_and_ordered_as_the_standard_wants(full: Folder, tmp_path: Path) -> None:
    """RFC 7946, 3.1.6 (outer rings against the clock) and 4; judged by shapely."""
    import shapely

    path = tmp_path / "all.geojson"
    export(full, path)
    features = json.loads(path.read_text("utf-8"))["features"]
    shapes = [shapely.geometry.shape(f["geometry"]) for f in features]
    rings = [p for s in shapes for p in getattr(s, "geoms", [s]) if p.geom_type == "Polygon"]
    assert len(rings) == 4
    assert all(p.exterior.is_ccw and not any(h.is_ccw for h in p.interiors) for p in rings)
    west, south, east, north = shapely.union_all(shapes).bounds
    assert -71.42 < west < east < -71.39
    assert 44.19 < south < north < 44.22


@pytest.mark.thorough
def test_gpx_fits_its_schema_and_gpxpy_reads_it(
    full: Folder, tmp_path: Path, samples: Path
) -> None:
    import gpxpy
    import xmlschema

    path = tmp_path / "all.gpx"
    export(full, path, what=WHAT)
    schema = xmlschema.XMLSchema(samples / "standards" / "gpx-1.1.xsd")
    assert list(schema.iter_errors(str(path))) == []
    read = gpxpy.parse(path.read_text("utf-8"))
    assert len(read.waypoints) == 2 + 5 + 1 + 2
    assert {t.name for t in read.tracks} >= {
        "way in By the brook",
        "bedding Brindle Knob",
        "scouting (1)",
    }
    assert "exact places" in read.name


def test_kml_is_read_by_another_reader(full: Folder, tmp_path: Path) -> None:
    fastkml = pytest.importorskip("fastkml")
    path = tmp_path / "all.kml"
    export(full, path)
    document = fastkml.KML.parse(path)
    marks = list(fastkml.utils.find_all(document, of_type=fastkml.Placemark))
    assert len(marks) == 15
    kinds = {m.geometry.geom_type for m in marks}
    assert kinds == {"Point", "LineString", "Polygon", "MultiPolygon"}
    first = next(m for m in marks if m.name == "CAM07")
    assert (first.geometry.y, first.geometry.x) == (44.2011234, -71.4012345)


@pytest.mark.thorough
def test_a_sit_without_its_cells_is_known_and_changed_words_change_it(
    full: Folder, other: Folder, tmp_path: Path
) -> None:
    """A receiver keeps name, comment and time alone; a person changes what was seen."""
    path = tmp_path / "sits.gpx"
    export(full, path, what=("places", "sits"))
    plain = re.sub(r"<extensions>.*?</extensions>", "", path.read_text("utf-8"), flags=re.S)
    path.write_text(plain, "utf-8")
    before = said(full)
    assert accept(full, path).said is False
    # Where only words are left, another logbook must know the stand before they can be read.
    export(full, tmp_path / "stands.kml", what=("places",))
    accept(other, tmp_path / "stands.kml")
    assert accept(other, path).sits == 2
    theirs = [(r.sit, r.start.replace(second=0), len(r.seen), r.wind_deg) for r in do(other, sits)]
    mine = [(r.sit, r.start.replace(second=0), len(r.seen), r.wind_deg) for r in do(full, sits)]
    assert theirs == mine
    assert accept(other, path).said is False
    path.write_text(plain.replace("2 doe", "5 doe"), "utf-8")
    assert accept(full, path).sits == 1
    after = said(full)
    assert len(after["sits"]) == len(before["sits"])
    assert [r[6] for r in after["encounters"] if r[2] == "doe"] == [5]


def test_a_sit_that_cannot_be_is_one_line_and_a_removed_one_stays_away(
    full: Folder, tmp_path: Path
) -> None:
    path = tmp_path / "sits.csv"
    export(full, path, what=("sits",))
    text = path.read_text("utf-8")
    wrong = (("2025-11-07T", "2025-19-07T"), ('""count"": 2', '""count"": ""x""'), ("{", "("))
    for bad in (text.replace(was, now) for was, now in wrong):
        assert bad != text
        path.write_text(bad, "utf-8")
        found = sort(full, path)
        assert len(found.refused) == 1, found.refused
        assert "\n" not in found.refused[0]
    path.write_text(text, "utf-8")
    first = do(full, sits)[0].sit
    do(full, lambda s: remove_sit(s, first))
    assert accept(full, path).said is False
    assert first not in {row.sit for row in do(full, sits)}


def test_a_buck_of_a_sit_whom_nobody_knows_is_named_in_its_note(
    full: Folder, tmp_path: Path
) -> None:
    stranger = create(tmp_path / "stranger", "America/New_York", HERE, "metric")
    path = tmp_path / "sits.geojson"
    export(full, path, what=("places", "sits"))
    assert accept(stranger, path).sits == 2
    (him,) = [one for row in do(stranger, sits) for one in row.seen if one.note]
    assert (him.what, him.buck, him.note) == ("buck", None, "Old Quarrel")


def test_no_cell_is_a_formula(full: Folder, tmp_path: Path) -> None:
    path = tmp_path / "all.csv"
    export(full, path)
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    numbers = {"lat", "lon"}
    cells = [text for row in rows for name, text in row.items() if name not in numbers]
    assert not [text for text in cells if text[:1] in ("=", "+", "-", "@", "\t", "\r")]
    assert any(text.startswith("'=HYPERLINK") for text in cells)


def test_a_file_name_that_says_no_format_is_refused(full: Folder, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=re.escape("end it in .gpx, .kml, .geojson, .csv")):
        export(full, tmp_path / "all.shp")
    assert list(tmp_path.glob("all.*")) == []


def test_nothing_to_hand_on_is_said(other: Folder, tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match="nothing to hand on"):
        export(other, tmp_path / "all.gpx")


def test_every_time_in_a_gpx_file_is_in_utc(full: Folder, tmp_path: Path) -> None:
    """GPX 1.1 schema, `time` of wptType: "Date and time in are in Univeral Coordinated Time (UTC),
    not local time!" The camera was hung at midnight, four hours behind UTC."""
    path = tmp_path / "x.gpx"
    do(full, lambda s: hand_on(s, path, exact=True))
    times = re.findall("<time>(.*?)</time>", path.read_text("utf-8"))
    assert "2025-08-10T04:00:00Z" in times
    assert len(times) > 5
    assert all(t.endswith("Z") for t in times)
