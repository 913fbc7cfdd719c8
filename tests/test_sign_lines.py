"""Rub lines: chained by distance and direction, whichever way each rub was made."""

from __future__ import annotations

import io
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from camsign.derive.opening import open_logbook
from camsign.geo import destination, distance_bearing
from camsign.logbook.folder import create
from camsign.sign.chains import Chain, chains
from camsign.sign.heading import SaidHeading
from camsign.sign.lines import SURE, RubTable, _row, line_tracks, lines_of, sign_lines
from camsign.sign.origin_likelihood import Rubs
from camsign.sign.plane import plane_at
from camsign.sign.record import SaidSighting, add_sign
from camsign.units import Bearing

HERE = (44.2, -71.4)


def straight(n: int, way_deg: float, step: float = 40.0, wobble: float = 0.0) -> Rubs:
    rng = np.random.default_rng(1)
    far, way = np.arange(n) * step, np.radians(way_deg)
    travel = way + rng.normal(0, np.radians(wobble), n)
    return Rubs(far * np.sin(way), far * np.cos(way), travel)


def test_a_line_is_one_chain_in_the_order_of_travel() -> None:
    rubs = straight(7, 60)
    (chain,) = chains(rubs)
    assert chain.rubs == tuple(range(7)) and all(chain.agrees)
    back = Rubs(rubs.east, rubs.north, rubs.travel + np.pi)
    (chain,) = chains(back)
    assert chain.rubs == tuple(reversed(range(7))) and all(chain.agrees)


def test_rubs_made_on_the_way_back_belong_to_the_line() -> None:
    rubs = straight(7, 200)
    rubs.travel[[2, 5]] += np.pi
    (chain,) = chains(rubs)
    assert chain.rubs == tuple(range(7))
    assert [i for i, agrees in zip(chain.rubs, chain.agrees, strict=True) if not agrees] == [2, 5]


def test_what_lies_too_far_or_points_elsewhere_is_no_line() -> None:
    assert chains(straight(7, 60, step=180.0)) == []
    rubs = straight(7, 60)
    assert chains(Rubs(rubs.east, rubs.north, rubs.travel + np.pi / 2)) == []
    assert chains(straight(2, 60)) == []


def test_lines_that_cross_stay_two() -> None:
    a, b = straight(9, 0), straight(9, 90)
    rubs = Rubs(
        np.concatenate([a.east, b.east - 150]),
        np.concatenate([a.north, b.north + 150]),
        np.concatenate([a.travel, b.travel]),
    )
    assert sorted(tuple(sorted(c.rubs)) for c in chains(rubs)) == [
        tuple(range(9)),
        tuple(range(9, 18)),
    ]


def test_a_ring_is_walked_once() -> None:
    out = np.arange(12) * np.pi / 6
    rubs = Rubs(60 * np.sin(out), 60 * np.cos(out), out + np.pi / 2)
    (chain,) = chains(rubs)
    assert sorted(chain.rubs) == list(range(12))


def test_scattered_rubs_make_few_and_short_lines() -> None:
    rng = np.random.default_rng(2)
    rubs = Rubs(*rng.uniform(0, 1500, (2, 135)), rng.uniform(0, 2 * np.pi, 135))
    found = chains(rubs)
    assert sum(len(c.rubs) for c in found) < 30
    assert max((len(c.rubs) for c in found), default=0) <= 5


def test_a_line_is_told_from_what_chance_chains() -> None:
    # 60 rubs on a square kilometer of woods, and nine along a way, 110 m apart, off by 10 degrees.
    found, false = 0, 0
    for seed in range(20):
        rng = np.random.default_rng(seed)
        loose = Rubs(*rng.uniform(-500, 500, (2, 60)), rng.uniform(0, 2 * np.pi, 60))
        line = straight(9, 225, step=110.0, wobble=10.0)
        rubs = [
            (*plane_at(*HERE).to_degrees(east, north), float(np.degrees(travel)))
            for some in (loose, line)
            for east, north, travel in zip(some.east, some.north, some.travel, strict=True)
        ]
        sure = [row for row in lines_of(table(rubs)) if row.by_chance <= SURE]
        found += any(abs((row.heading_deg.value or 0) - 225) < 12 and row.rubs >= 7 for row in sure)
        false += any(row.by_chance <= SURE for row in lines_of(table(rubs[:60])))
    assert found >= 14
    assert false <= 3  # one in twenty is expected


