"""Distances, bearings and areas against an independent geodesic library and published points."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from camsign.errors import UsageError
from camsign.geo import (
    Circle,
    Polygon,
    angle_difference_deg,
    area_center,
    area_hectares,
    check_lat_lon,
    circle_ring,
    destination,
    distance_bearing,
    distance_to_area,
)

LATS = st.floats(-89.9, 89.9)
LONS = st.floats(-180, 180)


def test_flinders_peak_to_buninyong() -> None:
    # Geoscience Australia, GDA technical manual, worked example (value from memory):
    # 54 972.271 m, azimuth 306°52'05.37". GRS 80 there, WGS 84 here: 0.1 mm apart.
    lat1, lon1 = -(37 + 57 / 60 + 3.72030 / 3600), 144 + 25 / 60 + 29.52440 / 3600
    lat2, lon2 = -(37 + 39 / 60 + 10.15610 / 3600), 143 + 55 / 60 + 35.38390 / 3600
    distance, azimuth = distance_bearing(lat1, lon1, lat2, lon2)
    assert distance == pytest.approx(54972.271, abs=1e-3)
    assert azimuth == pytest.approx(306 + 52 / 60 + 5.37 / 3600, abs=0.01 / 3600)


def test_karney_samples(samples: Path) -> None:
    # 20 geodesics published with the tests of GeographicLib (Karney).
    with (samples / "reference" / "karney20.csv").open(encoding="utf-8", newline="") as file:
        rows = [{k: float(v) for k, v in row.items()} for row in csv.DictReader(file)]
    column = {name: np.array([row[name] for row in rows]) for name in rows[0]}
    distance, azimuth = distance_bearing(*(column[k] for k in ("lat1", "lon1", "lat2", "lon2")))
    assert len(rows) == 20
    np.testing.assert_allclose(distance, column["s12_m"], atol=1e-6)
    np.testing.assert_allclose(angle_difference_deg(azimuth, column["azi1"]), 0, atol=1e-9)
    lat, lon = destination(column["lat1"], column["lon1"], column["azi1"], column["s12_m"])
    np.testing.assert_allclose(lat, column["lat2"], atol=1e-9)
    np.testing.assert_allclose(angle_difference_deg(lon, column["lon2"]), 0, atol=1e-9)


def test_geodtest(samples: Path) -> None:
    # GeodTest.dat, Karney 2010, doi:10.5281/zenodo.32156: 100 of its lines.
    table = np.loadtxt(samples / "reference" / "GeodTest-100.dat")
    distance, azimuth = distance_bearing(*table.T[[0, 1, 3, 4]])
    assert len(table) == 100
    np.testing.assert_allclose(distance, table[:, 6], atol=1e-6)
    near_antipodal = table[:, 6] > 19.9e6
    off = angle_difference_deg(azimuth, table[:, 2])
    np.testing.assert_allclose(off[~near_antipodal], 0, atol=1e-7)


@given(LATS, LONS, st.floats(0.5, 20_000), st.floats(0, 359.99))
def test_like_geographiclib(lat: float, lon: float, meters: float, bearing: float) -> None:
    there = Geodesic.WGS84.Direct(lat, lon, bearing, meters)
    lat2, lon2 = destination(lat, lon, bearing, meters)
    assert lat2 == pytest.approx(there["lat2"], abs=1e-9)
    assert math.cos(math.radians(lat2)) * angle_difference_deg(
        lon2, there["lon2"]
    ) == pytest.approx(0, abs=1e-9)
    distance, azimuth = distance_bearing(lat, lon, lat2, lon2)
    back = Geodesic.WGS84.Inverse(lat, lon, float(lat2), float(lon2))
    assert distance == pytest.approx(back["s12"], abs=1e-6)
    assert angle_difference_deg(azimuth, back["azi1"]) == pytest.approx(0, abs=1e-5)
    assert 0 <= azimuth < 360


def test_inputs_broadcast_like_numpy() -> None:
    lats, lons = np.array([44.0, 45.0, 46.0]), np.array([[-71.0], [-72.0]])
    distance, azimuth = distance_bearing(44.5, -71.5, lats, lons)
    assert distance.shape == azimuth.shape == (2, 3)
    assert distance[1, 2] == distance_bearing(44.5, -71.5, 46.0, -72.0)[0]


def test_same_point_has_no_bearing() -> None:
    distance, azimuth = distance_bearing(44.0, -71.0, [44.0, 44.1], -71.0)
    assert distance[0] == 0
    assert math.isnan(azimuth[0])
    assert azimuth[1] == 0


@pytest.mark.parametrize(
    ("a", "b", "difference"),
    [(10, 350, 20), (350, 10, -20), (180, 0, -180), (0, 180, -180), (5, 5, 0)],
)
def test_angle_difference(a: float, b: float, difference: float) -> None:
    assert angle_difference_deg(a, b) == difference


@given(st.floats(-720, 720), st.floats(-720, 720))
def test_angle_difference_turns_b_into_a(a: float, b: float) -> None:
    turn = float(angle_difference_deg(a, b))
    assert -180 <= turn <= 180
    assert math.cos(math.radians(b + turn - a)) == pytest.approx(1)


@pytest.mark.parametrize(
    ("lat", "lon", "named"),
    [(95, 0, "latitude 95"), (0, 181, "longitude 181"), (math.nan, 0, "latitude nan")],
)
def test_check_lat_lon(lat: float, lon: float, named: str) -> None:
    check_lat_lon(-90, 180)
    with pytest.raises(UsageError, match=named):
        check_lat_lon(lat, lon)


def box(lat: float, lon: float, north: float, east: float) -> tuple[tuple[float, float], ...]:
    return (lon, lat), (lon + east, lat), (lon + east, lat + north), (lon, lat + north)


BOX = Polygon((box(44.0, -71.0, 0.01, 0.01),))
RING = Polygon((box(44.0, -71.0, 0.01, 0.01), box(44.004, -70.996, 0.002, 0.002)))


def geodesic_hectares(ring: tuple[tuple[float, float], ...]) -> float:
    outline = Geodesic.WGS84.Polygon()
    for lon, lat in ring:
        outline.AddPoint(lat, lon)
    return abs(outline.Compute()[2]) / 1e4


def test_area_size_like_geographiclib() -> None:
    assert area_hectares(BOX) == pytest.approx(geodesic_hectares(BOX.rings[0]), rel=1e-6)
    hole = geodesic_hectares(RING.rings[1])
    assert area_hectares(RING) == pytest.approx(area_hectares(BOX) - hole, rel=1e-6)
    round_ring = circle_ring(Circle(44.0, -71.0, 200.0), 720)
    assert area_hectares(Circle(44.0, -71.0, 200.0)) == pytest.approx(
        geodesic_hectares(round_ring), rel=1e-4
    )


def test_rings_order_and_direction_do_not_matter() -> None:
    turned = Polygon(tuple(ring[::-1] for ring in RING.rings[::-1]))
    assert area_hectares(turned) == pytest.approx(area_hectares(RING), rel=1e-9)


def test_parts_holes_and_islands() -> None:
    island = box(44.0045, -70.9955, 0.001, 0.001)
    away = box(44.02, -71.0, 0.001, 0.001)
    area = Polygon((*RING.rings, island, away))
    parts = geodesic_hectares(island) + geodesic_hectares(away)
    assert area_hectares(area) == pytest.approx(area_hectares(RING) + parts, rel=1e-6)
    lats, lons = (
        np.array([44.0042, 44.005, 44.0205, 44.001]),
        np.array([-70.995, -70.995, -70.9995, -70.999]),
    )
    inside = distance_to_area(area, lats, lons) == 0
    assert inside.tolist() == [False, True, True, True]


def test_overlapping_parts_count_once() -> None:
    twice = Polygon((BOX.rings[0], box(44.005, -71.0, 0.01, 0.01)))
    whole = Polygon((box(44.0, -71.0, 0.015, 0.01),))
    assert area_hectares(twice) == pytest.approx(area_hectares(whole), rel=1e-6)


def test_area_across_the_date_line() -> None:
    fiji = Polygon((((179.99, -17.0), (-179.99, -17.0), (-179.99, -16.99), (179.99, -16.99)),))
    lat, lon = area_center(fiji)
    assert lat == pytest.approx(-16.995, abs=1e-4)
    assert abs(lon) == pytest.approx(180, abs=1e-6)
    assert area_hectares(fiji) == pytest.approx(geodesic_hectares(fiji.rings[0]), rel=1e-5)
    assert distance_to_area(fiji, -16.995, 180.0) == 0


def test_distance_to_polygon_is_geodesic() -> None:
    # The nearest point of a densely cut outline, by an independent library, up to 50 km away.
    edge = [
        (BOX.rings[0][i][0] + t * (BOX.rings[0][(i + 1) % 4][0] - BOX.rings[0][i][0]),
         BOX.rings[0][i][1] + t * (BOX.rings[0][(i + 1) % 4][1] - BOX.rings[0][i][1]))
        for i in range(4)
        for t in np.linspace(0, 1, 101)
    ]  # fmt: skip
    for lat, lon in [(44.02, -70.995), (43.9, -71.2), (44.3, -70.5), (44.005, -71.01)]:
        nearest = min(Geodesic.WGS84.Inverse(lat, lon, b, a)["s12"] for a, b in edge)
        assert distance_to_area(BOX, lat, lon) == pytest.approx(nearest, rel=2e-5, abs=0.1)


def test_distance_to_circle() -> None:
    circle = Circle(44.0, -71.0, 150.0)
    lats, lons = destination(44.0, -71.0, [0, 90, 200, 300], [0, 149.9, 150.1, 1150])
    np.testing.assert_allclose(distance_to_area(circle, lats, lons), [0, 0, 0.1, 1000], atol=1e-6)


@given(st.floats(-80, 80), LONS, st.floats(1, 5000))
def test_circle_ring_is_closed_and_on_the_circle(lat: float, lon: float, radius: float) -> None:
    circle = Circle(lat, lon, radius)
    ring = circle_ring(circle, 12)
    assert len(ring) == 13
    assert ring[0] == ring[-1]
    lons, lats = np.array(ring).T
    np.testing.assert_allclose(distance_to_area(circle, lats, lons), 0, atol=1e-6)
    np.testing.assert_allclose(distance_bearing(lat, lon, lats, lons)[0], radius, atol=1e-6)


def test_area_center() -> None:
    assert area_center(Circle(44.0, -71.0, 150.0)) == (44.0, -71.0)
    assert area_center(BOX) == pytest.approx((44.005, -70.995), abs=1e-6)


@pytest.mark.parametrize(
    "rings",
    [
        (),
        ((),),
        (((0.0, 0.0), (1.0, 1.0)),),
        (((0.0, 0.0), (0.0, 1.0), (0.0, 2.0)),),
        (box(95, 0, 1, 1),),
    ],
)
def test_outline_that_encloses_nothing_is_refused(
    rings: tuple[tuple[tuple[float, float], ...], ...],
) -> None:
    with pytest.raises(UsageError, match=r"outline|latitude"):
        area_hectares(Polygon(rings))


def test_a_million_pairs_at_once_give_what_each_gives_alone() -> None:
    lats = np.linspace(44, 45, 1_000_000)
    distance, _ = distance_bearing(44.5, -71.5, lats, -71.0)
    assert distance.shape == (1_000_000,)
    assert distance[500] == distance_bearing(44.5, -71.5, lats[500], -71.0)[0]
