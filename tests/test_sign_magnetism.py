"""Declination against NOAA's published test values, and how a bearing's north is chosen."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from camsign.errors import UsageError
from camsign.logbook.settings import Settings
from camsign.magnetism import declination_deg
from camsign.units import parse_bearing

# NOAA NCEI, WMM2025_TEST_VALUES.txt and WMM2020testvalues.pdf, the rows at height 0 (two stored
# copies of the former agree): day of the decimal year, latitude, longitude, declination [deg].
NOAA = [
    (date(2025, 1, 1), 80, 0, 1.28),
    (date(2025, 1, 1), 0, 120, -0.16),
    (date(2025, 1, 1), -80, 240, 68.78),
    (date(2027, 7, 2), 80, 0, 2.59),
    (date(2027, 7, 2), 0, 120, -0.24),
    (date(2027, 7, 2), -80, 240, 68.49),
    (date(2020, 1, 1), 80, 0, -1.28),
    (date(2020, 1, 1), 0, 120, 0.16),
    (date(2020, 1, 1), -80, 240, 69.36),
    (date(2022, 7, 2), 80, 0, 0.01),
    (date(2022, 7, 2), 0, 120, -0.06),
    (date(2022, 7, 2), -80, 240, 69.13),
]
PLACE = (44.1, -71.5)
DAY = date(2026, 3, 14)


def settings(**field: Any) -> Settings:
    return Settings(id="x", tz="America/New_York", **field)


@pytest.mark.parametrize(("day", "lat", "lon", "declination"), NOAA)
def test_declination_is_noaas(day: date, lat: float, lon: float, declination: float) -> None:
    assert declination_deg(lat, lon, day) == pytest.approx(declination, abs=0.0101)


def test_years_without_a_model_take_the_nearest() -> None:
    assert declination_deg(*PLACE, date(2001, 1, 1)) == declination_deg(*PLACE, date(2010, 1, 1))
    assert declination_deg(*PLACE, date(2041, 1, 1)) == declination_deg(*PLACE, date(2030, 1, 1))


def test_a_compass_near_the_pole_is_refused() -> None:
    with pytest.raises(UsageError, match="120T"):
        declination_deg(86, 139, DAY)


def test_magnetic_bearings_are_turned_and_true_ones_kept() -> None:
    east = declination_deg(*PLACE, DAY)
    assert -15 < east < -13  # west of north in New Hampshire
    assert settings().to_true(parse_bearing("120M"), PLACE, DAY) == pytest.approx(120 + east)
    assert settings().to_true(parse_bearing("5M"), PLACE, DAY) == pytest.approx(365 + east)
    assert settings(bearings="magnetic").to_true(parse_bearing("120T"), PLACE, DAY) == 120


def test_the_setting_says_what_a_bare_number_means() -> None:
    east = declination_deg(*PLACE, DAY)
    assert settings().to_true(parse_bearing("120"), PLACE, DAY) == 120
    magnetic = settings(bearings="magnetic")
    assert magnetic.to_true(parse_bearing("120"), PLACE, DAY) == pytest.approx(120 + east)


def test_magnetic_without_a_place_is_asked_again() -> None:
    with pytest.raises(UsageError, match="place is not known"):
        settings().to_true(parse_bearing("120M"), None, DAY)
