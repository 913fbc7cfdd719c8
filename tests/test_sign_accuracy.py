"""Beds over many invented properties, and how often a region holds its bed; a sample by default."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from accuracy_sign import ONE_BED, outcomes
from sign_world import Kind

from camsign.sign.origin_likelihood import Law


@pytest.mark.parametrize("n", [3, pytest.param(200, marks=pytest.mark.long)])
def test_beds_of_ten_rubs_are_found_within_30_m_and_an_edge_is_none(n: int) -> None:
    """The aim: 95% of beds with ten or more rubs, an edge called bedding on under 2%."""
    done = outcomes(Kind(), Law(), n, 40_000, alone=n < 10)
    errors = np.array([e for o in done for e in o.errors])
    assert np.mean(errors <= 30) >= (0.95 if n >= 200 else 0.8)
    assert np.mean([o.on_edge for o in done]) < 0.02


@pytest.mark.long
@pytest.mark.parametrize(
    ("kappa", "least", "most"), [(5.0, 0.93, 0.97), (3.0, 0.91, 0.97), (8.0, 0.93, 0.99)]
)
def test_a_region_holds_its_bed_in_95_of_100_cases(kappa: float, least: float, most: float) -> None:
    """1,000 single beds of 10 to 40 rubs; the law is fitted to each property's own rubs.

    The aim is 93 to 97%; kappa is held to its default, so that where travel scatters more than
    usual the region is somewhat too small, and where it scatters less too large (docs/sign.md).
    """
    done = outcomes(replace(ONE_BED, kappa=kappa), Law(), 1000, 60_000)
    held = [h for o in done for h in o.held]
    assert len(held) > 900
    assert least <= np.mean(held) <= most
