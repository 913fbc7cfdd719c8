"""The wind a question is asked for: typed by a person, of a file, or kept in the logbook."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from camsign.errors import UsageError
from camsign.logbook.folder import Folder
from camsign.sits.airs import Sky
from camsign.sits.weather import kept_winds, read_for, said_wind, wind_at
from camsign.units import parse_bearing

_CALM = frozenset({"calm", "none", "variable", "vrb"})


def typed_sky(wind: str | None, speed_ms: float | None, cloud: float | None) -> Sky:
    """The wind that somebody typed, for all hours of the sit: bearing it comes from, speed [m/s].

    Raises:
        UsageError: a bearing without a speed, a speed without a bearing, or neither makes sense.
    """
    calm = wind is not None and wind.strip().lower() in _CALM
    if speed_ms is None and not calm:
        raise UsageError("the wind's speed is missing", "say it too, such as --mph 6")
    if wind is None:
        raise UsageError("where the wind comes from is missing", "say it too, such as --wind NW")
    bearing = None if calm else parse_bearing(wind).deg
    hours = said_wind(bearing, speed_ms or 0.0, cloud)
    return Sky(lambda _: hours[0], typed=True)


def sky_of_file(folder: Folder, path: Path, day: date) -> tuple[Sky, list[str]]:
    """The winds of a file's hours, and what of it was left out. Raises InputRefused."""
    read = read_for(folder, path, day)
    return Sky(lambda when: wind_at(read.hours, when)), read.troubles


def kept_sky(folder: Folder, day: date) -> Sky:
    """The winds kept in the logbook for a local day."""
    noon = datetime.combine(day, time(12), ZoneInfo(folder.settings.tz)).astimezone(UTC)
    hours = kept_winds(folder, noon - timedelta(hours=16), noon + timedelta(hours=16))
    return Sky(lambda when: wind_at(hours, when))
