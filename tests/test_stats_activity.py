"""Sun-anchored time and activity curves against published values and quadrature."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm, vonmises

from camsign.stats.activity import activity_curve, anchored_hours, bandwidth, kernel_density


def test_anchoring_example() -> None:
    # Sunrise 07:00, sunset 17:00, event 08:00 -> equinoctial 07:12: Nouvellet et al. 2012 and
    # Vazquez et al. 2019, piecewise linear; the example itself from memory.
    assert anchored_hours(60, -540) == pytest.approx(7.2)


@given(st.floats(200, 1240), st.floats(0, 1))
def test_anchors_stay_where_they_are(day_min: float, part: float) -> None:
    assert anchored_hours(0, -day_min) == pytest.approx(6)
    assert anchored_hours(day_min, 0) == pytest.approx(18)
    assert anchored_hours(part * day_min, (part - 1) * day_min) == pytest.approx(6 + 12 * part)
    night = 1440 - day_min
    late = float(anchored_hours(day_min + part * night / 2.01, part * night / 2.01))
    assert 18 - 1e-9 <= late <= 24
    early = float(anchored_hours(-part * night / 2.01, -day_min - part * night / 2.01))
    assert -1e-9 <= early <= 6 + 1e-9


@pytest.mark.parametrize("n", [5, 40, 300])
def test_density_integrates_to_one(n: int) -> None:
    angles = vonmises.rvs(2.0, size=n, random_state=np.random.default_rng(n))
    concentration = bandwidth(angles)
    area = quad(lambda x: kernel_density(angles, [x], concentration)[0], 0, 2 * np.pi, limit=200)
    assert area[0] == pytest.approx(1, abs=1e-6)


def test_kernel_is_scipys_von_mises() -> None:
    got = kernel_density([0.3], [0.1, 2.0, 5.0], 4.0)
    assert got == pytest.approx(vonmises.pdf([0.1, 2.0, 5.0], 4.0, loc=0.3), rel=1e-10)


def test_bandwidth_by_leaving_each_out() -> None:
    # Hall, Watson and Cabrera 1987, written out with scipy's density.
    angles = vonmises.rvs(6.0, size=40, random_state=np.random.default_rng(2))
    scores = {}
    for k in (1.0, 4.5, 13.0, 40.0):
        density = [
            np.mean([vonmises.pdf(x, k, loc=y) for j, y in enumerate(angles) if j != i])
            for i, x in enumerate(angles)
        ]
        scores[k] = np.log(density).sum()
    chosen = bandwidth(angles)
    assert 4.5 <= chosen <= 26
    assert max(scores, key=lambda k: scores[k]) in (4.5, 13.0)


def test_curve_finds_dawn_and_dusk_and_its_band_holds_the_truth() -> None:
    rng = np.random.default_rng(4)
    held = []
    for _ in range(40):
        hours = np.concatenate([rng.normal(6.5, 1.5, 60), rng.normal(17.5, 1.5, 60)]) % 24
        curve = activity_curve(hours, seed=int(rng.integers(99)))
        peaks = curve.hours[np.argsort(curve.share)[-4:]]
        assert all(min(abs(p - 6.5), abs(p - 17.5)) < 2 for p in peaks)
        assert (curve.share * 24 / 48).sum() == pytest.approx(1, abs=1e-3)
        truth = (norm.pdf(curve.hours, 6.5, 1.5) + norm.pdf(curve.hours, 17.5, 1.5)) / 2
        held.append(((curve.low <= truth) & (truth <= curve.high))[truth > 0.02].mean())
    # Pointwise; smoothing flattens the peaks a little, so somewhat below the nominal 95 %.
    assert np.mean(held) > 0.85


def test_the_band_narrows_with_events() -> None:
    rng = np.random.default_rng(5)
    widths = [
        float(
            np.mean(np.subtract(*(lambda c: (c.high, c.low))(activity_curve(rng.normal(7, 2, n)))))
        )
        for n in (12, 400)
    ]
    assert widths[1] < widths[0] / 2
