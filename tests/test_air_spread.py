"""Where scent goes: bands of sigma-theta, light air's meander, and the chance by simulation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.air.spread import (
    EDGE,
    SCENT_REACH_M,
    SIGMA_DEG,
    SIGMA_FROM_DEG,
    chance_scented,
    scent,
    swing_deg,
    word_for,
)


def test_each_class_lies_inside_its_band() -> None:
    upper = (np.inf, *SIGMA_FROM_DEG[:-1])
    for value, low, high in zip(SIGMA_DEG, SIGMA_FROM_DEG, upper, strict=True):
        assert low <= value < high


def test_a_plumes_edge_is_where_a_tenth_is_left() -> None:
    # Gaussian: exp(-z²/2) = 0.1 at z = 2.146.
    assert np.exp(-(EDGE**2) / 2) == pytest.approx(0.1, abs=0.002)


def test_still_night_air_swings_wider_in_light_wind_than_its_class_says() -> None:
    assert swing_deg(7, 0.6) > 30
    assert swing_deg(7, 6.0) < 6


@pytest.mark.parametrize(("bearing", "least", "most"), [(0, 0, 0.05), (180, 0.6, 1), (90, 0, 0.2)])
def test_a_north_wind_takes_scent_south(bearing: float, least: float, most: float) -> None:
    stream = scent(0, 5, 4)
    assert least <= chance_scented(stream, bearing, 100) <= most


def test_calm_air_takes_scent_every_way_and_nothing_past_its_reach() -> None:
    calm = scent(None, 0, 6)
    assert {chance_scented(calm, b, 50) for b in range(0, 360, 30)} == {1.0}
    assert chance_scented(calm, 0, SCENT_REACH_M + 1) == 0


@given(st.floats(0, 359), st.floats(1, 12), st.integers(1, 7), st.floats(-180, 180))
def test_the_chance_is_what_drawn_winds_give(
    wind: float, speed: float, stability: int, off: float
) -> None:
    stream = scent(wind, speed, stability)
    rng = np.random.default_rng(5)
    middle = wind + 180 + rng.normal(0, stream.doubt_deg, 40_000)
    bearing = (wind + 180 + off) % 360
    away = np.abs((bearing - middle + 180) % 360 - 180)
    drawn = float(np.mean(away <= stream.half_width_deg))
    assert chance_scented(stream, bearing, 100) == pytest.approx(drawn, abs=0.02)


@given(st.floats(0, 359), st.floats(0, 15), st.integers(1, 7), st.floats(0, 180))
def test_left_and_right_of_the_wind_are_alike(
    wind: float, speed: float, stability: int, off: float
) -> None:
    stream = scent(wind, speed, stability)
    left, right = (chance_scented(stream, (wind + 180 + s * off) % 360, 80) for s in (1, -1))
    assert left == pytest.approx(right, abs=1e-9)


def test_words_by_chance() -> None:
    assert [word_for(c) for c in (0, 0.09, 0.1, 0.39, 0.4, 1)] == [
        "clean", "clean", "risky", "risky", "blown", "blown",
    ]  # fmt: skip
