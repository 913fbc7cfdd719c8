"""Words of people to SI values and back: lengths, bearings, places, durations, days and times.

Used at the edge of the program only; inside, everything is meters, seconds, degrees.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, timezone
from typing import Literal

from camsign.errors import UsageError

Reference = Literal["true", "magnetic"]
UnitSystem = Literal["imperial", "metric"]

# International yard and pound agreement of 1959: 1 yd = 0.9144 m exactly (NIST SP 811, appendix B).
_METERS = {
    **dict.fromkeys(("mm", "millimetre", "millimeter"), 0.001),
    **dict.fromkeys(("cm", "centimetre", "centimeter"), 0.01),
    **dict.fromkeys(("m", "metre", "meter"), 1.0),
    **dict.fromkeys(("km", "kilometre", "kilometer"), 1000.0),
    **dict.fromkeys(("in", "inch", "inches", '"'), 0.0254),
    **dict.fromkeys(("ft", "foot", "feet", "'"), 0.3048),
    **dict.fromkeys(("yd", "yard"), 0.9144),
    **dict.fromkeys(("mi", "mile"), 1609.344),
}
_SECONDS = {
    **dict.fromkeys(("s", "sec", "second"), 1.0),
    **dict.fromkeys(("m", "min", "minute"), 60.0),
    **dict.fromkeys(("h", "hr", "hour"), 3600.0),
    **dict.fromkeys(("d", "day"), 86400.0),
    **dict.fromkeys(("w", "wk", "week"), 604800.0),
}
# fmt: off
_POINTS = ("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE",
           "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW")
# fmt: on
_POINT_DEG = {word: i * 22.5 for i, word in enumerate(_POINTS)}

# What phones and word processors put in place of the plain quote, minus and degree signs.
_PLAIN = str.maketrans("′’‘´ʹ″”“ʺ−º˚", "'''''\"\"\"\"-°°")

_NUMBER = r"\d+\s+\d+/\d+|\d+/\d+|\d+(?:[.,]\d+)?|[.,]\d+"
_MEASURE = re.compile(rf"\s*(?P<number>{_NUMBER})\s*(?P<unit>[a-z]+|'|\")?\.?\s*,?\s*", re.I)
_BEARING = re.compile(
    r"(?:(?P<number>-?\d+(?:[.,]\d+)?)\s*(?:°|deg(?:rees?)?)?|(?P<word>[a-z](?:[a-z \-]*?[a-z])?))"
    r"(?:(?(word)\s+|\s*)(?P<reference>true|t|magnetic|mag|m))?",
    re.I,
)
_ANGLE = re.compile(
    r"(?P<before>[NSEW])?\s*(?P<sign>[-+])?\s*(?P<deg>\d{1,3}(?:\.\d+)?)\s*°?"
    r"(?:[\s:]*(?P<min>\d{1,2}(?:\.\d+)?)\s*'?(?:[\s:]*(?P<sec>\d{1,2}(?:\.\d+)?)\s*(?:\"|'')?)?)?"
    r"\s*(?P<after>[NSEW])?"
)
YEARS = range(1900, 2200)
"""The years of which anything can be said here."""
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_NAMED = re.compile(r"(?P<month>[A-Za-z]{3,9})\.? (?P<day>\d{1,2}),? (?P<year>\d{4})")
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
"""How the English names of the months begin, in their order."""
_FIGURES = re.compile(r"(\d{1,2})[/.-](\d{1,2})[/.-](\d{4}|\d\d)(?!\S)")
_WHEN = re.compile(
    r"(?P<day>\d{4}-\d{2}-\d{2})"
    r"(?:[ Tt]+(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2})(?:\.(?P<part>\d{1,6}))?)?"
    r"\s*(?P<offset>[Zz]|[+-]\d{2}(?::?\d{2})?)?)?",
    re.ASCII,
)


@dataclass(frozen=True, slots=True)
class Bearing:
    """A compass bearing as said: 0 ≤ `deg` < 360 [deg], and which north, None if unsaid."""

    deg: float
    reference: Reference | None = None


@dataclass(frozen=True, slots=True)
class DayOrInstant:
    """A day or an instant as said.

    `moment` is naive when no offset was given (local time of the place it speaks of), aware
    otherwise. `whole_day` is true when only a day was given; `moment` is then its midnight.
    """

    text: str
    moment: datetime
    whole_day: bool


def parse_length(text: str, default_unit: str) -> float:
    """Length [m] of `34in`, `86cm`, `12 ft`, `3'4"`, `3 1/2 in`, `0.5mi`.

    A bare number is in `default_unit`, any of these units' names. A decimal comma is understood
    (`3,5cm`), but `1,000` is refused since it could be either. Raises UsageError for anything
    else, negative lengths included.
    """
    example = "write it like 34in, 86cm or 3'4\""
    return _sum_of_parts(text, "length", _METERS, default_unit, example)


def parse_duration(text: str) -> float:
    """Duration [s] of `30min`, `2h`, `45 s`, `3d`, `1h 30min`; `m` is minutes.

    Raises UsageError for anything else, a number without a unit included.
    """
    return _sum_of_parts(text, "duration", _SECONDS, None, "write it like 30min, 2h or 3d")


def parse_bearing(text: str) -> Bearing:
    """Bearing of `45`, `120M`, `120T`, `NE`, `nnw`, `NNE T`, `south-east`; 360 becomes 0.

    Raises UsageError outside 0 to 360 and for words that are none of the 16 compass points.
    """
    found = _BEARING.fullmatch(text.translate(_PLAIN).strip())
    remedy = "write it like 45, 120M (magnetic), 120T (true) or NE"
    if found is None:
        raise UsageError(f"bearing {text.strip()!r} is not understood", remedy)
    said = (found["reference"] or "").lower()[:1]
    reference: Reference | None = {"t": "true", "m": "magnetic"}.get(said)  # type: ignore[assignment]
    if found["word"]:
        point = _point_of(found["word"])
        if point not in _POINT_DEG:
            raise UsageError(
                f"bearing {text.strip()!r} is not one of the 16 compass points", remedy
            )
        return Bearing(_POINT_DEG[point], reference)
    deg = float(found["number"].replace(",", "."))
    if not 0 <= deg <= 360:
        raise UsageError(f"bearing {found['number']} is not between 0 and 360", remedy)
    return Bearing(deg % 360.0, reference)


def compass_word(deg: float) -> str:
    """The nearest of the 16 compass points of a bearing [deg], such as `NE`; any finite angle."""
    return _POINTS[round(deg % 360.0 / 22.5) % 16]


def format_bearing(deg: float, low: float | None = None, high: float | None = None) -> str:
    """A bearing [deg] as people read it, letters first: `SW (217°)`, `N (2°, anywhere NNW to NNE)`.

    The range is in letters, and left out where they are the bearing's own.
    """
    word, span = compass_word(deg), ""
    if low is not None and high is not None:
        first, last = compass_word(low % 360), compass_word(high % 360)
        span = "" if first == last == word else f", anywhere {first} to {last}"
    return f"{word} ({round(deg) % 360}°{span})"


def format_size(hectares: float, units: UnitSystem) -> str:
    """The size of a piece of land [ha] for people: acres or hectares."""
    value, unit = per_area(units)
    return f"{hectares / value:.1f} {unit}s"


def per_area(units: UnitSystem) -> tuple[float, str]:
    """How many hectares one unit of land is, and its name. Acre: 4046.8564224 m² (NIST SP 811)."""
    return (0.40468564224, "acre") if units == "imperial" else (1.0, "hectare")


def per_distance(units: UnitSystem) -> tuple[float, str]:
    """How many kilometers one unit of a walk is, and its name."""
    return (1.609344, "mile") if units == "imperial" else (1.0, "kilometer")


def parse_lat_lon(text: str) -> tuple[float, float]:
    """Latitude, longitude [deg, WGS 84] of `44.123,-71.5`, `44.123N 71.5W`, `44°07'23"N 71°30'W`.

    Decimal commas are understood when the two are parted by `;`. Longitude may come first when
    letters say so. Raises UsageError that names the value at fault.
    """
    halves = [read_angle(half, text) for half in _halves(text)]
    if halves[0][1] in tuple("EW") or halves[1][1] in tuple("NS"):
        halves.reverse()
    (lat, lat_letter), (lon, lon_letter) = halves
    if bool(lat_letter) != bool(lon_letter):
        raise _place_error(text, "gives a letter for one direction only")
    if lat_letter in tuple("EW") or lon_letter in tuple("NS"):
        raise _place_error(text, "does not give one latitude and one longitude")
    if abs(lat) > 90:
        hint = " (latitude comes first)" if abs(lon) <= 90 and abs(lat) <= 180 else ""
        raise UsageError(f"latitude {lat:g} in {text.strip()!r} is not between -90 and 90{hint}")
    if abs(lon) > 180:
        raise UsageError(f"longitude {lon:g} in {text.strip()!r} is not between -180 and 180")
    return lat, lon


def format_length(m: float, units: UnitSystem, small: bool = False) -> str:
    """A length [m] for people: yards and miles, or meters and kilometers; `small`: inches or cm.

    Rounded for reading, one decimal below ten small units and for miles and kilometers.
    """
    if small:
        unit = "in" if units == "imperial" else "cm"
        value = m / _METERS[unit]
        return f"{_trimmed(value) if abs(value) < 10 else f'{value:.0f}'} {unit}"
    near, far, turn = ("yd", "mi", 880) if units == "imperial" else ("m", "km", 1000)
    if round(abs(m) / _METERS[near]) < turn:
        return f"{m / _METERS[near]:.0f} {near}"
    return f"{_trimmed(m / _METERS[far])} {far}"


def parse_day(text: str) -> date:
    """The day of `2026-03-14` or `Mar 14, 2026`.

    Raises UsageError for any other spelling, for days that do not exist, and for years mistyped.
    """
    iso = _iso(text)
    if not _DAY.fullmatch(iso):
        raise _in_figures(text) or _no_day(text)
    try:
        day = date.fromisoformat(iso)
    except ValueError:
        raise _no_day(text) from None
    if day.year not in YEARS:
        raise UsageError(f"{text.strip()!r} is not in our time", "give the year with four digits")
    return day


def _in_figures(text: str) -> UsageError | None:
    """Ask for `8/10/25` another way: some put the day first; None of what is written otherwise."""
    found = _FIGURES.match(text.strip())
    if found is None:
        return None
    first, second, year = (int(part) for part in found.groups())
    month, day = (first, second) if first <= 12 else (second, first)
    try:
        meant = date(year + 2000 * (year < 100), month, day)
    except ValueError:
        return None
    named = f"{MONTHS[meant.month - 1].title()} {meant.day}, {meant.year}"
    return UsageError(
        f"{found[0]!r} is not how days are written here",
        f"write it as {named} or {meant.isoformat()}",
    )


def _no_day(text: str) -> UsageError:
    return UsageError(
        f"{text.strip()!r} is not a day", "write it as 2026-03-14 (year-month-day) or Mar 14, 2026"
    )


def _iso(text: str) -> str:
    """Write a day that begins with its month's name, as answers do, in figures; else as it is."""
    found = _NAMED.match(text.strip())
    name = found["month"][:3].lower() if found else ""
    if found is None or name not in MONTHS:
        return text.strip()
    month, day = MONTHS.index(name) + 1, int(found["day"])
    return f"{found['year']}-{month:02d}-{day:02d}{text.strip()[found.end() :]}"


