"""The invented property: where its areas and cameras are, and which bucks live there.

Every name is made up. Places are metres east and north of an origin, turned into degrees once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from functools import cache
from math import atan2, cos, degrees, hypot, radians, sin
from zoneinfo import ZoneInfo

from camsign.geo import destination

PROPERTY = "Thistlewick Gore"
TZ = "America/New_York"
ORIGIN = (44.6150, -71.2350)  # [deg], somewhere in the woods
FIRST_DAY, LAST_DAY = date(2025, 8, 10), date(2025, 12, 5)
RUT = (date(2025, 10, 30), date(2025, 11, 22))

Metres = tuple[float, float]


@cache
def place(at: Metres) -> tuple[float, float]:
    """Latitude and longitude [deg] of a point in metres east and north of the origin."""
    bearing, away = degrees(atan2(at[0], at[1])), hypot(*at)
    lat, lon = destination(*ORIGIN, bearing, away)
    return round(float(lat), 6), round(float(lon), 6)


def moved(at: Metres, bearing_deg: float, by: float) -> Metres:
    """The point that lies by [m] along a bearing from another."""
    turn = radians(bearing_deg)
    return at[0] + by * sin(turn), at[1] + by * cos(turn)


def day_of(when: datetime) -> date:
    """The calendar day at the property."""
    return when.astimezone(ZoneInfo(TZ)).date()


def local(day: date, hour: int, minute: int = 0) -> datetime:
    """A wall-clock time at the property, as UTC."""
    there = datetime(day.year, day.month, day.day, hour, minute, tzinfo=ZoneInfo(TZ))
    return there.astimezone(UTC)


@dataclass(frozen=True, slots=True)
class Antlers:
    """One buck's antlers: inside spread, beam and tines [m], brow tine first."""

    spread: float = 0.42
    beam: float = 0.52
    tines: tuple[float, ...] = (0.09, 0.20, 0.16)
    mass: float = 0.034  # thickness of the beam at its base [m]
    odd: tuple[float, ...] | None = None  # tines of the left side, where they differ


@dataclass(frozen=True, slots=True)
class Buck:
    """One individual: what people say of him, how he is built and how he lives (the truth).

    `beds`: how readily he takes each bedding area when he chooses anew; the rest of 1 is
    elsewhere. Minutes from sunrise and sunset: when he comes in and goes out, on average.
    """

    name: str
    age: float
    basis: str
    age_year: int
    antlers: Antlers
    beds: Mapping[str, float]
    size: float = 1.0
    depth: float = 1.0
    faithful: float = 0.7
    comes_min: float = 5.0
    goes_min: float = -15.0
    edge_nights: float = 0.06  # visits to the feeding edge a night
    swale_nights: float = 0.05  # passes through the swale a night
    top_cm: tuple[float, float] = (85.0, 8.0)  # height of his rubs: mean, spread
    note: str = ""


@dataclass(frozen=True, slots=True)
class Area:
    """A named piece of ground as the hunter drew it, and what it really is."""

    name: str
    kind: str
    middle: Metres
    outline: tuple[Metres, ...]
    really: str  # bedding, feeding or travel


@dataclass(frozen=True, slots=True)
class View:
    """What stands before one camera: the seed of its woods and what they are made of."""

    seed: int
    trees: tuple[str, ...] = ("maple", "beech", "spruce")
    stems: int = 34  # trunks nearer than 32 m in the field of view
    firs: int = 5
    saplings: int = 5
    ferns: int = 14
    stones: int = 3
    logs: int = 1
    trail_m: float = 7.0  # distance of the trail that crosses the view [m]
    open: float = 0.3  # how much sky shows between the crowns, 0 to 1


@dataclass(frozen=True, slots=True)
class Camera:
    """One camera; the cheaper model writes no serial number."""

    camera: str
    model: str
    serial: str | None
    make: str = "Fernholt"


@dataclass(frozen=True, slots=True)
class Deployment:
    """One camera at one place; times UTC. `dead`: spans without power; `ran_out`: its last life.

    `trail_deg` is the bearing along the trail that crosses the view, out of the area if there is
    one. `dark_deg`: sun heights at which it takes to infrared, at dawn and at dusk [deg].
    """

    key: str
    camera: Camera
    area: str | None
    at: Metres
    trail_deg: float
    facing_deg: float
    hung: datetime
    until: datetime
    view: View
    dark_deg: tuple[float, float]
    windy: float = 1.0
    dead: tuple[tuple[datetime, datetime], ...] = ()
    ran_out: datetime | None = None
    knocked: datetime | None = None
    clock_hours: int = -4  # its clock keeps the offset of the day on which it was hung
    pulls: tuple[datetime, ...] = field(default=())

    def alive(self, when: datetime) -> bool:
        """Whether it hangs and has power at an instant."""
        last = self.ran_out or self.until
        return self.hung <= when <= last and not any(a <= when < b for a, b in self.dead)

    def to_right(self, travel_deg: float) -> bool:
        """Whether somebody with this heading goes to the right in its pictures."""
        return (travel_deg - self.facing_deg) % 360 < 180


