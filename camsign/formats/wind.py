"""Wind by the hour from files: NOAA's Global Hourly CSV, older ISD records, METAR lines, own CSV.

ISD fields and codes: NOAA/NCEI, Integrated Surface Data format document (2018): direction 999,
speed 9999 and ceiling 99999 are missing, type C is calm, V variable, quality 2, 3, 6 and 7 suspect
or wrong, speeds in tenths of a meter a second, times UTC. METAR: WMO-No. 306, FM 15.
"""

from __future__ import annotations

import gzip
import re
import zlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, tzinfo
from pathlib import Path

from metar import Metar

from camsign.errors import InputRefused, UsageError
from camsign.formats.table import read_table
from camsign.formats.text import decode, plain_number, read_bytes
from camsign.units import parse_bearing

# Faster than any wind that was ever measured near the ground (113 m/s, Barrow Island 1996, WMO).
MOST_MS = 113.0
_MOST_TROUBLES = 20
_BAD_QUALITY = frozenset("2367")
_ISD_LINE = re.compile(r"\d{27}")
_METAR_LINE = re.compile(
    r"\b\d{6}Z\b.*\b(?:\d{3}|VRB|///)(?:\d{2,3}|//)(?:G\d{2,3})?(?:KT|MPS|KMH)\b"
)
_PER_MS = {
    **dict.fromkeys(("ms", "mps"), 1.0),
    **dict.fromkeys(("kn", "kt"), 1852 / 3600),
    "mph": 0.44704,
    "kmh": 1 / 3.6,
}
_WITH_UNIT = re.compile(r"\s*([\d.]+)\s*(m/?s|mps|kn|kts?|knots|mph|km/?h)?\s*", re.I)
_CLOUD = {"CLR": 0.0, "SKC": 0.0, "NSC": 0.0, "NCD": 0.0, "FEW": 0.25, "SCT": 0.5, "BKN": 0.75,
          "OVC": 1.0, "VV": 1.0}  # fmt: skip


@dataclass(frozen=True, slots=True)
class WindHour:
    """The wind at one time (UTC): bearing it comes from [deg true], speed and gust [m/s].

    `from_deg` is None for calm or variable air. `cloud` is the covered share of the sky, 0 to 1;
    `ceiling_m` the cloud base over the ground [m]; None where the file does not say.
    """

    utc: datetime
    from_deg: float | None
    speed_ms: float
    gust_ms: float | None = None
    cloud: float | None = None
    ceiling_m: float | None = None


Head = tuple[str, float | None, float | None]
"""A station, and where it is [deg]."""


@dataclass(frozen=True, slots=True)
class WindFile:
    """What a file says of the wind: its station and where that is [deg], the hours, troubles."""

    station: str
    lat: float | None
    lon: float | None
    hours: list[WindHour] = field(default_factory=list)
    troubles: list[str] = field(default_factory=list)


def read_wind(path: Path, tz: tzinfo, month: date, speed_unit: str) -> WindFile:
    """The wind by hours of any file named above.

    `tz`: of times without an offset in a CSV of one's own; `month`: when METAR lines were sent,
    which name only the day; `speed_unit` (mph, ms, kn or kmh): of a column `speed` without a unit.

    Raises InputRefused: unreadable, too large, or there is no wind in it.
    """
    if path.suffix.lower() in (".csv", ".txt"):
        first = decode(read_bytes(path)[:4000])[0].lower().splitlines()[:1]
        if first and re.search(r"\b(wnd|from|direction)\b", first[0]):
            return _of_table(path, tz, speed_unit)
    lines = _text(path).splitlines()
    if any(_ISD_LINE.match(line) for line in lines[:5]):
        read = ((n, _isd(line)) for n, line in enumerate(lines, 1) if line.strip())
        return _gathered(path, _isd_header(lines), read)
    if any(_METAR_LINE.search(line) for line in lines[:50]):
        station = re.search(r"\b([A-Z]{4}) \d{6}Z", "\n".join(lines))
        told = ((n, _metar(s, month)) for n, s in enumerate(lines, 1) if _METAR_LINE.search(s))
        return _gathered(path, (station[1] if station else "", None, None), told)
    raise InputRefused(
        f"{path} holds no wind that camsign knows",
        "give Global Hourly CSV, ISD, METAR lines, or a CSV with time, from, speed",
    )


def _text(path: Path) -> str:
    raw = read_bytes(path)
    if raw[:2] == b"\x1f\x8b":
        try:
            with gzip.open(path) as packed:
                raw = packed.read(200_000_001)
        except (OSError, EOFError, zlib.error) as err:
            raise InputRefused(f"{path} is a damaged archive: {err}", "download it again") from err
        if len(raw) > 200_000_000:
            raise InputRefused(f"{path} unpacks to over 200 MB", "give one station and year")
    return decode(raw)[0]


