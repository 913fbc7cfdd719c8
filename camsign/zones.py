"""Time zones: which one a place has, what its offsets are, and wall-clock time of a place to UTC.

Rules come from the standard library's zoneinfo and the tzdata package, so that no machine's own
tables are needed; the zone of a place from tzfpy, which carries its map with it.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from importlib.resources import files
from itertools import pairwise
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from camsign.errors import UsageError

_STEP = timedelta(days=7)
_SECOND = timedelta(seconds=1)


@dataclass(frozen=True, slots=True)
class Offset:
    """A span [start, stop) in UTC (aware) in which a zone is `seconds` ahead of UTC [s]."""

    start: datetime
    stop: datetime
    seconds: int


@cache
def zone(name: str) -> ZoneInfo:
    """Give the zone of this name. Raises UsageError: there is no such zone."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as e:
        raise UsageError(
            f"there is no time zone {name!r}", "name one such as America/New_York"
        ) from e


def zone_of(lat: float, lon: float) -> str:
    """Give the name of the time zone at a place [deg, WGS 84], without asking any network."""
    import tzfpy

    name: str = tzfpy.get_tz(lon, lat)
    return name or "UTC"


def country_of(name: str) -> str | None:
    """Give the country that a time zone is named for, in words; None for one of no country.

    From the tables of the tzdata package (zone.tab, iso3166.tab).
    """
    codes = {row[2]: row[0] for row in _table("zone.tab")}
    countries = {row[0]: row[1] for row in _table("iso3166.tab")}
    return countries.get(codes.get(name, ""))


def _table(name: str) -> list[list[str]]:
    text = files("tzdata.zoneinfo").joinpath(name).read_text(encoding="utf-8")
    return [row.split("\t") for row in text.splitlines() if not row.startswith("#")]


def to_utc(moment: datetime, tz: str) -> datetime:
    """Turn what a person says into UTC (aware).

    A naive moment is wall-clock time in `tz`; the hour that comes twice in autumn means the first.

    Raises UsageError: the hour that spring leaves out.
    """
    if moment.tzinfo is not None:
        return moment.astimezone(UTC)
    there = moment.replace(tzinfo=zone(tz))
    utc = there.astimezone(UTC)
    if utc.astimezone(zone(tz)).replace(tzinfo=None) != moment:
        raise UsageError(
            f"{moment:%Y-%m-%d %H:%M} did not exist in {tz}: clocks went forward",
            "give the time an hour later",
        )
    return utc


def offset_s(tz: str, utc: datetime) -> int:
    """Give how far ahead of UTC the zone is at an instant (aware) [s]."""
    offset = utc.astimezone(zone(tz)).utcoffset()
    return int(offset.total_seconds()) if offset is not None else 0


def offsets(tz: str, first: datetime, last: datetime) -> list[Offset]:
    """Give the spans of equal offset that cover [first, last) (both aware), in order."""
    edges = [at := first.astimezone(UTC)]
    last, now = last.astimezone(UTC), offset_s(tz, at)
    while at < last:
        ahead = min(at + _STEP, last)
        if (then := offset_s(tz, ahead)) != now:
            ahead = _switch(tz, at, ahead)
            edges.append(ahead)
            then = offset_s(tz, ahead)
        at, now = ahead, then
    if edges[-1] < last:
        edges.append(last)
    return [Offset(start, stop, offset_s(tz, start)) for start, stop in pairwise(edges)]


def _switch(tz: str, before: datetime, after: datetime) -> datetime:
    """Find the first second of the new offset between two instants."""
    old, whole = offset_s(tz, before), before.replace(microsecond=0)
    seconds = range(int((after - whole).total_seconds()) + 1)
    found = bisect_left(seconds, 1, key=lambda s: offset_s(tz, whole + s * _SECOND) != old)
    return min(whole + found * _SECOND, after)