def parse_when(text: str) -> DayOrInstant:
    """Day or instant of `2026-09-01`, `Sep 1, 2026`, `2026-09-01 17:30`, `…T17:30:00-04:00`.

    Raises UsageError for any other spelling and for times that do not exist.
    """
    found = _WHEN.fullmatch(_iso(text))
    if found is None:
        raise _in_figures(text) or _when_error(text)
    day = parse_day(found["day"])
    hour, minute, second = (int(found[name] or 0) for name in ("hour", "minute", "second"))
    micro = int((found["part"] or "").ljust(6, "0"))
    try:
        clock = time(hour, minute, second, micro, _zone(found["offset"]))
        moment = datetime.combine(day, clock)
    except ValueError:
        raise _when_error(text) from None
    return DayOrInstant(text.strip(), moment, found["hour"] is None)


def _sum_of_parts(
    text: str, what: str, units: dict[str, float], default_unit: str | None, remedy: str
) -> float:
    """Value in base units of `3'4"` or `1h 30min`: each part smaller than the one before it."""
    plain = text.translate(_PLAIN).strip()
    total, at, last, feet = 0.0, 0, float("inf"), units.get("'")
    while at < len(plain) or at == 0:
        part = _MEASURE.match(plain, at)
        if part is None:
            raise UsageError(f"{what} {text.strip()!r} is not understood", remedy)
        name = part["unit"] or ('"' if last == feet else default_unit if at == 0 else None)
        word = (name or "").lower()
        factor = units.get(word, units.get(word.removesuffix("s")))
        if factor is None or factor >= last:
            raise UsageError(f"{what} {text.strip()!r} is not understood", remedy)
        total += _number(part["number"], f"{what} {text.strip()!r}") * factor
        at, last = part.end(), factor
    # 34 in is 0.8636 m, not 0.8635999999999999.
    return round(total, 9)


