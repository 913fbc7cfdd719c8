"""Starting a logbook: its zone comes from where the property is."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from camsign.errors import UsageError
from camsign.logbook.folder import create
from camsign.units import parse_lat_lon
from camsign.zones import zone, zone_of


@dataclass(frozen=True, slots=True)
class Started:
    """A new logbook: its folder and the name of its time zone."""

    logbook: Path
    tz: str


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
    return Started(create(root, name, place, units).root, name)
