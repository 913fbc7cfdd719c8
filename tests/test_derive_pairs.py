"""Distances between deployments, signs and areas, against geographiclib."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from derive_world import book, hang, rows, say
from geographiclib.geodesic import Geodesic

from camsign.logbook.edits import SetFields
from camsign.logbook.folder import Folder


@pytest.fixture
def home(tmp_path: Path) -> Folder:
    return book(tmp_path / "book")


def sign(i: int, lat: float, lon: float, **more: object) -> SetFields:
    return SetFields("sign", f"s-{i}", {"kind": "rub", "lat": lat, "lon": lon} | more)


def test_pairs_up_to_the_limit_like_geographiclib(home: Folder) -> None:
    rng = np.random.default_rng(2)
    places = rng.uniform([44.05, -71.25], [44.15, -71.15], (40, 2))
    cameras = [(44.1, -71.2), (44.12, -71.18)]
    say(home, *(sign(i, *p) for i, p in enumerate(places.tolist())))
    say(home, *(hang(f"CAM{i}", "2025-09-01T00:00:00Z", at=c) for i, c in enumerate(cameras)))
    found = {(d, s): (m, b) for d, s, m, b in rows(home, "SELECT * FROM sign_pairs")}
    expected = {}
    for i, camera in enumerate(cameras):
        for j, place in enumerate(places):
            line = Geodesic.WGS84.Inverse(*camera, *place)
            if line["s12"] <= 2000:
                expected[f"d-CAM{i}", f"s-{j}"] = (line["s12"], line["azi1"] % 360)
    assert 5 < len(expected) < 60
    assert found.keys() == expected.keys()
    for pair, (meters, bearing) in expected.items():
        assert found[pair] == pytest.approx((meters, bearing), abs=1e-5)


def test_areas_are_measured_to_their_edge(home: Folder) -> None:
    # By geographiclib: 0.02° east of the circle's center, and 0.01° east of the box's edge.
    circle = {"circle": [44.1, -71.2, 100.0]}
    box = {
        "type": "Polygon",
        "coordinates": [[[-71.21, 44.09], [-71.19, 44.09], [-71.19, 44.11], [-71.21, 44.11],
                         [-71.21, 44.09]]],
    }  # fmt: skip
    say(
        home,
        SetFields("area", "a-circle", {"name": "Bench", "kind": "bedding", "shape": circle}),
        SetFields("area", "a-box", {"name": "Swamp", "kind": "bedding", "shape": box}),
        sign(1, 44.1, -71.18),
        hang("CAM1", "2025-09-01T00:00:00Z", at=(44.1, -71.2)),
        hang("CAM2", "2025-09-01T00:00:00Z", at=(44.2, -71.2)),
    )
    assert sorted(rows(home, "SELECT * FROM area_pairs")) == [
        ("d-CAM1", "a-box", 0.0),
        ("d-CAM1", "a-circle", 0.0),
    ]
    found = dict(rows(home, "SELECT area, distance_m FROM area_signs"))
    center, edge = (
        Geodesic.WGS84.Inverse(44.1, lon, 44.1, -71.18)["s12"] for lon in (-71.2, -71.19)
    )
    assert found["a-circle"] == pytest.approx(center - 100, abs=0.01)
    assert found["a-box"] == pytest.approx(edge, abs=0.02)


@pytest.mark.thorough
def test_what_is_moved_or_gone_is_measured_again_or_goes(home: Folder) -> None:
    say(home, sign(1, 44.101, -71.2), sign(2, 44.102, -71.2), hang("CAM1", "2025-09-01T00:00:00Z"))
    count = "SELECT count(*), round(max(distance_m)) FROM sign_pairs"
    assert rows(home, count) == [(2, 222.0)]
    say(home, SetFields("sign", "s-2", {"lat": 44.103}))
    assert rows(home, count) == [(2, 333.0)]
    say(home, SetFields("sign", "s-2", {"gone": True}))
    assert rows(home, count) == [(1, 111.0)]
    say(home, SetFields("deployment", "d-CAM1", {"lat": 44.11}))
    assert rows(home, count) == [(1, 1000.0)]
    say(home, SetFields("deployment", "d-CAM1", {"gone": True}))
    assert rows(home, count) == [(0, None)]