def _around(middle: Metres, sizes: tuple[float, ...]) -> tuple[Metres, ...]:
    step = 360 / len(sizes)
    return tuple(moved(middle, i * step, size) for i, size in enumerate(sizes))


def _strip(middle: Metres, axis_deg: float, length: float, width: float) -> tuple[Metres, ...]:
    ends = [moved(middle, axis_deg + turn, length / 2) for turn in (0, 180)]
    (a, b), side = ends, (axis_deg + 90, axis_deg - 90)
    return (
        moved(a, side[0], width / 2),
        moved(b, side[0], width / 2),
        moved(b, side[1], width / 2),
        moved(a, side[1], width / 2),
    )


KNOB, SHELF, EDGE, SWALE = "Brindle Knob", "Spruce Shelf", "Beechnut Edge", "Lantern Swale"
MIDDLE: Mapping[str, Metres] = {
    KNOB: (0.0, 600.0),
    SHELF: (1150.0, -250.0),
    EDGE: (-650.0, -500.0),
    SWALE: (300.0, -1000.0),
}
EDGE_AXIS, SWALE_AXIS, CORRIDOR_AXIS = 60.0, 15.0, 210.6  # [deg]; the corridor leads off the knob
EDGE_LENGTH = 250.0
CORRIDOR: Metres = (-330.0, 40.0)
# Bearings of the ways out of each bedding area; the camera of each, if any, is in DEPLOYMENTS.
WAYS: Mapping[str, tuple[float, ...]] = {KNOB: (215.0, 95.0, 340.0), SHELF: (300.0, 200.0, 80.0)}
AREAS = (
    Area(
        KNOB,
        "bedding",
        MIDDLE[KNOB],
        _around(MIDDLE[KNOB], (72, 66, 80, 70, 64, 75, 68, 62)),
        "bedding",
    ),
    Area(
        SHELF,
        "bedding",
        MIDDLE[SHELF],
        _around(MIDDLE[SHELF], (60, 74, 70, 58, 66, 78, 62)),
        "bedding",
    ),
    Area(
        EDGE, "feeding", MIDDLE[EDGE], _strip(MIDDLE[EDGE], EDGE_AXIS, EDGE_LENGTH, 40), "feeding"
    ),
    Area(
        SWALE, "bedding", MIDDLE[SWALE], _around(MIDDLE[SWALE], (64, 70, 60, 66, 72, 60)), "travel"
    ),
)
BUCKS = (
    Buck(
        "Old Quarrel", 6.5, "deep chest, sagging belly; in pictures since 2021", 2025,
        Antlers(0.47, 0.60, (0.13, 0.25, 0.21, 0.11), 0.044, (0.11, 0.24, 0.20)),
        {KNOB: 0.50}, size=1.04, depth=1.16, faithful=0.78, comes_min=0, goes_min=-18,
        edge_nights=0.07, swale_nights=0.03, top_cm=(104, 7), note="split left brow tine",
    ),
    Buck(
        "Ferrous", 4.5, "body and antlers; first seen in 2023 as a young buck", 2025,
        Antlers(0.40, 0.52, (0.09, 0.22, 0.17), 0.037),
        {SHELF: 0.46, KNOB: 0.05}, size=1.0, depth=1.08, faithful=0.74, comes_min=10, goes_min=-25,
        edge_nights=0.03, swale_nights=0.08, top_cm=(92, 6), note="rust-coloured forehead",
    ),
    Buck(
        "Sidewinder", 5.5, "neck and back; the same crooked beam in 2024", 2025,
        Antlers(0.37, 0.47, (0.07, 0.14), 0.039, (0.10, 0.24, 0.19, 0.08)),
        {KNOB: 0.12, SHELF: 0.10}, size=1.02, depth=1.12, faithful=0.6, comes_min=-10, goes_min=0,
        edge_nights=0.04, swale_nights=0.11, top_cm=(98, 8),
        note="one beam low and short of tines",
    ),
    Buck(
        "Pinecone", 2.5, "long legs, slim neck", 2025,
        Antlers(0.32, 0.38, (0.05, 0.13, 0.08), 0.027),
        {SHELF: 0.12, KNOB: 0.04}, size=0.96, depth=0.96, faithful=0.55, comes_min=15,
        goes_min=-30, edge_nights=0.05, swale_nights=0.05, top_cm=(80, 7),
    ),
    Buck(
        "Twig", 1.5, "small body, forked antlers", 2025,
        Antlers(0.22, 0.27, (0.02, 0.11), 0.021),
        {KNOB: 0.10, SHELF: 0.04}, size=0.90, depth=0.90, faithful=0.5, comes_min=25, goes_min=-40,
        edge_nights=0.07, swale_nights=0.04, top_cm=(68, 7),
    ),
)  # fmt: skip
MATURE_AGE = 3.5

