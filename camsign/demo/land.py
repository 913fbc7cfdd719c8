"""The made-up property, read from season.toml: where its areas and cameras are, who lives there.

Places are meters east and north of an origin, turned into degrees once.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import cache
from math import atan2, cos, degrees, hypot, radians, sin
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from camsign.geo import destination

DATA: dict[str, Any] = tomllib.loads(
    Path(__file__).with_name("season.toml").read_text(encoding="utf-8")
)
PROPERTY, TZ, MATURE_AGE = DATA["name"], DATA["tz"], DATA["mature_age"]
ORIGIN: tuple[float, float] = (DATA["origin"][0], DATA["origin"][1])  # [deg]
FIRST_DAY, LAST_DAY = DATA["days"]
RUT: tuple[date, date] = (DATA["rut"][0], DATA["rut"][1])
Meters = tuple[float, float]


@cache
def place(at: Meters) -> tuple[float, float]:
    """Latitude and longitude [deg] of a point in meters east and north of the origin."""
    lat, lon = destination(*ORIGIN, degrees(atan2(at[0], at[1])), hypot(*at))
    return round(float(lat), 6), round(float(lon), 6)


def moved(at: Meters, bearing_deg: float, by: float) -> Meters:
    """The point that lies by [m] along a bearing from another."""
    turn = radians(bearing_deg)
    return at[0] + by * sin(turn), at[1] + by * cos(turn)


def day_of(when: datetime) -> date:
    """The calendar day at the property."""
    return when.astimezone(ZoneInfo(TZ)).date()


def _utc(there: datetime) -> datetime:
    return there.replace(tzinfo=ZoneInfo(TZ)).astimezone(UTC)


@dataclass(frozen=True, slots=True)
class Antlers:
    """One buck's antlers: inside spread, beam and tines [m], brow tine first; see season.toml."""

    spread: float
    beam: float
    mass: float
    tines: tuple[float, ...]
    odd: tuple[float, ...] | None = None


@dataclass(frozen=True, slots=True)
class Buck:
    """One individual: what people say of him, how he is built and how he lives: see season.toml."""

    name: str
    age: float
    basis: str
    antlers: Antlers
    beds: Mapping[str, float]
    size: float
    depth: float
    faithful: float
    comes_min: float
    goes_min: float
    nights: Mapping[str, float]
    top_cm: tuple[float, float]
    note: str = ""
    age_year: int = 2025


@dataclass(frozen=True, slots=True)
class Area:
    """A named piece of ground as the hunter drew it, and what it really is."""

    name: str
    kind: str
    middle: Meters
    outline: tuple[Meters, ...]
    really: str  # bedding, feeding or travel


@dataclass(frozen=True, slots=True)
class View:
    """What stands before one camera: the seed of its woods and what they are made of."""

    seed: int
    trees: tuple[str, ...]
    trunk: int = 34
    fir: int = 5
    sapling: int = 5
    fern: int = 14
    stone: int = 3
    log: int = 1
    trail_m: float = 7.0  # distance of the trail that crosses the view [m]
    open: float = 0.3  # how much sky shows between the crowns, 0 to 1

    def count(self, kind: str) -> int:
        """How many of a kind of thing stand there."""
        return int(getattr(self, kind))


@dataclass(frozen=True, slots=True)
class Camera:
    """One camera."""

    camera: str
    model: str
    serial: str | None = None
    make: str = "Fernholt"


@dataclass(frozen=True, slots=True)
class Deployment:
    """One camera at one place; times UTC. `dead`: a span without power; `ran_out`: its last life.

    `trail_deg` is the bearing along the trail that crosses the view, out of the area if there is
    one. `dark_deg`: sun heights at which it takes to infrared, at dawn and at dusk [deg].
    """

    key: str
    camera: Camera
    area: str | None
    at: Meters
    trail_deg: float
    facing_deg: float
    hung: datetime
    until: datetime
    view: View
    dark_deg: tuple[float, float]
    windy: float
    dead: tuple[datetime, ...]
    ran_out: datetime | None
    knocked: datetime | None
    pulls: tuple[datetime, ...]  # those before it was taken down
    folders: tuple[str, ...]  # of its cards
    clock_hours: int = -4  # its clock keeps the offset of the day on which it was hung

    def alive(self, when: datetime) -> bool:
        """Whether it hangs and has power at an instant."""
        if self.dead and self.dead[0] <= when < self.dead[1]:
            return False
        return self.hung <= when <= (self.ran_out or self.until)

    def to_right(self, travel_deg: float) -> bool:
        """Whether somebody with this heading goes to the right in its pictures."""
        return (travel_deg - self.facing_deg) % 360 < 180


KNOB, SHELF, EDGE, SWALE = DATA["areas"]
CORRIDOR: Meters = (DATA["corridor"]["at"][0], DATA["corridor"]["at"][1])
MIDDLE: Mapping[str, Meters] = {k: (v["at"][0], v["at"][1]) for k, v in DATA["areas"].items()}
AXIS: Mapping[str, float] = {k: v["axis"] for k, v in DATA["areas"].items() if "axis" in v} | {
    "corridor": DATA["corridor"]["axis"]
}
EDGE_LENGTH: float = DATA["areas"][EDGE]["strip"][0]
WAYS: Mapping[str, list[float]] = {k: v["ways"] for k, v in DATA["areas"].items() if "ways" in v}


def way_place(area: str, way: int) -> Meters:
    """Where one of the ways out of a bedding area leaves it."""
    return moved(MIDDLE[area], WAYS[area][way], 88)


def _area(name: str, row: dict[str, Any]) -> Area:
    middle = MIDDLE[name]
    if "radii" in row:
        step = 360 / len(row["radii"])
        outline = [moved(middle, i * step, size) for i, size in enumerate(row["radii"])]
    else:
        (long, wide), axis = row["strip"], row["axis"]
        a, b = (moved(middle, axis + turn, long / 2) for turn in (0, 180))
        corners = ((a, 90), (b, 90), (b, -90), (a, -90))
        outline = [moved(end, axis + side, wide / 2) for end, side in corners]
    return Area(name, row["kind"], middle, tuple(outline), row["really"])


def _buck(row: dict[str, Any]) -> Buck:
    horn: dict[str, Any] = {
        k: tuple(v) if isinstance(v, list) else v for k, v in row["antlers"].items()
    }
    row = {**row, "antlers": Antlers(**horn), "top_cm": tuple(row["top_cm"])}
    return Buck(**row)


def _deployment(key: str, row: dict[str, Any]) -> Deployment:
    area, view = row.get("area"), {**row["view"], "trees": tuple(row["view"]["trees"])}
    at = MIDDLE[area] if area else CORRIDOR
    at = way_place(str(area), row["way"]) if "way" in row else at
    camera = key.split("-")[0]
    *pulls, until = map(_utc, row["pulls"])
    ran_out, knocked = (_utc(row[k]) if k in row else None for k in ("ran_out", "knocked"))
    return Deployment(
        key, Camera(camera, **DATA["cameras"][camera]), area, at, row["trail"], row["facing"],
        _utc(row["hung"]), until, View(**view),
        tuple(row["dark"]), row.get("windy", 1.0), tuple(map(_utc, row.get("dead", ()))), ran_out,
        knocked, tuple(pulls), tuple(row["folders"]),
    )  # fmt: skip


AREAS = tuple(_area(name, row) for name, row in DATA["areas"].items())
BUCKS = tuple(_buck(row) for row in DATA["bucks"])
DEPLOYMENTS = tuple(_deployment(key, row) for key, row in DATA["deployments"].items())
