"""Neighbors by the KD-tree: the same pairs as measuring every one, anywhere on earth."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign import geo
from camsign.geo import Places, distance_bearing

Spots = list[tuple[float, float]]
spots = st.lists(st.tuples(st.floats(-90, 90), st.floats(-180, 180)), min_size=1, max_size=8)
jumps = st.lists(st.tuples(st.floats(-0.05, 0.05), st.floats(-0.5, 0.5)), min_size=8, max_size=8)


def found(where: Spots, near: Spots, limit_m: float, at_once: int) -> dict[tuple[int, int], float]:
    """The pairs that the tree gives, each with its distance [m]."""
    parts = Places(*zip(*near, strict=True)).near(*zip(*where, strict=True), limit_m, at_once)
    order = [
        (int(i), int(j), float(m)) for a, b, c, _ in parts for i, j, m in zip(a, b, c, strict=True)
    ]
    assert order == sorted(order)
    return {(i, j): m for i, j, m in order}


@pytest.mark.parametrize("few", [0, 20_000])
@given(where=spots, jump=jumps, limit_m=st.floats(0, 5000), at_once=st.integers(1, 99))
def test_the_tree_finds_what_measuring_every_pair_finds(
    few: int, where: Spots, jump: Spots, limit_m: float, at_once: int
) -> None:
    # Also across the date line and the poles, where degrees are of no help.
    near = [
        (min(max(lat + a, -90), 90), (lon + b + 180) % 360 - 180)
        for (lat, lon), (a, b) in zip(where, jump, strict=False)
    ]
    one, other = np.array(where), np.array(near)
    meters, _ = distance_bearing(one[:, :1], one[:, 1:], other[:, 0], other[:, 1])
    expected = {(int(i), int(j)): meters[i, j] for i, j in np.argwhere(meters <= limit_m)}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(geo, "_FEW", few)
        assert found(where, near, limit_m, at_once) == pytest.approx(expected)


def test_few_places_need_no_tree() -> None:
    code = (
        "import sys; from camsign.geo import Places;"
        "near = list(Places([44.6], [-71.2]).near([44.601], [-71.2], 500));"
        "assert len(near[0][0]) == 1 and 'scipy' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_only_near_pairs_are_measured(monkeypatch: pytest.MonkeyPatch) -> None:
    measured: list[int] = []
    real = geo.distance_bearing

    def counting(lat1, lon1, lat2, lon2):  # type: ignore[no-untyped-def]
        measured.append(len(lat1))
        return real(lat1, lon1, lat2, lon2)

    monkeypatch.setattr(geo, "distance_bearing", counting)
    where = np.random.default_rng(3).uniform([44, -72], [45, -71], (2000, 2))
    near = found(where[:50].tolist(), where.tolist(), 2000, 500_000)
    assert 0 < sum(measured) <= 1.01 * len(near)


def test_a_place_is_as_near_as_the_reach_says() -> None:
    # One degree of the equator is 111,319.491 m long on WGS 84 (its radius times pi / 180).
    meters = 6_378_137.0 * np.pi / 180
    assert found([(0.0, 0.0)], [(0.0, 1.0)], meters + 1e-3, 9) == pytest.approx({(0, 0): meters})
    assert found([(0.0, 0.0)], [(0.0, 1.0)], meters - 1e-3, 9) == {}
