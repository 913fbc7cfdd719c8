"""GeoJSON: the schema project's valid and invalid files, shapely's reading, and bad features."""

from __future__ import annotations

import io
import json
import math
from pathlib import Path
from typing import Any

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from camsign.errors import InputRefused
from camsign.formats.geojson import GeoFeature, GeoFile, read_geojson, write_geojson

SQUARE = [[-71.0, 44.0], [-71.0, 44.1], [-71.1, 44.1], [-71.1, 44.0], [-71.0, 44.0]]


def read_root(folder: Path, root: Any) -> GeoFile:
    path = folder / "in.geojson"
    path.write_text(json.dumps(root), encoding="utf-8")
    return read_geojson(path)


def feature(geometry: Any, **properties: Any) -> dict[str, Any]:
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def polygon(*rings: list[Any]) -> dict[str, Any]:
    return {"type": "Polygon", "coordinates": list(rings)}


def test_valid_files_are_taken_and_mean_what_shapely_reads(samples: Path) -> None:
    """geojson/schema's fixtures. RFC 7946, 3.1 and 3.2, allow features that lie nowhere; camsign
    has no use for those and says so."""
    nowhere = {"empty-polygon", "null-geometry"}
    paths = sorted((samples / "geo/geojson/fixtures/fixtures/valid").rglob("*.json"))
    assert len(paths) > 25
    for path in paths:
        found = read_geojson(path)
        if path.stem in nowhere:
            assert "lies nowhere" in found.troubles[0], path
            continue
        assert found.troubles == [], path
        theirs = shapely.from_geojson(path.read_text(encoding="utf-8"))
        ours = [shapely.geometry.shape(dict(one.geometry)) for one in found.features]
        flat = shapely.get_parts(theirs) if path.parent.name == "featurecollection" else [theirs]
        assert ours == list(flat), path


def test_invalid_files_are_refused_or_cost_one_line(samples: Path) -> None:
    paths = sorted((samples / "geo/geojson/fixtures/fixtures/invalid").rglob("*.json"))
    assert len(paths) > 30
    for path in paths:
        try:
            found = read_geojson(path)
        except InputRefused as refused:
            assert str(path) in str(refused)
            assert "\n" not in str(refused)
        else:
            assert found.features == [], path
            assert len(found.troubles) == 1, path
            assert found.troubles[0].startswith("feature 1"), path


def test_name_and_kind_come_from_the_properties(tmp_path: Path) -> None:
    root = {
        "type": "FeatureCollection",
        "features": [
            feature(polygon(SQUARE), name=" East bench ", kind="bedding", acres=3),
            feature({"type": "Point", "coordinates": [-71, 44, 300]}, Name=12),
        ],
    }
    first, second = read_root(tmp_path, root).features
    assert (first.name, first.kind, first.properties["acres"]) == ("East bench", "bedding", 3)
    assert (second.name, second.kind, second.number) == ("12", "", 2)


@pytest.mark.parametrize(
    ("geometry", "why"),
    [
        (polygon(SQUARE[:-1]), "does not end where it begins"),
        (polygon([SQUARE[0], SQUARE[1], SQUARE[0]]), "3 positions where 4"),
        (polygon([[44.0, -171.0], [44.1, -171.0], [44.1, -171.1], [44.0, -171.0]]), "swapped"),
        ({"type": "Point", "coordinates": [-71, 95]}, "no place on earth"),
        ({"type": "Point", "coordinates": [math.nan, 44]}, "not [longitude, latitude]"),
        ({"type": "Point", "coordinates": [True, 44]}, "not [longitude, latitude]"),
        ({"type": "Point", "coordinates": ["-71", "44"]}, "not [longitude, latitude]"),
        ({"type": "Point", "coordinates": [10**400, 44]}, "no place on earth"),
        ({"type": "LineString", "coordinates": [[-71, 44]]}, "1 positions where 2"),
        ({"type": "Polygon", "coordinates": {}}, "nested"),
        ({"type": "Circle", "coordinates": [-71, 44]}, "unknown type"),
        ("POINT (1 2)", "no type"),
        (None, "lies nowhere"),
    ],
)
def test_a_bad_feature_costs_one_line_and_no_other_feature(
    tmp_path: Path, geometry: Any, why: str
) -> None:
    features = [feature(geometry, name="bad"), feature(polygon(SQUARE), name="good"), "junk"]
    found = read_root(tmp_path, {"type": "FeatureCollection", "features": features})
    assert [one.name for one in found.features] == ["good"]
    assert len(found.troubles) == 2
    assert found.troubles[0].startswith("feature 1 'bad' left out: ")
    assert why in found.troubles[0]


@pytest.mark.parametrize(
    ("raw", "why"),
    [
        (b"", "empty"),
        (b"lat,lon\n", "no JSON"),
        (b"[" * 100_000, "no JSON"),
        (b"[1, 2]", "no GeoJSON"),
        (b'{"type": "Topology"}', "'Topology'"),
        (b'{"type": 3}', "no type"),
        (
            b'{"type": "FeatureCollection", "features": [],'
            b' "crs": {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::3857"}}}',
            "EPSG::3857",
        ),
    ],
)
def test_what_is_no_geojson_is_refused_in_one_line(tmp_path: Path, raw: bytes, why: str) -> None:
    path = tmp_path / "in.geojson"
    path.write_bytes(raw)
    with pytest.raises(InputRefused) as refused:
        read_geojson(path)
    assert why in str(refused.value)
    assert "in.geojson" in str(refused.value)
    assert "\n" not in str(refused.value)


def test_the_older_name_of_wgs_84_is_known(tmp_path: Path) -> None:
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}
    root = {"type": "FeatureCollection", "crs": crs, "features": [feature(polygon(SQUARE))]}
    assert len(read_root(tmp_path, root).features) == 1


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le"])
def test_encodings(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "in.geojson"
    text = json.dumps(feature(polygon(SQUARE), name="Höhe"), ensure_ascii=False)
    path.write_bytes(text.encode(encoding))
    assert read_geojson(path).features[0].name == "Höhe"


positions = st.tuples(st.floats(-180, 180), st.floats(-90, 90)).map(list)
rings = st.lists(positions, min_size=3, max_size=6).map(lambda ring: [*ring, ring[0]])
geometries = (
    positions.map(lambda at: {"type": "Point", "coordinates": at})
    | rings.map(polygon)
    | st.lists(rings, min_size=1, max_size=2).map(
        lambda found: {"type": "MultiPolygon", "coordinates": [found]}
    )
)
names = st.text(st.characters(exclude_categories=["Cs"]), max_size=12).map(str.strip)


@pytest.mark.thorough
@settings(deadline=None)
@given(st.lists(st.tuples(names, names, geometries, st.integers()), max_size=4))
def test_what_is_written_is_read_back(
    tmp_path_factory: pytest.TempPathFactory, rows: list[tuple[str, str, Any, int]]
) -> None:
    features = [
        GeoFeature(name, kind, geometry, {"score": score}) for name, kind, geometry, score in rows
    ]
    stream = io.StringIO()
    write_geojson(features, stream)
    path = tmp_path_factory.mktemp("geo") / "in.geojson"
    path.write_text(stream.getvalue(), encoding="utf-8")
    found = read_geojson(path)
    assert found.troubles == []
    for wrote, read in zip(features, found.features, strict=True):
        assert (read.name, read.kind, read.geometry) == (wrote.name, wrote.kind, wrote.geometry)
        assert read.properties["score"] == wrote.properties["score"]
