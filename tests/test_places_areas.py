"""Areas and places: names, shapes, GeoJSON taken in again and again."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import pytest

from camsign.derive.opening import open_logbook
from camsign.errors import InputRefused, UsageError
from camsign.geo import Circle, Polygon, area_hectares, destination, shared
from camsign.logbook.folder import Folder, create
from camsign.logbook.session import Session
from camsign.logbook.shapes import to_area as area_of
from camsign.places import areas as a
from camsign.places import points as p

HERE = (44.2, -71.4)
T = TypeVar("T")


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    return create(tmp_path / "hollow", "America/New_York", HERE, "imperial")


def do(folder: Folder, verb: Callable[[Session], T]) -> T:
    with open_logbook(folder) as session:
        return verb(session)


def square(lat: float, lon: float, side: float = 0.002) -> dict[str, Any]:
    ring = [[0, 0], [side, 0], [side, side], [0, side], [0, 0]]
    return {"type": "Polygon", "coordinates": [[[lon + x, lat + y, 310.0] for x, y in ring]]}


def geojson(path: Path, *features: tuple[str, str, dict[str, Any]]) -> Path:
    rows = [
        {"type": "Feature", "properties": {"name": n, "kind": k}, "geometry": g}
        for n, k, g in features
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": rows}), encoding="utf-8")
    return path


def test_a_circle(folder: Folder) -> None:
    said = do(folder, lambda s: a.add_area(s, "Bedding", " Spruce  knob ", HERE, 60))
    assert (said.area, said.kind, said.radius_m) == ("Spruce knob", "bedding", 60)
    assert said.hectares == pytest.approx(1.131, abs=1e-3)  # pi * 0.6 * 0.6 ha
    assert do(folder, a.areas) == [said]


@pytest.mark.thorough
def test_names_are_one_whatever_their_case(folder: Folder) -> None:
    said = do(folder, lambda s: a.add_area(s, "bedding", "Spruce knob", HERE, 60))
    with pytest.raises(UsageError, match="already an area called 'Spruce knob'"):
        do(folder, lambda s: a.add_area(s, "feeding", "SPRUCE KNOB", HERE, 60))
    renamed = do(folder, lambda s: a.set_area(s, "spruce KNOB", "spruce Knob"))
    assert renamed.area_id == said.area_id and do(folder, a.areas) == [renamed]
    with pytest.raises(UsageError, match="did you mean 'spruce Knob'"):
        do(folder, lambda s: a.set_area(s, "spruce nob", "x"))
    do(folder, lambda s: a.remove_area(s, said.area_id))
    assert do(folder, a.areas) == []
    do(folder, lambda s: a.add_area(s, "feeding", "SPRUCE KNOB", HERE, 60))


@pytest.mark.parametrize(
    ("kind", "name", "at", "radius", "words"),
    [
        ("bed", "x", HERE, 60, "'bed' is no kind of area; did you mean bedding"),
        ("bedding", " ", HERE, 60, "needs a name"),
        ("bedding", "a-0123abcd", HERE, 60, "looks like an id"),
        ("bedding", "x", (95.0, 0.0), 60, "latitude 95"),
        ("bedding", "x", HERE, 0, r"at most 12 miles \(20 km\)"),
        ("bedding", "x", HERE, 1e6, r"at most 12 miles \(20 km\)"),
    ],
)
def test_what_is_no_area(
    folder: Folder, kind: str, name: str, at: tuple[float, float], radius: float, words: str
) -> None:
    with pytest.raises(UsageError, match=words):
        do(folder, lambda s: a.add_area(s, kind, name, at, radius))


def test_polygons_are_taken_once_and_changed_by_name(folder: Folder, tmp_path: Path) -> None:
    file = geojson(
        tmp_path / "areas.geojson",
        ("North cut", "Feeding", square(44.2, -71.4)),
        ("Spruce knob", "bedding", square(44.21, -71.4)),
        ("Nowhere", "bedding", {"type": "Point", "coordinates": [-71.4, 44.2]}),
        ("Sleeping", "sleeping", square(44.22, -71.4)),
        ("", "bedding", square(44.23, -71.4)),
        ("north CUT", "bedding", square(44.24, -71.4)),
    )
    first = do(folder, lambda s: a.import_areas(s, file))
    assert (first.new, first.changed, first.known) == (2, 0, 0)
    assert len(first.refused) == 4 and all("\n" not in line for line in first.refused)
    assert "it is a Point" in first.refused[0] and "'sleeping'" in first.refused[1]
    assert [row.area for row in do(folder, a.areas)] == ["North cut", "Spruce knob"]
    again = do(folder, lambda s: a.import_areas(s, file))
    assert (again.new, again.changed, again.known) == (0, 0, 2)
    assert len((folder.journal / f"{folder.writer}.jsonl").read_bytes().splitlines()) == 1

    geojson(file, ("north cut", "staging", square(44.2, -71.4, 0.003)))
    changed = do(folder, lambda s: a.import_areas(s, file))
    assert (changed.new, changed.changed) == (0, 1)
    now = {row.area: row for row in do(folder, a.areas)}
    assert now["north cut"].kind == "staging"
    assert now["north cut"].area_id == first.areas[0].area_id


def test_two_friends_who_take_in_one_file_agree_on_ids(tmp_path: Path) -> None:
    file = geojson(tmp_path / "f.geojson", ("North cut", "feeding", square(44.2, -71.4)))
    ids = []
    for name in ("one", "two"):
        folder = create(tmp_path / name, "America/New_York", HERE, "metric")
        ids.append(do(folder, lambda s: a.import_areas(s, file)).areas[0].area_id)
    assert ids[0] == ids[1]


def test_files_that_hold_no_area(folder: Folder, tmp_path: Path) -> None:
    file = geojson(tmp_path / "f.geojson", ("x", "none", square(44.2, -71.4)))
    with pytest.raises(InputRefused, match="no area that can be taken; feature 1 'x' left out"):
        do(folder, lambda s: a.import_areas(s, file))
    geojson(file)
    with pytest.raises(InputRefused, match="holds no area"):
        do(folder, lambda s: a.import_areas(s, file))


def polygon(*corners: tuple[float, float]) -> dict[str, Any]:
    ring = [[lon, lat] for lat, lon in (*corners, corners[0])]
    return {"type": "Polygon", "coordinates": [ring]}


BOW_TIE = polygon((44.1, -71.2), (44.102, -71.198), (44.102, -71.2), (44.1, -71.198))


@pytest.mark.thorough
@pytest.mark.parametrize(
    "shape, why",
    [
        (square(-71.2, 44.1), "is far from this property, and looks swapped; swap its two numbers"),
        (square(44.1, 71.2), "from this property, so a minus may be missing; write 44.1,-71.2"),
        (square(51.5, -0.1), "is over 600 miles (1,000 km) from this property"),
        (square(0.0, 0.0), "0,0 is what a receiver without a fix writes"),
        (BOW_TIE, "its outline crosses itself near 44.10100,-71.19900; draw it again"),
    ],
)
def test_an_outline_that_cannot_be_meant_is_refused_in_one_line(
    tmp_path: Path, shape: dict[str, Any], why: str
) -> None:
    folder = create(tmp_path / "near", "America/New_York", (44.1, -71.2), "metric")
    file = geojson(tmp_path / "a.geojson", ("Good", "bedding", square(44.1, -71.2)))
    text = json.loads(file.read_text(encoding="utf-8"))
    bad = {"type": "Feature", "properties": {"name": "Bad", "kind": "bedding"}, "geometry": shape}
    text["features"].append(bad)
    file.write_text(json.dumps(text), encoding="utf-8")
    taken = do(folder, lambda s: a.import_areas(s, file))
    assert [r.area for r in taken.areas] == ["Good"] and taken.new == 1
    (line,) = taken.refused
    assert "'Bad' left out" in line and why in line and "\n" not in line
    # What is only far away may be meant; what crosses itself or has no fix may not.
    far = do(folder, lambda s: a.import_areas(s, file, anywhere=True))
    assert [r.area for r in far.areas] == ["Good", "Bad"][: 2 if "property" in why else 1]


def test_a_walked_outline_may_tangle_by_a_sliver(folder: Folder) -> None:
    # Where it closes, the fixes overshoot by some meters: a loop of well under a hundredth.
    walked = [
        (44.1, -71.2), (44.102, -71.2), (44.102, -71.197), (44.1, -71.197), (44.09998, -71.19999),
        (44.10004, -71.20002),
    ]  # fmt: skip
    assert do(folder, lambda s: a.add_area(s, "bedding", "Walked", corners=[walked])).hectares > 0
    twice = [(44.1, -71.2), (44.102, -71.2), (44.102, -71.197)] * 2
    with pytest.raises(UsageError, match="crosses itself"):
        do(folder, lambda s: a.add_area(s, "bedding", "Twice", corners=[twice]))


def test_shapes_become_geometry() -> None:
    assert area_of('{"circle": [44.2, -71.4, 60]}') == Circle(44.2, -71.4, 60)
    hole = [[0.0005, 0.0005], [0.0015, 0.0005], [0.0015, 0.0015], [0.0005, 0.0005]]
    shape = {
        "type": "MultiPolygon",
        "coordinates": [[square(0, 0)["coordinates"][0], hole], square(0, 1)["coordinates"]],
    }
    area = area_of(shape)
    assert isinstance(area, Polygon) and len(area.rings) == 3
    one = area_hectares(area_of(square(0, 0)))
    # The hole is an eighth of its square: a half of a quarter.
    assert area_hectares(area) == pytest.approx(one * (2 - 1 / 8), rel=1e-4)


def test_places(folder: Folder) -> None:
    stand = do(folder, lambda s: p.add_place(s, "stand", "North oak", [HERE]))
    way = do(folder, lambda s: p.add_place(s, "way-in", "Brook path", [HERE, (44.21, -71.4)]))
    assert way.kind == "way in"
    # 0.01 degrees of latitude at 44.2 N are 1111.2 m (geographiclib 2.1).
    from geographiclib.geodesic import Geodesic

    line = Geodesic.WGS84.Inverse(*HERE, 44.21, -71.4)["s12"]
    assert way.length_m == pytest.approx(line, abs=1e-3)
    assert do(folder, p.places) == [stand, way]
    assert do(folder, lambda s: p.places(s, "stand")) == [stand]
    with pytest.raises(UsageError, match="already"):
        do(folder, lambda s: p.add_place(s, "water", "NORTH OAK", [HERE]))
    with pytest.raises(UsageError, match="'camp' is no kind of place"):
        do(folder, lambda s: p.add_place(s, "camp", "x", [HERE]))
    renamed = do(folder, lambda s: p.set_place(s, "north oak", "Big oak"))
    do(folder, lambda s: p.remove_place(s, "Brook path"))
    assert do(folder, p.places) == [renamed]


def test_where_does_bed_is_a_kind_of_its_own(folder: Folder) -> None:
    for i, (said, kind) in enumerate(
        (("doe bedding", "doe bedding"), ("Doe-Bedding", "doe bedding"), ("doe", "doe bedding"),
         ("buck bedding", "bedding"), ("bedding", "bedding"))
    ):  # fmt: skip
        assert do(folder, lambda s, n=i, k=said: a.add_area(s, k, f"x{n}", HERE, 30)).kind == kind


def test_what_is_not_named_of_an_area_stays(folder: Folder) -> None:
    do(folder, lambda s: a.add_area(s, "bedding", "Knob", HERE, 60))
    do(folder, lambda s: a.set_area(s, "knob", kind="feeding", radius=90.0))
    (row,) = do(folder, a.areas)
    assert (row.area, row.kind, row.radius_m) == ("Knob", "feeding", 90)
    assert (row.lat, row.lon) == pytest.approx(HERE)
    with pytest.raises(UsageError, match="nothing to change of Knob"):
        do(folder, lambda s: a.set_area(s, "Knob"))


@pytest.mark.parametrize("name", ["beds.kml", "Beds.KMZ"])
def test_another_format_than_geojson_is_sent_to_the_command_that_takes_it(
    folder: Folder, tmp_path: Path, name: str
) -> None:
    (tmp_path / name).write_text("<kml/>")
    with pytest.raises(InputRefused, match=f"camsign import .*{name}"):
        do(folder, lambda s: a.import_areas(s, tmp_path / name))


def test_an_area_drawn_over_another_one_says_so_and_is_kept(folder: Folder, tmp_path: Path) -> None:
    """Drawn anew instead of changed, a bed stood twice, and each counted its cameras."""
    bench = {"at": HERE, "radius": 60.0}
    first = do(folder, lambda s: a.add_area(s, "bedding", "Bench", **bench))
    assert first.overlaps is None and first.read_as == ""
    near = (HERE[0] + 0.0005, HERE[1])  # 56 m north: 0.42 of the one lies in the other
    again = do(folder, lambda s: a.add_area(s, "bedding", "North Bench", at=near, radius=60.0))
    assert again.overlaps == ("Bench",)
    assert again.read_as == (
        "It overlaps Bench: pictures near both count for both, and days in bed are split between "
        "them"
    )
    # 110 m: the two hardly touch (0.04).
    far = (HERE[0] - 0.00098, HERE[1])
    flat = do(folder, lambda s: a.add_area(s, "feeding", "Flat", at=far, radius=60.0))
    assert flat.overlaps is None
    moved = do(folder, lambda s: a.set_area(s, "Flat", at=HERE, radius=20.0))
    assert moved.overlaps == ("Bench", "North Bench")
    one, two = (square(HERE[0] + x, HERE[1], side=0.0004) for x in (0, 0.0001))
    drawn = ("Old Square", "bedding", one), ("Twin", "bedding", two)
    file = geojson(tmp_path / "in.geojson", *drawn)
    taken = do(folder, lambda s: a.import_areas(s, file))
    assert taken.new == 2
    assert taken.areas[0].overlaps == ("Bench", "Flat", "North Bench", "Twin")
    assert do(folder, lambda s: a.import_areas(s, file)).known == 2
    rows = do(folder, a.areas)
    assert [row.overlaps for row in rows] == [None] * 5


def test_the_share_of_the_smaller_area_that_lies_in_both() -> None:
    one, inside = Circle(*HERE, 100.0), Circle(*HERE, 20.0)
    assert shared(one, inside) == shared(inside, one) == pytest.approx(1.0)
    # Two circles of radius r, their middles r apart, share (2/3 - sqrt(3)/(2 pi)) of either.
    lat, lon = (float(x) for x in destination(*HERE, 90.0, 100.0))
    assert shared(one, Circle(lat, lon, 100.0)) == pytest.approx(0.391, abs=0.005)
    assert shared(one, Circle(lat + 1, lon, 100.0)) == 0.0