def _number(digits: str, where: str) -> float:
    """`3,5` as 3.5, `3 1/2` as 3.5; `1,000` is refused."""
    if re.fullmatch(r"[1-9]\d{0,2},\d{3}", digits):
        raise UsageError(f"{where} could mean two numbers", "write it without the comma")
    whole, _, fraction = digits.rpartition(" ") if "/" in digits else (digits, "", "")
    value = float(whole.replace(",", ".")) if whole.strip() else 0.0
    if fraction:
        above, below = map(int, fraction.split("/"))
        if below == 0:
            raise UsageError(f"{where} divides by zero")
        value += above / below
    return value


def _point_of(words: str) -> str:
    short = words.upper()
    for word in ("NORTH", "SOUTH", "EAST", "WEST"):
        short = short.replace(word, word[0])
    return re.sub(r"[\s\-]", "", short)


def _halves(text: str) -> tuple[str, str]:
    """The two angles of a place, parted at `;`, the only comma, the letters or the middle space."""
    plain = text.translate(_PLAIN).strip().upper()
    if plain.count(";") == 1:
        first, second = plain.replace(",", ".").split(";")
        return first.strip(), second.strip()
    if plain.count(",") == 1:
        first, second = plain.split(",")
        return first.strip(), second.strip()
    if lettered := re.fullmatch(r"([^NSEW,]+[NSEW])\s*([^NSEW,]+[NSEW])", plain) or re.fullmatch(
        r"([NSEW][^NSEW,]+)([NSEW][^NSEW,]+)", plain
    ):
        return lettered[1].strip(), lettered[2].strip()
    words = plain.split()
    half = len(words) // 2
    if len(words) % 2 or not words or "," in plain:
        raise _place_error(text, "is not a latitude and a longitude")
    return " ".join(words[:half]), " ".join(words[half:])


