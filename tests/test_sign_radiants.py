"""Radiants: the likelihood against brute force, the scan against plain sums, and what is found.

Invented properties stand for truth here; tests/accuracy_sign.py measures more of them.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import minimize
from scipy.stats import vonmises
from sign_world import Kind, World, invent

from camsign.sign.origin_likelihood import Law, Rubs, density, fitted, gain, seen_from
from camsign.sign.plane import stretches
from camsign.sign.radiant_region import region
from camsign.sign.radiants import Search, chance_of, judged, least_gain, radiant_terms, sectors
from camsign.sign.scan import CELL_M, peaks


def rubs_of(world: World) -> Rubs:
    return Rubs(world.east, world.north, world.travel)


def found_in(rubs: Rubs, law: Law = Law()) -> tuple[Search, list]:  # type: ignore[type-arg]  # noqa: B008
    search = Search(rubs, law)
    search.run()
    clear = judged(search)
    least = least_gain(clear, chance_of(search))
    return search, [s for s in clear if s.gain >= least]


def test_density_is_scipys_von_mises_over_the_uniform_one() -> None:
    angle = np.linspace(-7, 7, 41)
    for kappa in (0.5, 4.0, 30.0):
        expected = 0.8 * vonmises.pdf(angle, kappa) + 0.2 * vonmises.pdf(angle + np.pi, kappa)
        assert_allclose(density(np.cos(angle), kappa, 0.2), 2 * np.pi * expected, rtol=1e-9)


def test_the_best_place_is_that_of_a_brute_force_likelihood() -> None:
    """Lenth's case: every rub belongs to the source and none is reversed."""
    rng = np.random.default_rng(4)
    for _ in range(20):
        out, far = rng.uniform(0, 2 * np.pi, 15), rng.uniform(20, 120, 15)
        rubs = Rubs(far * np.sin(out), far * np.cos(out), out + rng.vonmises(0, 8, 15))

        def minus_log(at: np.ndarray, rubs: Rubs = rubs) -> float:
            bearing = np.arctan2(rubs.east - at[0], rubs.north - at[1])
            return -float(vonmises.logpdf(rubs.travel - bearing, 8.0).sum())

        law = Law(kappa=8.0, inward=1e-9, odds=1e9, length_m=1e9, fix_m=1e-9)
        best = Search(rubs, law)._radiant(np.arange(15), 0.0, 0.0)
        brute = min(
            (minimize(minus_log, s, method="Nelder-Mead") for s in ([0, 0], [9, 9], [-9, -9])),
            key=lambda r: r.fun,
        )
        assert np.hypot(best.east - brute.x[0], best.north - brute.x[1]) < 2.5  # the finer grid
        assert best.gain == pytest.approx(-brute.fun + 15 * np.log(2 * np.pi), abs=0.1)


def test_the_scan_is_the_plain_sum_of_gains() -> None:
    rng = np.random.default_rng(5)
    law = Law()
    # Rubs in the middle of cells and at the scan's own bearings, so that nothing is rounded.
    cells = rng.integers(0, 30, (2, 40))
    rubs = Rubs(cells[0] * CELL_M, cells[1] * CELL_M, rng.integers(0, 16, 40) * np.pi / 8)
    weights = rng.uniform(0.1, 1, 40)
    found = peaks(rubs, weights, law, 0.5, axes=False)
    assert len(found) > 0
    for east, north, value in zip(found.east, found.north, found.gain, strict=True):
        corner = rubs.east.min() + CELL_M / 2, rubs.north.min() + CELL_M / 2
        at = east - corner[0] + rubs.east.min(), north - corner[1] + rubs.north.min()
        odds, dense = radiant_terms(rubs, at[0], at[1], law)
        nothing = np.zeros(len(rubs))
        plain = float((gain(odds, dense, nothing, nothing) * weights).sum())
        assert value == pytest.approx(plain, abs=1e-3)


