"""Starting a logbook: its zone comes from where the property is."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from camsign.errors import InputRefused, UsageError
from camsign.logbook import journal, placing, settings
from camsign.logbook.folder import Folder, create
from camsign.units import parse_lat_lon
from camsign.zones import country_of, zone, zone_of

_NEIGHBORS = timedelta(hours=4)


@dataclass(frozen=True, slots=True)
class Started:
    """A new logbook: its folder, the name of its time zone, and in words where home lies by it."""

    logbook: Path
    tz: str
    where: str


def light_of(text: str | None) -> tuple[float, float]:
    """Read minutes of shooting light before sunrise and after sunset, such as "30" or "30,20".

    Raises:
        UsageError: no minutes, or more than two hours.
    """
    said = (text or "").replace("min", "").replace(";", ",").strip() or "30"
    try:
        minutes = [float(x) for x in said.split(",")]
    except ValueError:
        minutes = []
    if len(minutes) not in (1, 2) or not all(0 <= m <= 120 for m in minutes):
        raise UsageError(
            f"shooting light {text!r} is not minutes before sunrise and after sunset",
            "give 0 to 120 minutes, such as 30, or 30,20",
        )
    return minutes[0], minutes[-1]


def start(
    root: Path, home: str | None, units: str, tz: str | None, light: str | None = None
) -> Started:
    """Start a logbook in a new or empty folder.

    Args:
        root: the folder.
        home: "LAT,LON" [deg, WGS 84] of the middle of the property, or None.
        units: "imperial" or "metric".
        tz: a time zone's name; None takes that of `home`.
        light: minutes of shooting light, as `light_of` reads them; None is 30.

    A logbook there in which nothing stands yet gets this home: the first one had a slip.

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
    around = light_of(light)
    name = tz or zone_of(*place) if place else str(tz)
    zone(name)
    if (root / settings.FILE).is_file():
        return _again(Folder(root), home)
    return Started(create(root, name, place, units, around).root, name, where_is(place, name))


def _again(book: Folder, home: str | None) -> Started:
    """Give a logbook that holds nothing yet another home; refuse any other."""
    known = settings.read(book.root / settings.FILE)
    empty = not any(book.cards.iterdir()) and not journal.files(book)[0]
    if empty and home:
        found = move_home(book, home)
        return Started(book.root, found.tz, found.where)
    raise InputRefused(
        f"{book.root} is a logbook already, {where_is(known.home, known.tz)}; nothing was changed",
        "to move home: run camsign there and press `Move home` at the bottom of the page "
        '"From the woods"',
    )


def refuse_slip(home: str) -> None:
    """Refuse a home that lies where nobody hunts deer, or off America for want of a minus.

    Raises:
        UsageError: so, or it is no place.
    """
    found = understood(home, None)
    if found.meant:
        right = f"--home {found.meant.replace(' ', '')}"
        insist = "if it is right, add --anywhere; nothing was made"
        raise UsageError(f"{home} is in {found.country}", f"{found.doubt}: {right}; {insist}")


@dataclass(frozen=True, slots=True)
class Shown:
    """A place as it was understood: in words, with its `country`; what is odd about it (`doubt`),
    and the place that was likely meant, if another.
    """

    lat: float
    lon: float
    tz: str
    where: str
    country: str
    doubt: str | None
    meant: str | None


def understood(home: str, here: str | None) -> Shown:
    """Say back where a home lies, and ask whether a sign was forgotten.

    Args:
        home: "LAT,LON" [deg, WGS 84], as typed.
        here: the time zone that this machine is set to, if known.

    Raises:
        UsageError: it is no place.
    """
    lat, lon = parse_lat_lon(home)
    tz = zone_of(lat, lon)
    doubt, meant = _doubted(lat, lon, tz, here)
    country = "Antarctica" if tz.startswith("Antarctica/") else country_of(tz) or tz
    return Shown(lat, lon, tz, where_is((lat, lon), tz), country, doubt, meant)


def _doubted(lat: float, lon: float, tz: str, here: str | None) -> tuple[str | None, str | None]:
    """Say what is odd about a place, and which one was likely meant; nothing if we are there."""
    other = zone_of(lat, -lon)
    if here and _alike(tz, here):
        return None, None
    if tz.startswith("Antarctica/") and abs(lon) <= 90:
        return "the two numbers look swapped, latitude comes first", f"{lon:g}, {lat:g}"
    if lon > 0 and other.startswith("America/"):
        return "in America the longitude has a minus", f"{lat:g}, {-lon:g}"
    if here and _alike(other, here):
        return "that is the other side of the globe", f"{lat:g}, {-lon:g}"
    return None, None


def _alike(one: str, other: str) -> bool:
    """Whether two zones keep nearly the same time: neighbors do, the far side of the globe not."""
    now = datetime.now(UTC)
    try:
        hours = [now.astimezone(zone(name)).utcoffset() or timedelta() for name in (one, other)]
    except UsageError:  # a browser may name a zone that we do not know
        return False
    return abs(hours[0] - hours[1]) <= _NEIGHBORS


def move_home(folder: Folder, home: str) -> Shown:
    """Put a logbook's home elsewhere; its time zone follows. Answers are computed anew from it.

    Raises:
        UsageError: it is no place, or logbook.toml has no line to change.
    """
    found = understood(home, None)
    path = folder.root / settings.FILE
    text = settings.moved(path.read_text(encoding="utf-8"), (found.lat, found.lon), found.tz)
    placing.place(path, text.encode(), read_only=False)
    return found


def where_is(place: tuple[float, float] | None, tz: str) -> str:
    """Say where home is so that a forgotten minus is seen: sides of the globe, zone and country."""
    country = country_of(tz)
    said = f"time zone {tz} ({country})" if country else f"time zone {tz}"
    if place is None:
        return f"home not named; {said}"
    lat, lon = place
    north, east = "N" if lat >= 0 else "S", "E" if lon >= 0 else "W"
    return f"home {abs(lat):.3f}° {north}, {abs(lon):.3f}° {east}: {said}"
