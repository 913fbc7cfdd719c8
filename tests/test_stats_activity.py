"""Sun-anchored time and activity curves against published values and quadrature."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm, vonmises

from camsign.stats.activity import activity_curve, anchored_hours


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


def _truth(kind: int, hours: np.ndarray) -> np.ndarray:
    """Densities per hour that no smoother was tuned on: dawn and dusk, one sharp peak, night."""
    angles = hours * np.pi / 12

    def peak(hour: float, kappa: float) -> np.ndarray:
        return np.asarray(vonmises.pdf(angles, kappa, loc=hour * np.pi / 12)) * np.pi / 12

    return (
        0.5 * peak(6.2, 10) + 0.4 * peak(18.1, 16) + 0.1 / 24,
        0.7 * peak(17.6, 20) + 0.3 * peak(5, 3),
        0.6 * peak(23, 3) + 0.4 * peak(3, 5),
    )[kind]


def share_held(n: int, seasons: int, seed: int) -> float:
    """Give the share of points at which the band of `n` visits holds the truth."""
    rng, fine, held = np.random.default_rng(seed), (np.arange(2400) + 0.5) / 100, []
    for i in range(seasons):
        chances = _truth(i % 3, fine)
        curve = activity_curve(rng.choice(fine, n, p=chances / chances.sum()), draws=600)
        truth = _truth(i % 3, np.asarray(curve.hours, dtype=float))
        held.append(float(((curve.low <= truth) & (truth <= curve.high)).mean()))
    return float(np.mean(held))


def test_the_band_holds_the_truth() -> None:
    # By bootstrap with a fixed width it held 44 to 84% of points.
    assert share_held(30, 12, 3) > 0.88


@pytest.mark.long
@pytest.mark.parametrize(("n", "least"), [(8, 0.85), (15, 0.91), (40, 0.92), (100, 0.92)])
def test_the_band_holds_the_truth_in_many_seasons(n: int, least: float) -> None:
    assert share_held(n, 120, 7) > least


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
    assert np.mean(held) > 0.9


def test_the_band_narrows_with_events() -> None:
    rng = np.random.default_rng(5)
    widths = [
        float(
            np.mean(np.subtract(*(lambda c: (c.high, c.low))(activity_curve(rng.normal(7, 2, n)))))
        )
        for n in (12, 400)
    ]
    assert widths[1] < widths[0] / 2
