"""From when to when one sat, as people write it: `3-dark`, `light-9:30`, `3pm-5:15pm`, `15-17`."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from camsign.errors import UsageError
from camsign.logbook.settings import Settings
from camsign.sun import sun_days
from camsign.zones import to_utc

_CLOCK = re.compile(r"(\d{1,2})(?::?([0-5]\d))?\s*(am|pm|a|p)?", re.IGNORECASE)
_DARK = frozenset(("dark", "sundown", "dusk", "close"))
_LIGHT = frozenset(("light", "dawn", "daylight", "sunup"))
_NOON = frozenset(("noon", "midday"))
_HOW = "write it like 3-dark, light-9:30 or 3pm-5:15pm"
# Nobody sits longer [h], nor farther than this from shooting light [min]; common practice.
_LONGEST_H, _BEYOND_MIN = 16.0, 120.0


@dataclass(frozen=True, slots=True)
class Light:
    """First and last shooting light of a day (UTC), by the logbook's numbers."""

    first: datetime
    last: datetime


def rise_and_set(lat: float, lon: float, day: date, tz: str) -> tuple[datetime, datetime] | None:
    """Sunrise and sunset (UTC, whole seconds) of a local day; None where there are none."""
    table = sun_days(lat, lon, day, day, tz)
    ends = [column[0].astype("datetime64[s]").item() for column in (table.sunrise, table.sunset)]
    if None in ends:
        return None
    return ends[0].replace(tzinfo=UTC), ends[1].replace(tzinfo=UTC)


def light_of_day(settings: Settings, day: date) -> Light:
    """Shooting light at home on a local day.

    Raises:
        UsageError: the logbook has no home, or the sun does not rise and set there that day.
    """
    if settings.home is None:
        raise UsageError("this logbook has no home", "set home = [LAT, LON] in logbook.toml")
    found = rise_and_set(*settings.home, day, settings.tz)
    if found is None:
        raise UsageError(f"the sun does not rise and set there on {day}", "write the hours out")
    before, after = settings.light_before_min, settings.light_after_min
    return Light(found[0] - timedelta(minutes=before), found[1] + timedelta(minutes=after))


def read_hours(text: str, day: date, light: Light, tz: str) -> tuple[datetime, datetime]:
    """From when to when (UTC): an hour without am or pm is the one that lies in shooting light.

    Raises:
        UsageError: it is not understood, could be morning as well as evening, or cannot be.
    """
    first, dash, last = text.replace("–", "-").replace(" to ", "-").partition("-")
    if not dash or not first.strip() or not last.strip():
        raise UsageError(f"the hours {text.strip()!r} are not understood", _HOW)
    spans = [
        (a, b)
        for a in _instants(first, day, light, tz)
        for b in _instants(last, day, light, tz)
        if timedelta(0) < b - a <= timedelta(hours=_LONGEST_H)
    ]
    beyond = timedelta(minutes=_BEYOND_MIN)
    fits = [s for s in spans if s[0] >= light.first - beyond and s[1] <= light.last + beyond]
    if not fits:
        raise UsageError(f"nobody sits {text.strip()} on {day}: that is not by hunting light", _HOW)
    # Of 3-5 both ends are in the evening: the shorter of two that begin alike is meant.
    best = {a: min(b for x, b in fits if x == a) for a, _ in fits}
    if len(best) > 1:
        raise UsageError(f"{text.strip()!r} may be morning or evening", "say am or pm: 5am-9am")
    return next(iter(best.items()))


def read_clock(text: str, begin: datetime, end: datetime, tz: str) -> datetime | None:
    """An hour within a sit (UTC), a quarter of an hour around it allowed; None if it is none.

    Raises:
        UsageError: it is an hour, but not one of the sit's.
    """
    found = _CLOCK.fullmatch(text.strip())
    if found is None or not (found[2] or found[3]):
        return None
    slack = timedelta(minutes=15)
    days = {begin.astimezone(UTC).date() + timedelta(days=n) for n in (-1, 0, 1)}
    for day in sorted(days):
        for one in _by_clock(found, day, tz):
            if begin - slack <= one <= end + slack:
                return one
    raise UsageError(f"{text.strip()} is not within the hours of the sit", "check the hour")


def _instants(text: str, day: date, light: Light, tz: str) -> list[datetime]:
    """What an end of a span may mean. Raises UsageError if it is none."""
    word = text.strip().lower()
    if word in _DARK:
        return [light.last]
    if word in _LIGHT:
        return [light.first]
    if word in _NOON:
        return [to_utc(datetime.combine(day, time(12)), tz)]
    found = _CLOCK.fullmatch(word)
    made = _by_clock(found, day, tz) if found else []
    if not made:
        raise UsageError(f"the hour {text.strip()!r} is not understood", _HOW)
    return made


def _by_clock(found: re.Match[str], day: date, tz: str) -> list[datetime]:
    """The one or two instants of a day that an hour means; none if it is no hour."""
    hour, minute, half = int(found[1]), int(found[2] or 0), (found[3] or "").lower()[:1]
    if hour > 23 or (half and not 1 <= hour <= 12):
        return []
    if half:
        hours = [hour % 12 + (12 if half == "p" else 0)]
    else:
        hours = [hour % 12, hour % 12 + 12] if 1 <= hour <= 12 else [hour]
    return [to_utc(datetime.combine(day, time(h, minute)), tz) for h in hours]
