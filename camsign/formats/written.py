"""When a picture was taken, as words say it: a camera's comment, or the strip in its picture.

The day and the clock may stand in either order, with anything between. One day and one clock, or
nothing is read. A day written 10/01/2025 is read where it can mean one day only, or where the
words give degrees Fahrenheit: then its month comes first (common practice, no source).
"""

from __future__ import annotations

import re

from camsign.formats.shown import ShownTime, read_shown
from camsign.units import MONTHS

MONTH_NAMED = rf"(?P<name>{'|'.join(MONTHS)})[a-z]{{0,6}}\.?"
"""A pattern of a month's English name, whole or short; its first three letters are the group."""
_DAYS = tuple(
    re.compile(text, re.ASCII | re.IGNORECASE)
    for text in (
        r"(?<!\d)(?P<year>20\d\d)(?P<mark>[-/.:])(?P<a>\d\d?)(?P=mark)(?P<b>\d\d?)",
        r"(?<!\d)(?P<a>\d\d?)(?P<mark>[-/.])(?P<b>\d\d?)(?P=mark)(?P<year>20\d\d)",
        rf"(?<![a-z]){MONTH_NAMED}[ -]?(?P<b>\d\d?),?[ -](?P<year>20\d\d)",
        rf"(?<!\d)(?P<b>\d\d?)[ -]?{MONTH_NAMED},?[ -]?(?P<year>20\d\d)",
    )
)
_CLOCK = re.compile(
    r"(?P<hour>\d\d?):(?P<minute>\d\d)(?::(?P<second>\d\d))?(?![\d:])"
    r"(?:\s*(?P<half>[AP])\.?M(?![A-Z]))?",
    re.ASCII | re.IGNORECASE,
)
_FAHRENHEIT = re.compile(r"\d\s?°?\s?F{1,2}(?![A-Z])", re.ASCII | re.IGNORECASE)


def read_written(text: str) -> ShownTime | None:
    """Give the one clock reading that stands in words; None if none does, or several may."""
    days = [match for pattern in _DAYS for match in pattern.finditer(text)]
    if len(days) != 1:
        return None
    start, end = days[0].span()
    clocks = list(_CLOCK.finditer(f"{text[:start]} | {text[end:]}"))
    day = _day(days[0], bool(_FAHRENHEIT.search(text)))
    if len(clocks) != 1 or not day:
        return None
    clock, half = clocks[0], clocks[0]["half"]
    second = clock["second"] or "00"
    said = f"{day} {clock['hour']}:{clock['minute']}:{second}"
    return read_shown(f"{said} {half}M" if half else said).shown


def _day(match: re.Match[str], month_first: bool) -> str:
    """Year, month and day; "" where two days may be meant."""
    parts = match.groupdict()
    if word := parts.get("name"):
        return f"{parts['year']}-{MONTHS.index(word.lower()) + 1}-{parts['b']}"
    a, b = int(parts["a"]), int(parts["b"])
    if match.start("year") > match.start("a"):
        if a > 12:
            a, b = b, a
        elif b <= 12 and a != b and not month_first:
            return ""
    return f"{parts['year']}-{a}-{b}"
