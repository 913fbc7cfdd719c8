"""Days, hours and verdicts as the people of a logbook read them.

Imperial: `Dec 5, 2025`, `6:45 AM`. Metric: `Dec 5, 2025`, `06:45`. Data keep ISO.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from camsign.units import UnitSystem

# What is to be typed or was typed stays as it is: commands, options, words in quotes, paths.
_TYPED = r"camsign [a-z][^;)\n]*|--[a-z][\w-]* \S+|(?<!\w)'[^']*'|\"[^\"]*\"|`[^`]*`"
_ISO = re.compile(
    rf"(?P<typed>{_TYPED})"
    r"|(?<![\w/.-])(?P<day>\d{4}-\d\d-\d\d)(?:[T ](?P<hour>\d\d:\d\d)(?::\d\d)?+)?+(?![/.:-]?\w|-)",
    re.ASCII,
)


def day(value: date | None, year: bool = True) -> str:
    """Give a day as `Dec 5, 2025`, without the year as `Dec 5`; a dash for none."""
    if value is None:
        return "–"
    return f"{value:%b} {value.day}" + (f", {value.year}" if year else "")


def span(first: date, last: date) -> str:
    """Give days from the first to the last: `Nov 3 to Dec 5, 2025`; one day alone as such."""
    if first == last:
        return day(first)
    return f"{day(first, first.year != last.year)} to {day(last)}"


def begins(when: datetime) -> str:
    """Give a first moment in ISO; from midnight on it is that day."""
    return f"{when:%Y-%m-%d %H:%M}" if when.time() != time() else f"{when:%Y-%m-%d}"


def ends(when: datetime) -> str:
    """Give a last moment in ISO; to midnight it is the day that ends there."""
    whole = when.time() == time()
    return f"{when - timedelta(seconds=1):%Y-%m-%d}" if whole else f"{when:%Y-%m-%d %H:%M}"


def spoken(verdict: str) -> str:
    """Give a verdict as people say it; data keep `cannot tell`."""
    return "can't tell" if verdict == "cannot tell" else verdict


def minutes_words(minutes: int) -> str:
    """Write so many minutes, either way: `1 h 4 min`, `10 h`."""
    hours, rest = divmod(abs(minutes), 60)
    return " ".join([f"{hours} h"] * bool(hours) + [f"{rest} min"] * bool(rest))


def moved_words(minutes: int) -> str:
    """Write which way times move: `1 h earlier`; from three days on `3,874 days later`."""
    days = round(abs(minutes) / 1440)
    by = f"{days:,} days" if days >= 3 else minutes_words(minutes)
    return f"{by} {'later' if minutes > 0 else 'earlier'}"


def from_sun(minutes: float | None) -> str:
    """Give minutes from sunrise or sunset as `20 min before`, `1 h 05 min after`."""
    if minutes is None:
        return "–"
    hours, rest = divmod(round(abs(minutes)), 60)
    long = f"{hours} h {rest:02d} min" if hours else f"{rest} min"
    return f"{long} {'before' if minutes < 0 else 'after'}"


@dataclass(frozen=True, slots=True)
class People:
    """Hours and prose in a logbook's units."""

    units: UnitSystem

    def clock(self, value: datetime | time) -> str:
        """Give the hour as `6:45 AM` or `06:45`."""
        if self.units == "metric":
            return f"{value:%H:%M}"
        return f"{value.hour % 12 or 12}:{value:%M} {'AM' if value.hour < 12 else 'PM'}"

    def at(self, value: datetime | None) -> str:
        """Give a moment as `Dec 5, 2025, 6:45 AM`; a dash for none."""
        return "–" if value is None else f"{day(value)}, {self.clock(value)}"

    def prose(self, text: object) -> str:
        """Write the ISO days and hours in a sentence as people do."""
        return _ISO.sub(self._worded, str(text))

    def lines(self, texts: Iterable[object]) -> list[str]:
        """Write several sentences so."""
        return [self.prose(text) for text in texts]

    def _worded(self, found: re.Match[str]) -> str:
        if found["day"] is None:
            return found[0]
        with suppress(ValueError):
            said, hour = day(date.fromisoformat(found["day"])), found["hour"]
            return f"{said}, {self.clock(time.fromisoformat(hour))}" if hour else said
        return found[0]
