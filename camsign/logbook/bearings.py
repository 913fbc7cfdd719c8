"""A compass bearing as said, to degrees true: which north a bare number means is a setting.

`[field] bearings = "magnetic"` in logbook.toml makes it, and a word such as NE, magnetic; both are
true otherwise.
"""

from __future__ import annotations

from datetime import date

from camsign.errors import UsageError
from camsign.logbook.settings import Settings
from camsign.units import Bearing


def to_true(
    bearing: Bearing, place: tuple[float, float] | None, day: date, settings: Settings
) -> float:
    """Give a bearing taken at a place [deg] on a (local) day in degrees true, 0 to below 360.

    Raises:
        UsageError: magnetic, and the place is unknown or too near a magnetic pole.
    """
    if not _is_magnetic(bearing, settings):
        return bearing.deg % 360.0
    if place is None:
        raise UsageError(
            f"{bearing.deg:g} is from magnetic north, but the place is not known",
            "give it from true north, such as 120T, or set home in logbook.toml",
        )
    from camsign.magnetism import declination_deg

    return (bearing.deg + declination_deg(*place, day)) % 360.0


def _is_magnetic(bearing: Bearing, settings: Settings) -> bool:
    if bearing.reference is not None:
        return bearing.reference == "magnetic"
    return settings.bearings == "magnetic"
