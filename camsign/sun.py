"""Where the sun stands, and when it rises and sets, as pure functions.

The sun's place is the lower-accuracy theory of J. Meeus, Astronomical algorithms, 2nd ed. (1998),
chapter 25 (0.01°), with sidereal time and nutation of chapters 12 and 22, for whole arrays at once.
Heights are of the sun's center, from the Earth's center (0.0024° more than from its surface at
most). Rise and set by the US Naval Observatory's zenith of 90°50', civil twilight 96°.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from camsign.arrays import Floats, Times

# Heights of the center [deg]: upper limb on the horizon behind 34' of refraction; civil twilight.
RISE_SET_DEG = -50 / 60
CIVIL_DEG = -6.0

# Terrestrial less universal time [s]: 64 to 75 from 2000 to 2040, and 10 s move the sun 0.0001°.
_DELTA_T = 69.0
_DAY = 86400.0
# Degrees of hour angle in a day of universal time.
_TURN = 360.98564736629


@dataclass(frozen=True, slots=True)
class SunDays:
    """The sun's times at one place, one element a local calendar day.

    `day` is datetime64[D], the others UTC as datetime64[s]. Of each day: the noon that belongs to
    it, the dawn and sunrise before that noon, the sunset and dusk after it. Where nights are short
    and clocks ahead of the sun, a sunset may thus fall after the day's midnight. NaT where the sun
    does not come through that height between this noon and the midnight beside it. `up_from`,
    `up_until`: the span around noon in which it is up, from the midnight before where it was up
    then and to the midnight after where it stays up; NaT where it does not come up at all. So a
    polar day is up from midnight to midnight, and a polar night never.
    """

    day: Times
    noon: Times
    civil_dawn: Times
    sunrise: Times
    sunset: Times
    civil_dusk: Times
    up_from: Times
    up_until: Times


def sun_days(lat: float, lon: float, first: date, last: date, tz: str | tzinfo) -> SunDays:
    """Sunrise, sunset and civil twilight at a place [deg] for each local day from first to last.

    `tz` (a zone or its IANA name) says what a day is. To the second; right to about 5 s below 60°
    of latitude, where a level horizon and mean refraction are assumed.
    """
    noon = _noons(first, last, tz, lon)
    half = np.array([-0.5, 0.5])[:, None] * 360 / _TURN
    midnights = noon + half
    events = [_crossing(lat, lon, height, noon, midnights) for height in (CIVIL_DEG, RISE_SET_DEG)]
    (dawn, dusk), (rise, sunset) = (_to_utc(event) for event in events)
    up = _height(lat, lon, midnights) >= RISE_SET_DEG
    # A sun that stays up does so until the next day's span begins: days differ by half a minute.
    edges = noon + np.array([-0.5, 0.5])[:, None] * (1 + 120 / _DAY)
    since, until = _to_utc(np.where(up, edges, events[1]))
    days = np.arange(np.datetime64(first, "D"), np.datetime64(last, "D") + 1)
    return SunDays(days, _to_utc(noon), dawn, rise, sunset, dusk, since, until)


def sun_height(
    lat: npt.ArrayLike, lon: npt.ArrayLike, utc: npt.ArrayLike, apparent: bool = False
) -> Floats:
    """Height of the sun's center above the horizon [deg], NaN for NaT.

    `lat`, `lon` [deg] and `utc` (datetime64 of any unit) broadcast. Geometric, within 0.02°;
    `apparent` adds mean refraction (1010 mb, 10 °C) above -1°, below which the sun is out of
    sight: Meeus 1998, formula 16.4, after Sæmundsson.
    """
    height = _height(np.asarray(lat, dtype=float), np.asarray(lon, dtype=float), _from_utc(utc))
    if not apparent:
        return height
    bent = 1.02 / 60 / np.tan(np.radians(height + 10.3 / (height + 5.11)))
    return np.where(height > -1, height + bent, height)[()]


def sun_bearing(lat: npt.ArrayLike, lon: npt.ArrayLike, utc: npt.ArrayLike) -> Floats:
    """Bearing of the sun's center, clockwise from true north, 0 to 360 [deg]; NaN for NaT.

    `lat`, `lon` [deg] and `utc` (datetime64 of any unit) broadcast. Meeus 1998, formula 13.5.
    """
    turned, declination = _hour_angle_and_declination(np.asarray(lon, dtype=float), _from_utc(utc))
    phi, hour = np.radians(np.asarray(lat, dtype=float)), np.radians(turned)
    from_south = np.arctan2(
        np.sin(hour), np.cos(hour) * np.sin(phi) - np.tan(declination) * np.cos(phi)
    )
    bearing: Floats = (np.degrees(from_south) + 180) % 360
    return bearing


def _noons(first: date, last: date, tz: str | tzinfo, lon: float) -> Floats:
    """The sun's upper transits nearest the clock's noons, in days since J2000; exact to 0.1 s."""
    zone = ZoneInfo(tz) if isinstance(tz, str) else tz
    days = (first + timedelta(days=i) for i in range((last - first).days + 1))
    clocks = [datetime.combine(day, time(12), zone).astimezone(UTC) for day in days]
    noon = _from_utc(np.array([at.replace(tzinfo=None) for at in clocks], "datetime64[s]"))
    for _ in range(3):
        noon = noon - _hour_angle_and_declination(lon, noon)[0] / _TURN
    return noon


def _crossing(lat: float, lon: float, height: float, noon: Floats, midnights: Floats) -> Floats:
    """When the sun comes through a height [deg] between each midnight and its noon, else NaN.

    The height only rises from midnight to noon and falls again, so halving the span finds it:
    20 halvings of 12 h leave 0.04 s.
    """
    below, above = midnights, np.broadcast_to(noon, midnights.shape)
    comes = (_height(lat, lon, below) < height) & (_height(lat, lon, above) >= height)
    for _ in range(20):
        middle = (below + above) / 2
        under = _height(lat, lon, middle) < height
        below, above = np.where(under, middle, below), np.where(under, above, middle)
    return np.where(comes, (below + above) / 2, np.nan)


def _height(lat: npt.ArrayLike, lon: npt.ArrayLike, days: Floats) -> Floats:
    """Geometric height of the sun's center [deg] at days since J2000; Meeus 1998, formula 13.6."""
    turned, declination = _hour_angle_and_declination(lon, days)
    phi = np.radians(lat)
    sine = np.sin(phi) * np.sin(declination)
    sine = sine + np.cos(phi) * np.cos(declination) * np.cos(np.radians(turned))
    height: Floats = np.degrees(np.arcsin(np.clip(sine, -1, 1)))
    return height


