"""The phases of a deer season that a logbook has until a person writes their own.

Dates are common practice, no source. They hang on latitude only through the rut: about mid-November
wherever winters are hard, later and less sharp farther south, where it may differ by weeks from one
county to the next. So these are a start, and the file says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta

from camsign.logbook.values import Days, MonthDay

# North of which latitudes the rut is the north's, and the middle's; how many days later it is.
_NORTH, _MIDDLE = 39.0, 34.0
_LATER_MIDDLE, _LATER_SOUTH = 5, 28
# Any year that is no leap year, to reckon with days of a year.
_YEAR = 2025
_NORTHERN: dict[str, Days] = {
    "velvet": ((7, 1), (9, 5)),
    "early": ((9, 6), (10, 4)),
    "lull": ((10, 5), (10, 20)),
    "scraping": ((10, 21), (11, 4)),
    "rut": ((11, 5), (11, 24)),
    "late": ((11, 25), (1, 31)),
}


def usual_phases(lat: float | None) -> dict[str, Days]:
    """Give the usual phases at a latitude [deg], the north's where it is not known.

    Phases follow each other without a gap. South of the equator there are none: nobody told us.
    """
    if lat is not None and lat < 0:
        return {}
    later = 0
    if lat is not None and lat < _NORTH:
        later = _LATER_MIDDLE if lat >= _MIDDLE else _LATER_SOUTH
    found = {name: (_moved(a, later), _moved(b, later)) for name, (a, b) in _NORTHERN.items()}
    # Velvet begins with the season and comes off when it does everywhere; winter ends alike.
    found["velvet"] = _NORTHERN["velvet"]
    found["early"] = (_NORTHERN["early"][0], found["early"][1])
    found["late"] = (found["late"][0], _NORTHERN["late"][1])
    return found


def as_toml(phases: Mapping[str, Days]) -> str:
    """Write phases as lines of logbook.toml."""
    if not phases:
        return '# "rut" = ["04-05", "04-25"]'
    return "\n".join(
        f'"{name}" = ["{a[0]:02d}-{a[1]:02d}", "{b[0]:02d}-{b[1]:02d}"]'
        for name, (a, b) in phases.items()
    )


def _moved(day: MonthDay, days: int) -> MonthDay:
    moved = date(_YEAR, *day) + timedelta(days=days)
    return moved.month, moved.day