def table(rubs_deg: list[tuple[float, float, float]]) -> RubTable:
    lat, lon, travel = (np.array(c) for c in zip(*rubs_deg, strict=True))
    return RubTable([f"s-{i:08x}" for i in range(len(lat))], lat, lon, travel)


def test_length_and_ends_of_a_line() -> None:
    lats, lons = destination(HERE[0], HERE[1], 99.0, np.arange(8) * 30.0)
    (line,) = lines_of(table([(a, o, 99.0) for a, o in zip(lats, lons, strict=True)]))
    assert line.length_m == pytest.approx(210, abs=0.05)
    assert line.start == pytest.approx(HERE, abs=1e-7)
    for end, beyond, way in ((line.start, line.came_from, 279.0), (line.end, line.goes_to, 99.0)):
        distance, bearing = distance_bearing(*end, *beyond)
        assert distance == pytest.approx(300, abs=0.1)
        assert bearing == pytest.approx(way, abs=0.1)


def test_the_heading_of_a_line_is_the_circular_mean_of_its_travels() -> None:
    # Zar, Biostatistical analysis, 2010, example 26.2: mean 98.99 degrees, r = 0.82522.
    travel = np.radians([45, 55, 81, 96, 110, 117, 132, 154])
    turned = np.where(np.arange(8) % 3 == 0, travel + np.pi, travel)
    agrees = tuple(bool(i % 3) for i in range(8))
    rubs = Rubs(np.arange(8) * 20.0, np.zeros(8), turned)
    line = _row(Chain(tuple(range(8)), agrees), rubs, [str(i) for i in range(8)], plane_at(*HERE))
    assert line.heading_deg.value == pytest.approx(98.99, abs=0.01)
    assert line.r == pytest.approx(0.82522, abs=1e-5)
    assert line.against == 3
    assert line.heading_deg.low is not None and line.heading_deg.high is not None
    assert line.heading_deg.low < 98.99 < line.heading_deg.high


def test_a_line_becomes_a_track_that_gpxpy_reads() -> None:
    import gpxpy

    from camsign.formats.gpx import write_gpx

    lats, lons = destination(HERE[0], HERE[1], 99.0, np.arange(5) * 30.0)
    lines = lines_of(table([(a, o, 99.0) for a, o in zip(lats, lons, strict=True)]))
    text = io.StringIO()
    write_gpx([], line_tracks(lines), text)
    (track,) = gpxpy.parse(text.getvalue()).tracks
    assert track.name == "L1 going 99 (5 rubs)" and len(track.segments[0].points) == 7
    assert track.segments[0].points[1].latitude == pytest.approx(HERE[0])


def test_lines_of_a_logbook(tmp_path: Path) -> None:
    folder = create(tmp_path / "hollow", "America/New_York", HERE, "imperial")
    assert lines_of(table([(44.2, -71.4, 10.0)])) == []
    with open_logbook(folder) as session:
        assert sign_lines(session) == []
        for i in range(4):
            lat, lon = (float(x) for x in destination(*HERE, 30.0, 40.0 * i))
            seen = SaidSighting(date(2026, 3, 14), heading=SaidHeading(Bearing(30.0)))
            add_sign(session, "rub", (lat, lon), seen)
        add_sign(
            session,
            "rub",
            HERE,
            SaidSighting(date(2024, 11, 1), heading=SaidHeading(Bearing(30.0))),
        )
    with open_logbook(folder) as session:
        (line,) = sign_lines(session, season=2025)
        assert (line.rubs, line.against) == (4, 0)
        assert line.heading_deg.value == pytest.approx(30)
        assert sign_lines(session, season=2024) == []