def test_tiles_do_not_show() -> None:
    """The same rubs shifted against the tiles give the same peaks."""
    world = invent(np.random.default_rng(6))
    near = peaks(rubs_of(world), np.ones(len(world.east)), Law(), 3.0)
    far = Rubs(
        np.append(world.east, -4400.0), np.append(world.north, -3300.0), np.append(world.travel, 0)
    )
    shifted = peaks(far, np.ones(len(far)), Law(), 3.0)
    # Cells lie otherwise now; a peak may move by a cell and gain a little.
    assert len(near) == len(shifted) > 2
    for e, n, g in zip(near.east, near.north, near.gain, strict=True):
        i = int(np.hypot(shifted.east - e, shifted.north - n).argmin())
        assert np.hypot(shifted.east[i] - e, shifted.north[i] - n) < 4 * CELL_M
        assert shifted.gain[i] == pytest.approx(g, abs=1.5)


@pytest.mark.thorough
def test_beds_are_found_and_an_edge_is_none() -> None:
    rng = np.random.default_rng(7)
    worlds = [invent(rng, Kind(rubs=(12, 40))) for _ in range(12)]
    hits = beds = on_edge = stray = 0
    for world in worlds:
        _, found = found_in(rubs_of(world))
        beds += len(world.beds)
        for east, north, _ in world.beds:
            hits += any(np.hypot(s.east - east, s.north - north) < 30 for s in found)
        on_edge += any(world.on_edge(s.east, s.north) for s in found)
        stray += sum(world.bed_error(s.east, s.north)[0] > 75 for s in found)
    assert hits >= 0.9 * beds
    assert on_edge == 0
    assert stray <= 2


@pytest.mark.thorough
def test_rubs_without_a_source_give_next_to_nothing() -> None:
    rng = np.random.default_rng(8)
    found = 0
    for _ in range(10):
        east, north = rng.uniform(0, 1500, (2, 200))
        found += len(found_in(Rubs(east, north, rng.uniform(0, 2 * np.pi, 200)))[1])
    assert found <= 2


def test_one_line_of_rubs_is_no_bed() -> None:
    step = np.arange(12) * 20.0
    search, found = found_in(Rubs(step * np.sin(1.0), step * np.cos(1.0), np.full(12, 1.0)))
    assert found == []
    assert search.sources, "what it is stays an axis or a radiant that is not reported"


@pytest.mark.thorough
@pytest.mark.parametrize("turn", [0.0, 1.0, 2.5, 4.0])
def test_turning_the_property_turns_the_answer(turn: float) -> None:
    rng = np.random.default_rng(9)
    world = invent(rng, Kind(beds=(1, 1), rubs=(30, 30), edge=False, scattered=10))
    _, (straight,) = found_in(rubs_of(world))
    east = world.east * np.cos(turn) + world.north * np.sin(turn)
    north = -world.east * np.sin(turn) + world.north * np.cos(turn)
    _, (turned,) = found_in(Rubs(east, north, (world.travel + turn) % (2 * np.pi)))
    back_east = turned.east * np.cos(turn) - turned.north * np.sin(turn)
    back_north = turned.east * np.sin(turn) + turned.north * np.cos(turn)
    assert np.hypot(back_east - straight.east, back_north - straight.north) < 10


def test_sectors_count_who_goes_out_and_who_comes_in() -> None:
    out = np.arange(8) * np.pi / 4 + np.pi / 8
    travel = np.where(np.arange(8) < 6, out, out + np.pi)
    rubs = Rubs(50 * np.sin(out), 50 * np.cos(out), travel)
    search = Search(rubs, Law())
    source = search.best_at(0.0, 0.0)
    assert source is not None and source.axis is None
    search._add(source)
    assert np.hypot(source.east, source.north) < 15
    outward, inward = sectors(search, source)
    assert sum(outward) == 6 and outward[:6] == [1] * 6
    assert sum(inward) <= 2


