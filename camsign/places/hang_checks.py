"""Hangs that cannot be: a day to come, no such place, a camera in two places at once."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

from camsign.errors import UsageError, quoted
from camsign.formats.days import People, begins, ends
from camsign.formats.days import day as on_day
from camsign.geo import check_lat_lon
from camsign.logbook.moments import local, shown, stored, today
from camsign.logbook.session import Session
from camsign.zones import zone

_NEVER = datetime(9999, 1, 1, tzinfo=UTC)


def check_not_ahead(hung: datetime, tz: str) -> None:
    """Refuse a day to come; one ahead is possible, since the person's zone may lie east."""
    day = hung.astimezone(zone(tz)).date()
    if day > today(tz) + timedelta(days=1):
        raise UsageError(f"{on_day(day)} is in the future", "is the year right?")


# Said again within this of its place (some 10 m) and on its day it is the same hang; our choice.
_SAME_DEG = 1e-4


def check_hang(
    session: Session,
    camera: str,
    at: tuple[float, float],
    hung: datetime,
    down: datetime | None,
    but: str = "",
) -> None:
    """Raise UsageError where there is no such place, it ends before it begins, or the camera hangs
    elsewhere at that time, deployment `but` aside."""
    check_lat_lon(*at)
    if down is not None and down <= hung:
        raise UsageError(
            f"{camera} would be taken down before it was hung", "mend one of the times"
        )
    row = session.con.execute(
        "SELECT deployment, lat, lon, hung, taken_down FROM deployments"
        " WHERE camera = ? AND gone IS NOT TRUE AND deployment <> ? AND hung < ?"
        " AND (taken_down IS NULL OR taken_down > ?) ORDER BY hung LIMIT 1",
        [camera, but, stored(down or _NEVER), stored(hung)],
    ).fetchone()
    if row is None:
        return
    other, lat, lon, since, until = row
    tz, begun = session.settings.tz, begins(local(since, session.settings.tz))
    span = f"from {begun} to {ends(local(until, tz))}" if until else f"since {begun}"
    span = People(session.settings.units).prose(span)
    same = abs(lat - at[0]) < _SAME_DEG and abs(lon - at[1]) < _SAME_DEG
    same &= local(since, tz).date() == local(stored(hung), tz).date()
    if same and down is None and until is None:
        raise UsageError(f"{camera} is already up there {span}", "nothing needs to be done")
    day = hung.astimezone(zone(tz)).date()
    earlier = f"up earlier? camsign hang correct {other} --from {day}"
    raise UsageError(
        f"{camera} {'was' if until else 'is'} already up at {lat:.5f},{lon:.5f} {span} ({other}),"
        " and can't hang in two places at once",
        earlier if not but and down is None and stored(hung) < since else
        _once_moved(camera, other, day, local(until, tz) if until else None),
    )  # fmt: skip


def _once_moved(camera: str, other: str, day: date, until: datetime | None) -> str:
    """Say what to do about a hang from a (local) day on which its camera is still up elsewhere."""
    if until is None:
        return f"moved it? camsign takedown {quoted(camera)} --on DAY first"
    if (until - timedelta(seconds=1)).date() != day:
        return "give a day outside of that"
    if until.time() != time(0):
        return f'moved it that day? give the hour: --from "{until:%Y-%m-%d %H:%M}"'
    noon = f'"{day} 12:00"'
    correct = f"camsign hang correct {other} --until {noon}"
    return f"moved it that day? give the hour, such as {correct}, then --from {noon}"


def not_hanging(session: Session, camera: str, when: datetime) -> UsageError:
    """Give the error of a camera that hangs nowhere at a moment, with when it last did."""
    row = session.con.execute(
        "SELECT max(taken_down), count(*) FROM deployments WHERE camera = ? AND gone IS NOT TRUE",
        [camera],
    ).fetchone()
    if row and not row[1]:
        return UsageError(f"no camera {camera} was ever hung", "see: camsign deployments")
    tz = session.settings.tz
    # The end of a day is the next one's beginning.
    day = (when - timedelta(seconds=1)).astimezone(zone(tz))
    last = f"; it was last taken down {shown(row[0], tz)}" if row and row[0] else ""
    return UsageError(
        f"{camera} isn't hanging anywhere on {on_day(day.date())}{last}",
        "see: camsign deployments",
    )
