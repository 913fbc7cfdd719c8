"""What lies where: cameras, sign, areas and places, as one value that a map can be drawn from."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from camsign.answers.scope import Scope
from camsign.geo import Area
from camsign.logbook.database import sql_beside
from camsign.logbook.moments import local
from camsign.logbook.session import Session
from camsign.logbook.shapes import Line, to_area, to_line
from camsign.units import UnitSystem


@dataclass(frozen=True, slots=True)
class CameraOrSign:
    """A camera or a sign [deg, WGS 84]. `bearing_deg` [deg true]: where it looks or what it says
    of travel; `seen_on`: the newest sighting of a sign; `moved_on`: when a camera that hung again
    later was taken from here, local; `fresh`: it looked so at its newest sighting."""

    id: str
    name: str
    kind: str
    lat: float
    lon: float
    bearing_deg: float | None
    seen_on: date | None = None
    moved_on: date | None = None
    fresh: bool = False


@dataclass(frozen=True, slots=True)
class NamedArea:
    """An area with its current name and kind."""

    area_id: str
    name: str
    kind: str
    area: Area


@dataclass(frozen=True, slots=True)
class NamedPlace:
    """A stand, a way in, water…: its points as (longitude, latitude) [deg]."""

    place: str
    name: str
    kind: str
    line: Line


@dataclass(frozen=True, slots=True)
class Ground:
    """Everything of a logbook that has a place."""

    cameras: tuple[CameraOrSign, ...]
    sign: tuple[CameraOrSign, ...]
    areas: tuple[NamedArea, ...]
    places: tuple[NamedPlace, ...]
    units: UnitSystem = "imperial"


def ground(session: Session, scope: Scope | None = None) -> Ground:
    """Give what lies where, with the newest sighting of every sign.

    Args:
        scope: only cameras that hung in its days, and sign made in them; None for all.
    """
    sql = sql_beside(__file__, "ground.sql")
    days = {"first": scope and scope.first, "last": scope and scope.last}
    cameras, sign = [], []
    rows = session.con.execute(sql, days).fetchall()
    for what, own, name, kind, lat, lon, travel, seen_on, facing, moved, fresh in rows:
        if what == "camera":
            moved_on = local(moved, session.settings.tz).date() if moved else None
            cameras.append(CameraOrSign(own, name, "camera", lat, lon, facing, None, moved_on))
        else:
            sign.append(CameraOrSign(own, name, kind, lat, lon, travel, seen_on, fresh=fresh))
    areas = session.con.execute(
        "SELECT area_id, name, kind, shape FROM areas_now ORDER BY name"
    ).fetchall()
    places = session.con.execute(
        "SELECT place, coalesce(name, place), kind, shape FROM places "
        "WHERE gone IS NOT TRUE ORDER BY 2"
    ).fetchall()
    return Ground(
        tuple(cameras),
        tuple(sign),
        tuple(NamedArea(i, name, kind, to_area(shape)) for i, name, kind, shape in areas),
        tuple(NamedPlace(i, name, kind, to_line(shape)) for i, name, kind, shape in places),
        session.settings.units,
    )
