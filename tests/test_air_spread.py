"""Where scent goes: bands of sigma-theta, light air's meander, and where a plume ends."""

from __future__ import annotations

import numpy as np
import pytest

from camsign.air.spread import (
    EDGE,
    SIGMA_DEG,
    scent,
    swing_deg,
    word_for,
)

# Lower bound of each class [deg], A to G, as the module's sources give them.
SIGMA_FROM_DEG = (22.5, 17.5, 12.5, 7.5, 3.8, 2.1, 0.0)


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


def test_wind_takes_scent_the_other_way_and_calm_air_every_way() -> None:
    assert scent(0, 5, 4).toward_deg == 180
    calm = scent(None, 0, 6)
    assert (calm.toward_deg, calm.half_width_deg) == (None, 180)


def test_words_by_chance() -> None:
    assert [word_for(c) for c in (0, 0.09, 0.1, 0.39, 0.4, 1)] == [
        "clean", "clean", "risky", "risky", "blown", "blown",
    ]  # fmt: skip
