"""Magnetic north to true north, by the World Magnetic Model of NOAA and the BGS.

Coefficients of the epochs 2010 to 2025 come with the pygeomag package.
Source: A. Chulliat et al., The US/UK World Magnetic Model for 2025-2030, NOAA (2024).
"""

from __future__ import annotations

from datetime import date
from functools import cache

from pygeomag import GeoMag

from camsign.errors import UsageError

# First year of each model, latest first; 2015v2 replaced 2015 when the field had moved too fast.
_MODELS = ((2025, "2025"), (2020, "2020"), (2015, "2015v2"), (2010, "2010"))
_LAST_YEAR = 2030


def declination_deg(lat: float, lon: float, day: date) -> float:
    """Give how far magnetic north lies east of true north at sea level [deg].

    Place [deg, WGS 84] and day are rounded to 0.01 degrees and a tenth of a year, which alters the
    answer by less than 0.03 degrees outside the polar regions and makes repeated calls cheap. Years
    before 2010 or after 2029 take the nearest model's end.

    Raises:
        UsageError: so near a magnetic pole that no compass holds (horizontal field under 2000 nT).
    """
    year = day.year + (day.timetuple().tm_yday - 1) / 365.25
    return _declination(round(lat, 2), round(lon, 2), round(year, 1))


@cache
def _declination(lat: float, lon: float, year: float) -> float:
    first, name = next((m for m in _MODELS if m[0] <= year), _MODELS[-1])
    year = min(max(year, first), _LAST_YEAR)
    field = _model(name).calculate(glat=lat, glon=lon, alt=0, time=year)
    if field.in_blackout_zone:
        raise UsageError(
            f"a compass cannot be trusted at {lat:g},{lon:g}: a magnetic pole is near",
            "give the bearing from true north, such as 120T",
        )
    return float(field.d)


@cache
def _model(name: str) -> GeoMag:
    return GeoMag(coefficients_file=f"wmm/WMM_{name}.COF")
