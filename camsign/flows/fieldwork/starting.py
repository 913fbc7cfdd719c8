"""Starting a logbook: its zone comes from where the property is."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from camsign.errors import UsageError
from camsign.logbook.folder import create
from camsign.units import parse_lat_lon
from camsign.zones import country_of, zone, zone_of


@dataclass(frozen=True, slots=True)
class Started:
    """A new logbook: its folder, the name of its time zone, and in words where home lies by it."""

    logbook: Path
    tz: str
    where: str


def start(root: Path, home: str | None, units: str, tz: str | None) -> Started:
    """Start a logbook in a new or empty folder.

    Args:
        root: the folder.
        home: "LAT,LON" [deg, WGS 84] of the middle of the property, or None.
        units: "imperial" or "metric".
        tz: a time zone's name; None takes that of `home`.

    Raises:
        UsageError: neither home nor tz, or one of them is none.
        InputRefused: there is something in the folder already.
    """
    if units not in ("imperial", "metric"):
        raise UsageError(f"units {units!r} are not known", "say imperial or metric")
    place = parse_lat_lon(home) if home else None
    if place is None and tz is None:
        raise UsageError(
            "the time zone is not known", "name the property with --home LAT,LON, or give --tz"
        )
    name = tz or zone_of(*place) if place else str(tz)
    zone(name)
    return Started(create(root, name, place, units).root, name, _where(place, name))


def _where(place: tuple[float, float] | None, tz: str) -> str:
    """Say where home is so that a forgotten minus is seen: sides of the globe, zone and country."""
    country = country_of(tz)
    said = f"time zone {tz} ({country})" if country else f"time zone {tz}"
    if place is None:
        return said
    lat, lon = place
    north, east = "N" if lat >= 0 else "S", "E" if lon >= 0 else "W"
    return f"home {abs(lat):.3f}° {north}, {abs(lon):.3f}° {east}: {said}"