def _hour_angle_and_declination(lon: npt.ArrayLike, days: Floats) -> tuple[Floats, Floats]:
    """Local hour angle, -180 to 180 [deg], and declination [rad] of the apparent sun.

    Meeus 1998: place of the sun, chapter 25; sidereal time, formula 12.4.
    """
    t = (days + _DELTA_T / _DAY) / 36525
    anomaly = np.radians(357.52911 + t * (35999.05029 - 0.0001537 * t))
    node = np.radians(125.04 - 1934.136 * t)
    longitude = (
        280.46646
        + t * (36000.76983 + 0.0003032 * t)
        + (1.914602 - t * (0.004817 + 0.000014 * t)) * np.sin(anomaly)
        + (0.019993 - 0.000101 * t) * np.sin(2 * anomaly)
        + 0.000289 * np.sin(3 * anomaly)
    )
    nutation = -0.00478 * np.sin(node)
    apparent = np.radians(longitude - 0.00569 + nutation)
    tilt = np.radians(23.4392911 - 0.0130042 * t + 0.00256 * np.cos(node))
    ascension = np.arctan2(np.cos(tilt) * np.sin(apparent), np.cos(apparent))
    sidereal = 280.46061837 + _TURN * days + nutation * np.cos(tilt)
    turned = np.mod(sidereal + np.asarray(lon) - np.degrees(ascension) + 180, 360) - 180
    return turned, np.arcsin(np.sin(tilt) * np.sin(apparent))


def _from_utc(utc: npt.ArrayLike) -> Floats:
    """Days since J2000, 2000-01-01 12:00 UTC; NaN for NaT."""
    since = np.asarray(utc, dtype="datetime64") - np.datetime64("2000-01-01T12:00:00", "s")
    seconds: Floats = since / np.timedelta64(1, "s")
    return seconds / _DAY


def _to_utc(days: Floats) -> Times:
    """Back to datetime64[s], rounded; NaT for NaN."""
    there = np.isfinite(days)
    seconds = np.rint(np.where(there, days, 0) * _DAY).astype("int64").astype("timedelta64[s]")
    stamps = np.datetime64("2000-01-01T12:00:00", "s") + seconds
    return np.where(there, stamps, np.datetime64("NaT", "s"))
