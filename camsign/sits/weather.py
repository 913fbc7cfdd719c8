"""Winds kept in the logbook, by station and hour, and the wind that a question is asked for."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from camsign.air.spread import FORECAST_DEG
from camsign.errors import InputRefused, UsageError
from camsign.geo import distance_bearing
from camsign.logbook import placing
from camsign.logbook.database import in_memory, one_file
from camsign.logbook.folder import Folder
from camsign.units import parse_bearing

if TYPE_CHECKING:
    from camsign.formats.wind import WindFile, WindHour

FOLDER = "weather"
FAR_M = 150_000.0
_STALE = timedelta(minutes=90)
_UNITS = {"imperial": "mph", "metric": "kmh"}
_CALM = frozenset({"calm", "none", "variable", "vrb"})


@dataclass(frozen=True, slots=True)
class Sky:
    """What a question knows of the air: the wind at an instant, and how far its bearing is off.

    `typed`: somebody said it of the hours of the sit; of others it says nothing.
    """

    wind: Callable[[datetime], WindHour | None]
    doubt_deg: float = FORECAST_DEG
    typed: bool = False


@dataclass(frozen=True, slots=True)
class Taken:
    """A wind file taken in: its station, hours, first and last (UTC), and what was left out."""

    station: str
    hours: int
    first: datetime
    last: datetime
    written: str
    troubles: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Row:
    utc: str
    from_deg: float | None
    speed_ms: float
    gust_ms: float | None
    cloud: float | None
    ceiling_m: float | None


def import_wind(folder: Folder, path: Path, month: date, anywhere: bool = False) -> Taken:
    """Take a wind file into the logbook; hours of the same station that come again replace those.

    Raises:
        InputRefused: there is no wind in it, or the station is far from here.
    """
    read, home = read_for(folder, path, month), folder.settings.home
    if home is not None and read.lat is not None and read.lon is not None and not anywhere:
        away, _ = distance_bearing(*home, read.lat, read.lon)
        if away > FAR_M:
            raise InputRefused(
                f"{path.name}: its station is {away / 1000:.0f} km ({away / 1609.344:.0f} mi) away",
                "take a nearer one, or say --anywhere",
            )
    name = re.sub(r"[^\w-]", "_", read.station or path.stem)[:60] or "station"
    target = folder.root / FOLDER / f"{name}.parquet"
    hours = {h.utc: h for h in _kept(target)} | {h.utc: h for h in read.hours}
    _write(target, [hours[utc] for utc in sorted(hours)])
    return Taken(
        name, len(read.hours), read.hours[0].utc, read.hours[-1].utc, str(target),
        tuple(read.troubles),
    )  # fmt: skip


def read_for(folder: Folder, path: Path, month: date) -> WindFile:
    """Read a wind file as this logbook means it: its time zone, its units. Raises InputRefused."""
    from camsign.formats.wind import read_wind

    settings = folder.settings
    return read_wind(path, ZoneInfo(settings.tz), month, _UNITS[settings.units])


def _kept(path: Path) -> list[WindHour]:
    from camsign.formats.wind import WindHour

    if not path.exists():
        return []
    con = in_memory()
    try:
        read = "SELECT * FROM read_parquet([?], hive_partitioning = false)"
        rows = con.execute(read, [one_file(path)]).fetchall()
    finally:
        con.close()
    return [WindHour(datetime.fromisoformat(row[0]).replace(tzinfo=UTC), *row[1:]) for row in rows]


def _write(path: Path, hours: list[WindHour]) -> None:
    from camsign.logbook.parquet import RowFile

    path.parent.mkdir(exist_ok=True)
    temp = path.with_suffix(".tmp")
    with RowFile(_Row) as out:
        out.add(
            _Row(
                h.utc.replace(tzinfo=None).isoformat(), h.from_deg, h.speed_ms, h.gust_ms, h.cloud,
                h.ceiling_m,
            )
            for h in hours
        )  # fmt: skip
        out.write(temp)
    placing.adopt(temp, path)


def kept_winds(folder: Folder, first: datetime, last: datetime) -> list[WindHour]:
    """The kept hours of all stations from first to last (UTC), in order of time."""
    there = sorted((folder.root / FOLDER).glob("*.parquet"))
    found = [hour for path in there for hour in _kept(path) if first <= hour.utc <= last]
    return sorted(found, key=lambda hour: hour.utc)


def wind_at(hours: list[WindHour], utc: datetime) -> WindHour | None:
    """The nearest hour in time, None where none is within an hour and a half."""
    best = min(hours, key=lambda hour: abs(hour.utc - utc), default=None)
    return best if best is not None and abs(best.utc - utc) <= _STALE else None


def said_wind(from_deg: float | None, speed_ms: float, cloud: float | None) -> WindHour:
    """A wind that somebody typed, which holds for the whole sit.

    Raises:
        UsageError: a speed below 0 or above a hurricane's.
    """
    from camsign.formats.wind import WindHour

    if not 0 <= speed_ms <= 60:
        raise UsageError(f"a wind of {speed_ms:g} m/s is not between 0 and 60 m/s")
    return WindHour(datetime(2000, 1, 1, tzinfo=UTC), from_deg, speed_ms, None, cloud)


def typed_sky(wind: str | None, speed_ms: float | None, cloud: float | None) -> Sky:
    """The wind that somebody typed, for all hours of the sit: bearing it comes from, speed [m/s].

    Raises:
        UsageError: a bearing without a speed, a speed without a bearing, or neither makes sense.
    """
    calm = wind is not None and wind.strip().lower() in _CALM
    from_deg = None if calm or wind is None else parse_bearing(wind).deg
    if speed_ms is None and not calm:
        raise UsageError("the wind's speed is missing", "say it too, such as --mph 6")
    if wind is None:
        raise UsageError("where the wind comes from is missing", "say it too, such as --wind NW")
    hour = said_wind(from_deg, speed_ms or 0.0, cloud)
    return Sky(lambda _: hour, typed=True)


def sky_of_file(folder: Folder, path: Path, day: date) -> tuple[Sky, list[str]]:
    """The winds of a file's hours, and what of it was left out. Raises InputRefused."""
    read = read_for(folder, path, day)
    return Sky(lambda when: wind_at(read.hours, when)), read.troubles


def kept_sky(folder: Folder, day: date) -> Sky:
    """The winds kept in the logbook for a local day."""
    noon = datetime.combine(day, time(12), ZoneInfo(folder.settings.tz)).astimezone(UTC)
    hours = kept_winds(folder, noon - timedelta(hours=16), noon + timedelta(hours=16))
    return Sky(lambda when: wind_at(hours, when))
