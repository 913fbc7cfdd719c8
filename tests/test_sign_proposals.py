"""Areas proposed from sign: what they are called, why, and that they can be drawn."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from io import StringIO
from pathlib import Path
from typing import TypeVar

import numpy as np
import pytest
from sign_world import Kind, World, invent

import camsign
from camsign.derive.opening import open_logbook
from camsign.errors import UsageError
from camsign.flows.fieldwork.accept_proposals import proposal_features, take_proposals
from camsign.formats.geojson import read_geojson, write_geojson
from camsign.geo import Circle, distance_bearing
from camsign.logbook.edits import SetFields
from camsign.logbook.folder import Folder, create
from camsign.logbook.session import Session
from camsign.places.areas import add_areas, areas
from camsign.sign.plane import plane_at
from camsign.sign.proposals import Proposal, around_in_words, propose
from camsign.sign.record import SaidSighting, add_sign
from camsign.sign.surroundings import Surroundings, WeightedPoints
from camsign.stats.estimate import rate_ratio

HERE = (44.2, -71.4)
PLANE = plane_at(*HERE)
T = TypeVar("T")


def do(folder: Folder, verb: Callable[[Session], T]) -> T:
    with open_logbook(folder) as session:
        return verb(session)


def say_sign(session: Session, world: World, extra: list[tuple[str, float, float]]) -> None:
    """Note the rubs of a world, half of them a season older, and other sign, in one act."""
    edits = []
    rows = list(zip(world.east, world.north, np.degrees(world.travel), strict=True))
    for i, (east, north, travel) in enumerate(rows):
        lat, lon = PLANE.to_degrees(east, north)
        day = date(2024 + i % 2, 11, 1).isoformat()
        edits.append(SetFields("sign", f"s-{i:08x}", {"kind": "rub", "lat": lat, "lon": lon}))
        edits.append(SetFields("sighting", f"g-{i:08x}", {
            "sign": f"s-{i:08x}", "seen_on": day, "travel_deg": float(travel)}))  # fmt: skip
    for i, (kind, east, north) in enumerate(extra):
        lat, lon = PLANE.to_degrees(east, north)
        edits.append(SetFields("sign", f"s-ee{i:06x}", {"kind": kind, "lat": lat, "lon": lon}))
        edits.append(SetFields("sighting", f"g-ee{i:06x}", {
            "sign": f"s-ee{i:06x}", "seen_on": "2025-11-01"}))  # fmt: skip
    session.say("noted a world", edits)


@pytest.fixture(scope="module")
def world() -> World:
    return invent(np.random.default_rng(3), Kind(beds=(2, 2), rubs=(20, 30), side=1200.0))


@pytest.fixture
def folder(tmp_path: Path, world: World) -> Folder:
    folder = create(tmp_path / "hollow", "America/New_York", HERE, "metric")
    bed, edge = world.beds[0], world.edges[0]
    extra = [("bed", bed[0] + x, bed[1]) for x in (-10.0, 0.0, 10.0)]
    extra += [("browse", edge[0] + x, edge[1]) for x in (-20.0, 20.0)]
    do(folder, lambda s: say_sign(s, world, extra))
    return folder


def at(world_point: tuple[float, ...], proposal: Proposal) -> float:
    lat, lon = PLANE.to_degrees(world_point[0], world_point[1])
    return float(distance_bearing(lat, lon, proposal.lat, proposal.lon)[0])


def test_hidden_beds_are_proposed_and_an_edge_is_a_place_on_the_way(
    folder: Folder, world: World
) -> None:
    found = do(folder, propose)
    assert [p.score for p in found] == sorted((p.score for p in found), reverse=True)
    bedding = [p for p in found if p.kind == "bedding"]
    for bed in world.beds:
        assert min(at(bed, p) for p in bedding) < 30
    assert all(at(world.edges[0], p) > 125 for p in bedding)
    (edge,) = [p for p in found if p.kind == "staging" and at(world.edges[0], p) < 60]
    assert edge.chance is None and edge.region_m is None
    assert any("browse at 2 and" in w for w in edge.why)
    assert any("can't tell a travel route" in w for w in edge.why)


def test_reasons_are_said_in_plain_words(folder: Folder, world: World) -> None:
    first = min(do(folder, propose), key=lambda p: at(world.beds[0], p))
    assert (first.kind, first.beds, first.seasons) == ("bedding", 3, 2)
    assert first.sectors_out >= 5 and first.region_m is not None
    assert first.density.low is not None and first.density.low > 1
    text = "; ".join(first.why)
    for words in (
        f"headed out, in {first.sectors_out} of the 8 directions",
        "(95%)",
        "luck",
        "3 beds were found here",
        "because you looked hard",
        "old and fresh together",
        "as many rubs within 75 m as in the woods around",
    ):
        assert words in text
    assert first.per_km is None
    assert Surroundings(units="imperial").length(75.0) == "82 yd"
    told = around_in_words(first, Surroundings(units="imperial"))
    assert any("within 82 yd as in the woods around" in w for w in told)


def test_walked_paths_make_a_rate(folder: Folder, world: World) -> None:
    def walk(session: Session) -> None:
        east, north, _ = world.beds[0]
        ends = [PLANE.to_degrees(east + x, north) for x in (-300.0, 300.0)]
        line = {"type": "LineString", "coordinates": [[lon, lat] for lat, lon in ends]}
        session.say("walked", [SetFields("walk", "w-00000001", {"name": "x", "shape": line})])

    do(folder, walk)
    first = min(do(folder, propose), key=lambda p: at(world.beds[0], p))
    assert first.per_km is not None and first.per_km.value is not None
    assert any("for every step you walked" in w for w in first.why)


@pytest.mark.thorough
def test_a_drawn_area_is_named_and_not_drawn_again(folder: Folder, world: World) -> None:
    rows = do(folder, take_proposals)
    proposed = do(folder, propose)
    assert len(rows) == len(proposed) == len(do(folder, areas))
    assert all(p.known_as is not None for p in proposed)
    assert do(folder, take_proposals) == []
    again = do(folder, lambda s: take_proposals(s, [proposed[0].area.upper()]))
    assert again[0].area == f"{proposed[0].area} 2"
    with pytest.raises(UsageError, match="no proposal 'x'"):
        do(folder, lambda s: take_proposals(s, ["x"]))


@pytest.mark.thorough
def test_a_trail_is_travel_until_they_ate_there(tmp_path: Path) -> None:
    folder = create(tmp_path / "trail", "America/New_York", HERE, "metric")
    rng = np.random.default_rng(12)
    along, across = np.arange(24) * 8.0 - 92.0, rng.normal(0, 4, 24)
    travel = rng.vonmises(0, 8, 24) + np.pi * (np.arange(24) % 2)
    do(folder, lambda s: say_sign(s, World(across, along, travel % (2 * np.pi), []), []))
    assert {p.kind for p in do(folder, propose)} == {"travel"}
    lat, lon = PLANE.to_degrees(5.0, 0.0)
    do(folder, lambda s: add_sign(s, "browse", (lat, lon), SaidSighting(date(2025, 11, 1))))
    (eaten,) = do(folder, propose)
    assert (eaten.kind, eaten.known_as) == ("staging", None)
    do(folder, lambda s: add_areas(s, [("feeding", "Low flat", Circle(lat, lon, 60.0))]))
    assert do(folder, propose)[0].known_as == "Low flat"


@pytest.mark.thorough
def test_one_season_only(folder: Folder) -> None:
    both, one = do(folder, propose), do(folder, lambda s: propose(s, 2025))
    assert max(p.seasons for p in one) <= max(p.seasons for p in both)
    assert max(p.rubs for p in one) < max(p.rubs for p in both)


def test_proposals_become_polygons_that_can_be_imported(folder: Folder, tmp_path: Path) -> None:
    found = do(folder, propose)
    text = StringIO()
    write_geojson(proposal_features(found), text)
    path = tmp_path / "p.geojson"
    path.write_text(text.getvalue(), encoding="utf-8")
    read = read_geojson(path)
    assert not read.troubles and [f.name for f in read.features] == [p.area for p in found]
    assert json.loads(text.getvalue())["features"][0]["properties"]["why"]


@pytest.mark.thorough
def test_in_python_it_is_a_table(folder: Folder) -> None:
    book = camsign.open(folder.root)
    areas_, lines, rubs = book.propose_areas(), book.sign_lines(), book.signs(kind="rub")
    assert len(areas_) == len(do(folder, propose))
    assert {"area", "kind", "score", "density", "density_low", "why"} <= set(areas_.columns)
    assert {"heading_deg", "heading_deg_low", "p", "against"} <= set(lines.columns)
    assert set(rubs["kind"]) == {"rub"} and rubs["made_from"].notna().all()


def test_nothing_is_proposed_without_rubs(tmp_path: Path) -> None:
    folder = create(tmp_path / "empty", "America/New_York", HERE, "metric")
    assert do(folder, propose) == []


def test_density_is_a_ratio_of_rates() -> None:
    """Penn State Deer-Forest Study: 183 to 580 rubs a km²; here 300 a km² around, 2000 within."""
    rng = np.random.default_rng(1)
    out = np.sqrt(rng.uniform(0, 1, 300)) * 300
    places = [PLANE.to_degrees(*p) for p in zip(out * 0.6, out * 0.8, strict=True)]
    near = [PLANE.to_degrees(float(x), 0.0) for x in np.linspace(-70, 70, 20)]
    points = WeightedPoints([(a, o, 1.0) for a, o in places + near])
    meters = [float(distance_bearing(*HERE, a, o)[0]) for a, o in places + near]
    here = sum(m <= 75 for m in meters)
    around = sum(75 < m <= 300 for m in meters)
    expected = rate_ratio(here, 75.0**2, around, 300.0**2 - 75.0**2)
    found = Surroundings({"rub": points}).density(HERE)
    assert found.value == pytest.approx(expected.value)
    assert found.low == pytest.approx(expected.low) and found.high == pytest.approx(expected.high)