def read_angle(half: str, text: str) -> tuple[float, str]:
    """Signed degrees and the hemisphere letter ("" if none) of one angle, in plain capitals.

    Raises UsageError that names the place it is part of, `text`.
    """
    found = _ANGLE.fullmatch(half)
    if found is None:
        raise _place_error(text, f"is not understood at {half!r}")
    letter = found["before"] or found["after"] or ""
    if (found["before"] and found["after"]) or (letter and found["sign"]):
        raise _place_error(text, f"says the direction twice at {half!r}")
    minutes, seconds = float(found["min"] or 0), float(found["sec"] or 0)
    finer = (found["min"] and "." in found["deg"]) or (found["sec"] and "." in found["min"])
    if finer or minutes >= 60 or seconds >= 60:
        raise _place_error(text, f"is not understood at {half!r}")
    value = float(found["deg"]) + minutes / 60 + seconds / 3600
    return (-value if found["sign"] == "-" or letter in tuple("SW") else value), letter


def _place_error(text: str, why: str) -> UsageError:
    return UsageError(f"place {text.strip()!r} {why}", "write it like 44.123,-71.5")


def _trimmed(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _when_error(text: str) -> UsageError:
    return UsageError(
        f"{text.strip()!r} isn't a date or time",
        'write the day as 2026-09-01 (year-month-day) or Sep 1, 2026, a time as "2026-09-01 17:30"',
    )


def _zone(offset: str | None) -> timezone | None:
    if offset is None:
        return None
    if offset in ("Z", "z"):
        return UTC
    digits = offset[1:].replace(":", "").ljust(4, "0")
    minutes = int(digits[:2]) * 60 + int(digits[2:])
    return timezone(timedelta(minutes=-minutes if offset[0] == "-" else minutes))


def lower_first(words: str) -> str:
    """Write a sentence so that it goes on behind a colon."""
    return f"{words[:1].lower()}{words[1:]}"


def upper_first(words: str) -> str:
    """Write words so that they begin a sentence."""
    return f"{words[:1].upper()}{words[1:]}"


def numbered(n: int, one: str, more: str) -> str:
    """Write a count before words that change with it: "1 picture waits", "2 pictures wait"."""
    return f"{n:,} {one if n == 1 else more}"


def counted(n: int, word: str) -> str:
    """Write how many of a thing: "1 day", "1,500 days", "2 passes"."""
    return f"{n} {word}" if n == 1 else f"{n:,} {word}{'es' if word.endswith('s') else 's'}"
