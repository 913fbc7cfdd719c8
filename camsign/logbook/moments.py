"""What people say of days and hours, to UTC as the journal and DuckDB keep it, and back.

A time without offset is wall-clock time of the property (setting `tz`). A whole day begins at its
midnight, and as the end of a span it counts to its last moment.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from camsign.logbook.session import Session
from camsign.units import DayOrInstant
from camsign.zones import to_utc, zone


def start_of(when: DayOrInstant, tz: str) -> datetime:
    """Give the instant (aware, UTC) at which a span begins that starts with `when`.

    Raises UsageError: an hour that spring leaves out.
    """
    return to_utc(when.moment, tz)


def end_of(when: DayOrInstant, tz: str) -> datetime:
    """Give the instant (aware, UTC) at which a span ends: behind a whole day, else as said.

    Raises UsageError: an hour that spring leaves out.
    """
    return to_utc(when.moment + timedelta(days=1 if when.whole_day else 0), tz)


def season_of(day: date, season_start: tuple[int, int]) -> int:
    """Give the season that a local day belongs to, named by the year in which it starts."""
    return day.year - ((day.month, day.day) < season_start)


def today(tz: str) -> date:
    """Give the present day in a zone."""
    return datetime.now(UTC).astimezone(zone(tz)).date()


def as_text(utc: datetime) -> str:
    """Give an aware instant as the journal writes it, such as 2026-08-10T21:30:00Z."""
    return utc.astimezone(UTC).isoformat().replace("+00:00", "Z")


def aware(column: datetime) -> datetime:
    """Give what a DuckDB column holds (UTC, naive) as an aware instant."""
    return column.replace(tzinfo=UTC)


def stored(moment: datetime) -> datetime:
    """Give an aware instant as a DuckDB column holds it: UTC, naive."""
    return moment.astimezone(UTC).replace(tzinfo=None)


def local(column: datetime, tz: str) -> datetime:
    """Give what a DuckDB column holds (UTC, naive) as local time with its offset."""
    return aware(column).astimezone(zone(tz))


def shown(column: datetime | None, tz: str) -> str:
    """Give a stored instant in words for a message: local time to the minute, or `now`."""
    return f"{local(column, tz):%Y-%m-%d %H:%M}" if column else "now"


def latest_season(session: Session) -> int | None:
    """Give the season of the latest detection whose time isn't in doubt, without any of the latest
    night watched, or None."""
    certain = "SELECT max(day) FROM detections WHERE doubt IS NULL"
    for query in (certain, "SELECT max(night) FROM watch WHERE watched"):
        row = session.con.execute(query).fetchone()
        if row and row[0]:
            return season_of(row[0], session.settings.season_start)
    return None
