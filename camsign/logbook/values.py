"""What the value of a setting may be: each check gives the value as it is used, or says why not.

A check takes what TOML gives and raises ValueError with words that fit behind `key = value`, such
as "needs to be a number from 1 to 20000".
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from datetime import date, timedelta
from typing import Any, TypeVar

from camsign.errors import UsageError
from camsign.geo import check_lat_lon
from camsign.units import parse_duration, parse_length

T = TypeVar("T")
Check = Callable[[Any], T]
MonthDay = tuple[int, int]
Days = tuple[MonthDay, MonthDay]

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

_MONTH_DAY = re.compile(r"(\d\d?)-(\d\d?)", re.ASCII)


def number(low: float, high: float) -> Check[float]:
    """A number from `low` to `high`; true, NaN and infinity are none."""

    def check(value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise ValueError(f"needs to be a number from {low:g} to {high:g}")
        if not (math.isfinite(value) and low <= value <= high):
            raise ValueError(f"is not between {low:g} and {high:g}")
        return float(value)

    return check


def whole(low: int, high: int) -> Check[int]:
    """A whole number from `low` to `high`."""

    def check(value: Any) -> int:
        if number(low, high)(value) != int(value):
            raise ValueError("needs to be a whole number")
        return int(value)

    return check


def span(low_s: float, high_s: float) -> Check[float]:
    """A duration [s]: seconds, or a text such as "30min"."""
    return lambda value: number(low_s, high_s)(
        _said(parse_duration, value) if isinstance(value, str) else value
    )


def length(low_m: float, high_m: float, unit: str) -> Check[float]:
    """A length [m]: a text such as "100cm", or a number in `unit`."""

    def check(value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise ValueError('needs to be a length such as "100cm"')
        return number(low_m, high_m)(_said(lambda text: parse_length(text, unit), str(value)))

    return check


def one_of(*words: str) -> Check[Any]:
    """One of these words."""

    def check(value: Any) -> Any:
        if value not in words:
            raise ValueError(f"is none of {', '.join(words)}")
        return value

    return check


def flag(value: Any) -> bool:
    """True or false."""
    if not isinstance(value, bool):
        raise ValueError("is neither true nor false")
    return value


def place(value: Any) -> tuple[float, float]:
    """A latitude and a longitude [deg]."""
    lat, lon = _pair(value, "[LAT, LON], two numbers")
    if not all(isinstance(x, int | float) and not isinstance(x, bool) for x in (lat, lon)):
        raise ValueError("needs to be [LAT, LON], two numbers")
    try:
        check_lat_lon(lat, lon)
    except UsageError as e:
        raise ValueError(f"does not fit: {e.what}") from e
    return float(lat), float(lon)


def inches(low: float, high: float) -> Check[tuple[float, float]]:
    """Two lengths in inches, the smaller one first."""

    def check(value: Any) -> tuple[float, float]:
        first, last = (
            number(low, high)(x) for x in _pair(value, "two lengths in inches, such as [13, 16]")
        )
        if first > last:
            raise ValueError("needs the smaller length first")
        return first, last

    return check


def month_day(value: Any) -> MonthDay:
    """A day of any year, such as "09-01"."""
    found = _MONTH_DAY.fullmatch(value) if isinstance(value, str) else None
    try:
        day = date(2024, int(found[1]), int(found[2])) if found else None
    except ValueError:
        day = None
    if day is None:
        raise ValueError("needs to be a day such as 09-01 (month-day)")
    return day.month, day.day


def days(value: Any) -> Days:
    """Two days of any year, such as ["09-01", "12-31"]."""
    first, last = _pair(value, 'two days, such as ["10-15", "11-04"]')
    return month_day(first), month_day(last)


def phases(value: Any) -> dict[str, Days]:
    """Named spans of a season, two days each."""
    return {str(name): _under(name, days, said) for name, said in _table(value).items()}


def aging(value: Any) -> dict[str, dict[str, dict[str, Any]]]:
    """Rows of the aging table by kind of sign and look; docs/sign.md says what they hold."""
    return {
        str(kind): {str(look): _under(f"{kind}.{look}", _row, row) for look, row in looks.items()}
        for kind, looks in ((k, _under(k, _table, v)) for k, v in _table(value).items())
    }


def texts(value: Any) -> tuple[str, ...]:
    """One text or a list of texts."""
    said = [value] if isinstance(value, str) else value
    if not isinstance(said, list) or not all(isinstance(x, str) for x in said):
        raise ValueError("needs to be a text or a list of texts")
    return tuple(said)


def _row(value: Any) -> dict[str, Any]:
    row = _table(value)
    for name, cell in row.items():
        if name == "species":
            for tree, altered in _under(name, _table, cell).items():
                _under(f"species.{tree}", _row, altered)
        elif name in _AGING:
            _under(name, _AGING[name], cell)
        elif name != "standing":
            raise ValueError(f"has {name!r}, which no row has")
    return row


_AGING: dict[str, Check[Any]] = {
    "words": texts,
    **dict.fromkeys(("from", "to"), month_day),
    **dict.fromkeys(("days", "days_at_least", "seasons", "seasons_back"), whole(0, 10_000)),
    **dict.fromkeys(("until_seen", "nothing"), flag),
    **dict.fromkeys(("winter", "summer"), _row),
}


def _under(name: object, check: Check[T], value: Any) -> T:
    try:
        return check(value)
    except ValueError as e:
        raise ValueError(f"has a {name} that {e}") from e


def _table(value: Any) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise ValueError("needs to be a table")
    return value


def _pair(value: Any, words: str) -> tuple[Any, Any]:
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError(f"needs to be {words}")
    return value[0], value[1]


def _said(parse: Callable[[str], float], text: str) -> float:
    try:
        return parse(text)
    except UsageError as e:
        raise ValueError(f"does not fit: {e}") from e


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


def phases_toml(phases: Mapping[str, Days]) -> str:
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