def test_more_rubs_and_sharper_bearings_make_a_smaller_region() -> None:
    sizes = []
    for n, kappa in ((10, 4.0), (40, 4.0), (40, 16.0)):
        rng = np.random.default_rng(10)
        world = invent(rng, Kind(beds=(1, 1), rubs=(n, n), kappa=kappa, edge=False, scattered=5))
        search, found = found_in(rubs_of(world))
        law = fitted(search.rubs, [(s.east, s.north) for s in found], search.law)
        sizes.append(region(search, found[0], law).major_m)
    assert sizes[0] > sizes[1] > sizes[2]


def test_the_law_follows_the_rubs() -> None:
    rng = np.random.default_rng(11)
    worlds = {k: invent(rng, Kind(kappa=k, rubs=(40, 40), edge=False)) for k in (2.5, 12.0)}
    laws = {k: fitted(rubs_of(w), [b[:2] for b in w.beds], Law()) for k, w in worlds.items()}
    assert laws[2.5].kappa < laws[12.0].kappa
    assert fitted(rubs_of(worlds[2.5]), [], Law()) == Law()


def test_stretches_part_properties_and_keep_meters() -> None:
    from geographiclib.geodesic import Geodesic

    lat = np.array([44.2, 44.21, 44.2, 10.0, -16.5, -16.5])
    lon = np.array([-71.4, -71.4, -71.39, 20.0, 179.99, -179.99])
    parts = sorted(tuple(i.tolist()) for i, _ in stretches(lat, lon))
    assert parts == [(0, 1, 2), (3,), (4, 5)]
    for members, plane in stretches(lat, lon):
        east, north = plane.to_meters(lat[members], lon[members])
        for a in range(len(members)):
            back = plane.to_degrees(east[a], north[a])
            assert back == pytest.approx((lat[members[a]], lon[members[a]]), abs=1e-9)
            for b in range(a):
                i, j = members[a], members[b]
                true = Geodesic.WGS84.Inverse(lat[i], lon[i], lat[j], lon[j])["s12"]
                flat = np.hypot(east[a] - east[b], north[a] - north[b])
                assert flat == pytest.approx(true, rel=1e-6)


def test_seen_from_gives_the_cosine_of_travel_off_straight_away() -> None:
    rubs = Rubs(np.array([10.0, 0.0, 0.0]), np.array([0.0, -5.0, 0.0]), np.radians([90.0, 60, 0]))
    distance, cosine = seen_from(rubs, np.array(0.0), np.array(0.0))
    assert distance.tolist() == [10.0, 5.0, 0.0]
    assert cosine == pytest.approx([1.0, np.cos(np.radians(120.0)), 0.0])


def walked_both_ways(rng: np.random.Generator, around: bool) -> World:
    """A crossing of trails, or a food plot rubbed around: half the rubs point in, half out."""
    n = 30
    ways = np.arange(4) * np.pi / 2 + rng.uniform(0, 2 * np.pi)
    out = rng.uniform(0, 2 * np.pi, n) if around else ways[rng.integers(0, 4, n)]
    far = rng.normal(55, 12, n).clip(20) if around else rng.uniform(8, 150, n)
    travel = out + rng.vonmises(0, 5, n) + np.pi * (rng.random(n) < 0.5)
    scattered = rng.uniform(-500, 500, (2, 60))
    return World(
        np.concatenate([far * np.sin(out), scattered[0]]),
        np.concatenate([far * np.cos(out), scattered[1]]),
        np.concatenate([travel, rng.uniform(0, 2 * np.pi, 60)]) % (2 * np.pi),
        [],
    )


@pytest.mark.thorough
@pytest.mark.parametrize("around", [False, True])
def test_a_place_walked_to_and_from_is_no_bed(around: bool) -> None:
    """What rubs point at as often as away from is a crossing or a food plot."""
    false = 0
    for seed in range(8):
        _, found = found_in(rubs_of(walked_both_ways(np.random.default_rng([seed, 31]), around)))
        false += any(np.hypot(s.east, s.north) < 100 for s in found)
    assert false <= 1