_OCT, _NOV, _DEC = date(2025, 10, 4), date(2025, 11, 8), date(2025, 12, 5)
_CAMS = {
    name: Camera(name, model, serial)
    for name, model, serial in (
        ("CAM01", "FT-20", "FT20-004417"),
        ("CAM02", "FT-20", "FT20-004432"),
        ("CAM03", "FT-20", "FT20-005108"),
        ("CAM04", "FT-11", None),
        ("CAM05", "FT-20", "FT20-005126"),
        ("CAM06", "FT-11", None),
    )
}


def way_place(area: str, way: int) -> Metres:
    """Where one of the ways out of a bedding area leaves it."""
    return moved(MIDDLE[area], WAYS[area][way], 88)


DEPLOYMENTS = (
    Deployment(
        "CAM01-1", _CAMS["CAM01"], KNOB, way_place(KNOB, 0), 215, 125,
        local(FIRST_DAY, 10, 20), local(_DEC, 10, 5),
        View(3, ("maple", "beech", "spruce"), firs=6, trail_m=6.6), (-3.0, -2.2),
        pulls=(local(_OCT, 10, 40),),
    ),
    Deployment(
        "CAM02-1", _CAMS["CAM02"], KNOB, way_place(KNOB, 1), 95, 185,
        local(FIRST_DAY, 11, 35), local(_DEC, 11, 0),
        View(11, ("maple", "birch", "beech"), firs=4, saplings=8, trail_m=7.4, open=0.45),
        (-4.2, -3.6), windy=1.3, pulls=(local(_OCT, 11, 30),),
    ),
    Deployment(
        "CAM03-1", _CAMS["CAM03"], SHELF, way_place(SHELF, 0), 300, 30,
        local(FIRST_DAY, 14, 10), local(_DEC, 13, 40),
        View(
            23, ("spruce", "spruce", "birch"), stems=40, firs=12, saplings=3, stones=5,
            trail_m=6.2, open=0.2,
        ),
        (-1.4, -0.6), windy=1.6, pulls=(local(_OCT, 13, 20),),
    ),
    Deployment(
        "CAM04-1", _CAMS["CAM04"], EDGE, MIDDLE[EDGE], EDGE_AXIS, EDGE_AXIS - 90,
        local(FIRST_DAY, 16, 25), local(_DEC, 15, 10),
        View(
            31, ("beech", "beech", "maple"), stems=24, firs=2, saplings=6, ferns=22,
            trail_m=8.2, open=0.7,
        ),
        (-5.0, -4.4), windy=0.8, dead=((local(date(2025, 9, 11), 3, 40), local(_OCT, 15, 20)),),
        pulls=(local(_OCT, 15, 20),),
    ),
    Deployment(
        "CAM05-1", _CAMS["CAM05"], SWALE, MIDDLE[SWALE], SWALE_AXIS, SWALE_AXIS - 90,
        local(date(2025, 8, 11), 9, 0), local(_DEC, 16, 0),
        View(
            47, ("cedar", "cedar", "spruce", "birch"), stems=42, firs=7, ferns=24, logs=2,
            trail_m=7.0,
        ),
        (-2.4, -2.8), ran_out=local(date(2025, 11, 14), 4, 12), pulls=(local(_OCT, 16, 45),),
    ),
    Deployment(
        "CAM06-1", _CAMS["CAM06"], None, CORRIDOR, CORRIDOR_AXIS, CORRIDOR_AXIS - 90,
        local(date(2025, 8, 11), 11, 50), local(_OCT, 9, 15),
        View(59, ("maple", "maple", "birch"), stems=30, stones=6, trail_m=6.8, open=0.5),
        (-3.6, -3.0),
    ),
    Deployment(
        "CAM06-2", _CAMS["CAM06"], SHELF, way_place(SHELF, 1), 200, 110,
        local(_OCT, 14, 5), local(_DEC, 14, 20),
        View(67, ("spruce", "maple", "spruce"), stems=36, firs=10, trail_m=7.6, open=0.25),
        (-2.0, -1.2),
        windy=0.9, knocked=local(date(2025, 11, 19), 2, 30), pulls=(local(_NOV, 14, 30),),
    ),
)  # fmt: skip
