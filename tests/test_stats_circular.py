"""Directions and axes against worked examples and scipy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from camsign.stats.circular import (
    Directions,
    directions,
    mean_direction,
    mean_half_width_deg,
    no_narrower,
    rayleigh,
    readings_half_width_deg,
)
from camsign.stats.estimate import Estimate

# J. H. Zar, Biostatistical analysis (2010), examples 26.2, 26.4 and 27.1.
ZAR = [45, 55, 81, 96, 110, 117, 132, 154]
ANGLES = st.lists(st.floats(0, 360), min_size=2, max_size=40)


def test_zar_directed() -> None:
    got = directions(ZAR)
    assert got.n == 8
    assert got.r == pytest.approx(0.82522, abs=5e-6)
    assert got.mean_deg.value == pytest.approx(98.99, abs=5e-3)
    assert got.z == pytest.approx(5.448, abs=5e-4)
    assert got.p is not None
    assert 0.001 < got.p < 0.002


def test_zar_interval_of_the_mean() -> None:
    # Zar 2010, p. 619: 99° with 95% limits 68° and 130°, as quoted in a circular library's tests.
    mean = directions(ZAR).mean_deg
    assert (mean.low, mean.high) == pytest.approx((68, 130), abs=0.5)


def test_undirected_by_another_library() -> None:
    # A circular-statistics library's test: z = 1.236, p = 0.304844; mean and r computed (C).
    got = directions(np.degrees([0.785, 1.570, 3.141, 0.839, 5.934]))
    assert (got.z, got.p) == (pytest.approx(1.236, abs=5e-4), pytest.approx(0.304844, abs=5e-7))
    assert (got.mean_deg.value, got.r) == (
        pytest.approx(58.04, abs=5e-3),
        pytest.approx(0.49723, abs=5e-6),
    )
    # With so little agreement nothing bounds the mean.
    assert (got.mean_deg.low, got.mean_deg.high) == (None, None)


def test_r_circstats_examples() -> None:
    # R CircStats, p. 23, as in astropy's tests: mean 48.63°, 1 - r = 0.1635635.
    mean, r, n = mean_direction([51, 67, 40, 109, 31, 358])
    assert (mean, n) == (pytest.approx(48.63, abs=5e-3), 6)
    assert r == pytest.approx(1 - 0.1635635, abs=5e-8)
    # R CircStats r.test: r = 0.9202565; its p = 0.00640418 comes from another approximation.
    got = directions([190.18, 175.48, 155.95, 217.83, 156.36])
    assert got.r == pytest.approx(0.9202565, abs=5e-8)
    assert got.p == pytest.approx(0.00640418, rel=0.1)


@pytest.mark.parametrize(
    ("angles", "mean", "r", "z", "p"),
    # Computed once with astropy 8.0.2 (circmean, circvar, vonmisesmle) and pingouin 0.7.0
    # (circ_mean, circ_r, circ_rayleigh), which agree on mean and r. Neither is needed to test.
    [
        ([13, 28, 41, 352, 7, 66, 19, 330, 24, 48, 2, 37],
         20.734234946276942, 0.9083144884077401, 9.900422518216976, 2.8689985706563384e-06),
        ([200, 215, 188, 240, 171, 203, 229, 199],
         205.57969300886415, 0.9366673159890238, 7.018765286736653, 0.00012652515455355385),
    ],
)  # fmt: skip
def test_astropy_and_pingouin(
    angles: list[float], mean: float, r: float, z: float, p: float
) -> None:
    got = directions(angles)
    assert (got.mean_deg.value, got.r) == (pytest.approx(mean), pytest.approx(r))
    assert (got.z, got.p) == (pytest.approx(z), pytest.approx(p))


@given(ANGLES)
def test_mean_like_scipy(angles: list[float]) -> None:
    mean, r, _ = mean_direction(angles)
    assert r == pytest.approx(1 - stats.circvar(np.radians(angles)), abs=1e-9)
    if mean is not None and r is not None and r > 1e-6:
        theirs = stats.circmean(angles, high=360)
        assert np.cos(np.radians(mean - theirs)) == pytest.approx(1)
        assert 0 <= mean < 360


@given(ANGLES, st.floats(-360, 360))
def test_turning_all_turns_the_mean_and_nothing_else(angles: list[float], turn: float) -> None:
    one, other = directions(angles), directions(np.array(angles) + turn)
    assert other.r == pytest.approx(one.r, abs=1e-9)
    assert other.p == pytest.approx(one.p, abs=1e-6)
    if one.r is not None and one.r > 1e-6 and one.mean_deg.value is not None:
        assert other.mean_deg.value is not None
        off = np.radians(other.mean_deg.value - one.mean_deg.value - turn)
        assert np.cos(off) == pytest.approx(1)


@given(ANGLES, st.data())
def test_axes_do_not_care_which_end_was_said(angles: list[float], data: st.DataObject) -> None:
    ends = data.draw(
        st.lists(st.sampled_from([0, 180]), min_size=len(angles), max_size=len(angles))
    )
    one, other = directions(angles, axial=True), directions(np.array(angles) + ends, axial=True)
    assert other.r == pytest.approx(one.r, abs=1e-9)
    if one.mean_deg.value is not None:
        assert 0 <= one.mean_deg.value < 180


def test_axes_through_north() -> None:
    got = directions([350, 170, 10, 190, 355, 5, 185, 175], axial=True)
    assert got.mean_deg.value == pytest.approx(0, abs=1e-9) or got.mean_deg.value == pytest.approx(
        180
    )
    assert got.mean_deg.low is not None
    assert got.mean_deg.high is not None
    # Clockwise from low to high, through north.
    assert 170 < got.mean_deg.low < 180
    assert 0 < got.mean_deg.high < 10
    # The same ends as directions point nowhere.
    assert directions([350, 170, 10, 190, 355, 5, 185, 175]).r == pytest.approx(0, abs=1e-9)


def test_rayleigh_p_against_simulation() -> None:
    # Uniform directions: the share of samples with p below 0.05 and 0.2 is 0.05 and 0.2.
    rng = np.random.default_rng(7)
    angles = rng.uniform(0, 2 * np.pi, (20_000, 10))
    r = np.abs(np.exp(1j * angles).mean(axis=1))
    p = np.array([rayleigh(float(x), 10)[1] for x in r])
    assert np.mean(p < 0.05) == pytest.approx(0.05, abs=0.006)
    assert np.mean(p < 0.20) == pytest.approx(0.20, abs=0.011)


@pytest.mark.parametrize(
    ("strength", "n"), [(1, 40), (1, 8), (2, 20), (2, 5), (4, 12), (8, 3), (12, 8), (50, 4)]
)
def test_interval_holds_the_true_mean(strength: float, n: int) -> None:
    # scipy draws the von Mises samples; the interval is approximate: 95% within 2 points.
    rng = np.random.default_rng(11)
    angles = stats.vonmises(strength).rvs((4000, n), random_state=rng)
    mean = np.exp(1j * angles).mean(axis=1)
    half = [mean_half_width_deg(float(r), n) for r in np.abs(mean)]
    off = np.abs(np.degrees(np.angle(mean)))
    held = [h is None or o <= h for o, h in zip(off, half, strict=True)]
    assert np.mean(held) == pytest.approx(0.95, abs=0.02)


def test_edges() -> None:
    nothing = Estimate(None, None, None)
    assert directions([]) == Directions(0, nothing, None, None, None)
    opposite = directions([0, 180])
    assert (opposite.mean_deg, opposite.r) == (nothing, 0.0)
    assert opposite.p == pytest.approx(1, abs=1e-9)
    same = directions([30, 30, 30])
    assert same.r == 1.0
    assert same.mean_deg == Estimate(*(pytest.approx(30),) * 3)


def test_a_mean_of_read_arrows_is_no_narrower_than_its_readings() -> None:
    # The same arrow five times is off the same way five times: 60 degrees either way.
    same = [275.0] * 5
    found = no_narrower(directions(same), readings_half_width_deg(same))
    assert (found.low, found.high) == (pytest.approx(215), pytest.approx(335))
    # Nine different bearings average out: 60 / 3, and around north it runs through zero.
    many = [float(x % 360) for x in range(352, 361)]
    found = no_narrower(directions(many), readings_half_width_deg(many))
    assert found.value is not None and found.low is not None and found.high is not None
    assert ((found.value - found.low) % 360, (found.high - found.value) % 360) == (
        pytest.approx(20),
        pytest.approx(20),
    )
    # The middle is the one that scipy.stats.circmean gives.
    from scipy.stats import circmean

    assert found.value == pytest.approx(float(circmean(many, high=360)) % 360)
    # What nothing bounded stays unbounded, and what is wider stays as wide.
    apart = [10.0, 130.0, 250.0, 20.0]
    assert no_narrower(directions(apart), 30.0) == directions(apart).mean_deg
