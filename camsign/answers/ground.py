"""What lies where, as one value that a map can be drawn from: cameras, sign, areas and places.

And where one buck was pictured, camera by camera.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from camsign.answers.reach import AreaOrCamera, Reach, watching_of
from camsign.answers.scope import Scope
from camsign.geo import Area
from camsign.logbook.database import run_sql
from camsign.logbook.moments import local
from camsign.logbook.session import Session
from camsign.logbook.shapes import Line, to_area, to_line
from camsign.units import UnitSystem, counted


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
    days = {"first": scope and scope.first, "last": scope and scope.last}
    cameras, sign = [], []
    rows = run_sql(session.con, __file__, "ground.sql", **days).fetchall()
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


@dataclass(frozen=True, slots=True)
class Pictured:
    """A buck at one deployment: his sure visits, those in shooting light, the last one's local day,
    and the nights on which the camera watched and all its pictures are sorted."""

    deployment: str
    camera: str
    visits: int
    shooting_light: int
    last: date | None
    nights_watched: int

    def in_words(self) -> str:
        """Say it in a line; no picture in few nights is not "not there"."""
        nights = counted(self.nights_watched, "day")
        if self.visits:
            return f"{counted(self.visits, 'visit')}, {self.shooting_light} in light; {nights}"
        return f"no picture of him; {nights}" if self.nights_watched else "no night covered"


def pictured(session: Session, scope: Scope) -> tuple[Pictured, ...]:
    """Give where the scope's one buck was pictured and where not, a row a deployment.

    Args:
        scope: one buck and the days; its areas do not matter.
    """
    buck = (scope.buck_ids or ("",))[0]
    given = scope.sql() | {"buck": buck, "gap": scope.gap_s}
    rows = run_sql(session.con, __file__, "pictured.sql", **given).fetchall()
    spots = tuple(AreaOrCamera(row[0], row[1]) for row in rows)
    ids, names = tuple(s.id for s in spots), tuple(s.name for s in spots)
    reach = Reach(spots, ids, names, tuple((i, i, None) for i in range(len(spots))))
    watched = zip(rows, watching_of(session, scope, reach), strict=True)
    return tuple(Pictured(*[*row, len(one.nights)]) for row, one in watched)