def _gathered(
    path: Path,
    head: Head,
    read: Iterable[tuple[int, WindHour | str | None]],
) -> WindFile:
    """Hours in order of time; what cannot be read is a trouble, what is missing is passed over."""
    out = WindFile(*head)
    hours: dict[datetime, WindHour] = {}
    left_out = 0
    for line, hour in read:
        if isinstance(hour, WindHour):
            hours[hour.utc] = hour
        elif hour is not None:
            left_out += 1
            if left_out <= _MOST_TROUBLES:
                out.troubles.append(f"{path.name}: line {line} left out: {hour}")
    if left_out > _MOST_TROUBLES:
        out.troubles.append(f"{path.name}: {left_out - _MOST_TROUBLES} more lines left out")
    if not hours:
        raise InputRefused(f"{path} holds no hour with a wind", "check that it is the right file")
    out.hours.extend(hours[utc] for utc in sorted(hours))
    return out


def _made(
    utc: datetime,
    from_deg: float | None,
    speed: float,
    gust: float | None,
    cloud: float | None,
    ceiling: float | None,
) -> WindHour | str:
    if not 0 <= speed <= MOST_MS:
        return f"a wind of {speed:g} m/s"
    if from_deg is not None and not 0 <= from_deg <= 360:
        return f"a wind from {from_deg:g} degrees"
    bearing = None if speed == 0 or from_deg is None else from_deg % 360
    good = gust if gust is not None and speed <= gust <= MOST_MS else None
    return WindHour(utc, bearing, speed, good, cloud, ceiling)


# --- NOAA ISD, fixed columns -------------------------------------------------------------------


def _isd_header(lines: list[str]) -> Head:
    line = next(line for line in lines if _ISD_LINE.match(line))
    lat, lon = plain_number(line[28:34]), plain_number(line[34:41])
    if lat is None or lon is None or abs(lat) > 90_000 or abs(lon) > 180_000:
        return line[4:15], None, None
    return line[4:15], lat / 1000, lon / 1000


def _isd(line: str) -> WindHour | str | None:
    try:
        utc = datetime.strptime(line[15:27], "%Y%m%d%H%M").replace(tzinfo=UTC)
    except ValueError:
        return "its date is no date"
    wind = (line[60:63], line[63:64], line[64:65], line[65:69], line[69:70])
    return _coded(utc, wind, line[70:75], _oktas(_behind(line, "GF1")), _gust(_behind(line, "OC1")))


def _behind(line: str, mark: str) -> str:
    at = line.find(mark, 105)
    return line[at + 3 : at + 8] if at > 0 else ""


def _coded(
    utc: datetime,
    wind: tuple[str, ...],
    ceiling: str,
    cloud: float | None,
    gust: float | None,
) -> WindHour | str | None:
    """ISD's coded wind (direction, quality, type, speed, quality); None where it is missing."""
    direction, q1, kind, speed, q2 = wind
    if speed == "9999" or not speed.isdigit() or _BAD_QUALITY & {q1, q2}:
        return None
    variable = direction == "999" or kind in "CV"
    if not variable and not direction.isdigit():
        return f"a wind direction of {direction!r}"
    base = plain_number(ceiling)
    high = None if base is None or base >= 22000 else base
    bearing = None if variable else float(direction)
    return _made(utc, bearing, int(speed) / 10, gust, cloud, high)


def _oktas(code: str) -> float | None:
    """Cloud cover of an ISD code in eighths, 09 (sky hidden) as all covered."""
    digits = code[:2]
    return min(int(digits), 8) / 8 if digits.isdigit() and int(digits) <= 9 else None


def _gust(code: str) -> float | None:
    digits = code[:4]
    return int(digits) / 10 if digits.isdigit() and digits != "9999" else None


# --- tables: NOAA's Global Hourly, or one's own --------------------------------------------------


def _of_table(path: Path, tz: tzinfo, speed_unit: str) -> WindFile:
    table = read_table(path)
    names = {name.lower().strip(): name for name in table.columns}
    head: Head = (path.stem, None, None)
    row_of: Callable[[Mapping[str, str]], WindHour | str | None] = _hourly
    if "wnd" not in names:
        row_of = _own(names, tz, speed_unit, path)
    else:
        first = table.rows[0].cells if table.rows else {}
        lat, lon = (plain_number(first.get(name)) for name in ("LATITUDE", "LONGITUDE"))
        head = (first.get("STATION", ""), lat, lon)
    out = _gathered(path, head, ((row.line, row_of(row.cells)) for row in table.rows))
    out.troubles.extend(f"{path.name}: {trouble}" for trouble in table.troubles)
    return out


def _hourly(cells: Mapping[str, str]) -> WindHour | str | None:
    try:
        utc = datetime.fromisoformat(cells.get("DATE", "")).replace(tzinfo=UTC)
    except ValueError:
        return "its date is no date"
    wind = tuple(cells.get("WND", "").split(","))
    if len(wind) != 5:
        return None
    ceiling = cells.get("CIG", "").split(",")[0]
    layers = [_oktas(cells.get(f"GA{i}", "")) for i in range(1, 7)]
    known = [share for share in layers if share is not None]
    cloud = _oktas(cells.get("GF1", ""))
    if cloud is None and known:
        cloud = max(known)
    return _coded(utc, wind, ceiling, cloud, _gust(cells.get("OC1", "").replace(",", "")))


def _own(
    names: Mapping[str, str], tz: tzinfo, speed_unit: str, path: Path
) -> Callable[[Mapping[str, str]], WindHour | str | None]:
    when = next((names[n] for n in ("time", "utc", "when", "date") if n in names), None)
    toward = next((names[n] for n in ("from", "direction", "wind", "dir") if n in names), None)
    speed = next(((names[n], n) for n in names if n.split("_")[0] == "speed"), None)
    if when is None or toward is None or speed is None:
        raise InputRefused(f"{path} lacks a column", "name them time, from, speed (gust, cloud)")
    unit = speed[1].partition("_")[2] or speed_unit
    if unit not in _PER_MS:
        raise InputRefused(f"{path}: no unit {unit!r} of speed", f"say {', '.join(_PER_MS)}")
    gust = next((names[n] for n in names if n.split("_")[0] == "gust"), "")
    in_utc = when.lower() == "utc"

    def row(cells: Mapping[str, str]) -> WindHour | str | None:
        try:
            at = datetime.fromisoformat(cells.get(when, "").strip())
        except ValueError:
            return f"{cells.get(when, '')!r} is no time"
        at = at if at.tzinfo else at.replace(tzinfo=UTC if in_utc else tz)
        fast = _speed(cells.get(speed[0], ""), unit)
        if fast is None:
            return None if not cells.get(speed[0], "").strip() else "its speed is no speed"
        bearing = _bearing(cells.get(toward, ""))
        if isinstance(bearing, str):
            return bearing
        cloud = _share(cells.get(names.get("cloud", ""), ""))
        return _made(
            at.astimezone(UTC), bearing, fast, _speed(cells.get(gust, ""), unit), cloud, None
        )

    return row


def _speed(text: str, unit: str) -> float | None:
    found = _WITH_UNIT.fullmatch(text)
    number = plain_number(found.group(1)) if found else None
    if found is None or number is None:
        return None
    said = (found.group(2) or unit).lower().replace("/", "").replace("knots", "kn")
    return number * _PER_MS.get(said.removesuffix("s") if said == "kts" else said, _PER_MS[unit])


def _bearing(text: str) -> float | str | None:
    if text.strip().upper() in ("", "VRB", "CALM", "VARIABLE"):
        return None
    try:
        said = parse_bearing(text)
    except UsageError:
        return f"{text!r} is no bearing"
    # A wind file's bearings are true; it does not say where a needle would have been read.
    return f"{text!r} is magnetic, not true" if said.reference == "magnetic" else said.deg


def _share(text: str) -> float | None:
    percent = text.strip().endswith("%")
    number = plain_number(text.strip().removesuffix("%"))
    if number is None:
        return None
    share = number / 100 if percent or number > 1 else number
    return share if 0 <= share <= 1 else None


# --- METAR ---------------------------------------------------------------------------------------


def _metar(line: str, month: date) -> WindHour | str | None:
    try:
        told = Metar.Metar(
            line.strip().rstrip("="), month=month.month, year=month.year, strict=False
        )
    except (Metar.ParserError, ValueError) as err:
        return str(err).splitlines()[0]
    if told.wind_speed is None or told.time is None:
        return None
    bearing = told.wind_dir.value() if told.wind_dir is not None else None
    gust = told.wind_gust.value("MPS") if told.wind_gust is not None else None
    layers = [layer[0] for layer in told.sky]
    cloud = max((_CLOUD[layer] for layer in layers if layer in _CLOUD), default=None)
    bases = [
        layer[1].value("M") for layer in told.sky if layer[0] in ("BKN", "OVC", "VV") and layer[1]
    ]
    utc = told.time.replace(tzinfo=UTC)
    return _made(utc, bearing, told.wind_speed.value("MPS"), gust, cloud, min(bases, default=None))
