"""Distances between deployments, signs and areas, once a pair."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from camsign.derive.script import insert_arrays
from camsign.errors import UsageError
from camsign.geo import Area, Places, distance_to_area
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session
from camsign.logbook.shapes import to_area

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt
    from duckdb import DuckDBPyConnection

    from camsign.arrays import Floats


@dataclass(frozen=True, slots=True)
class IdPoints:
    """Points [deg, WGS 84] with their ids, and which of them are new."""

    key: str
    ids: npt.NDArray[np.object_]
    lat: Floats
    lon: Floats
    new: npt.NDArray[np.bool_]

    def some(self, which: npt.NDArray[np.bool_]) -> IdPoints:
        """The points of a mask."""
        return IdPoints(
            self.key, self.ids[which], self.lat[which], self.lon[which], self.new[which]
        )


def fill_pairs(session: Session) -> None:
    """Bring `sign_pairs`, `area_pairs`, `area_signs` up to date, up to the setting pair_limit_m."""
    con, limit = session.con, session.settings.pair_limit_m
    run_sql(con, __file__, "pairs.sql")
    deployments = _points(con, "standing_points", "deployment")
    signs = _points(con, "standing_signs", "sign")
    _fill_sign_pairs(con, deployments.some(deployments.new), signs, limit)
    _fill_sign_pairs(con, deployments.some(~deployments.new), signs.some(signs.new), limit)
    areas = _areas(con)
    _fill_areas(con, "area_pairs", deployments, areas, limit)
    _fill_areas(con, "area_signs", signs, areas, limit)


def _points(con: DuckDBPyConnection, table: str, key: str) -> IdPoints:
    sql = f"SELECT {key}, lat, lon, new FROM {table} ORDER BY lat, {key}"
    got: dict[str, Any] = con.execute(sql).fetchnumpy()
    return IdPoints(key, got[key], got["lat"], got["lon"], got["new"])


def _areas(con: DuckDBPyConnection) -> list[tuple[str, Area, bool]]:
    """The areas whose shape can be understood, with whether each is new."""
    found = []
    for area, shape, new in con.execute("SELECT area, shape, new FROM standing_areas").fetchall():
        with suppress(UsageError, KeyError, TypeError, ValueError, IndexError):
            where = to_area(shape)
            distance_to_area(where, 0.0, 0.0)
            found.append((area, where, bool(new)))
    return found


def _fill_sign_pairs(
    con: DuckDBPyConnection, deployments: IdPoints, signs: IdPoints, limit: float
) -> None:
    if not len(signs.ids) or not len(deployments.ids):
        return
    found = Places(signs.lat, signs.lon).near(deployments.lat, deployments.lon, limit)
    for i, j, distance, bearing in found:
        columns = {
            "deployment": deployments.ids[i],
            "sign": signs.ids[j],
            "distance_m": distance,
            "bearing_deg": bearing,
        }
        insert_arrays(con, "sign_pairs", columns)


def _fill_areas(
    con: DuckDBPyConnection,
    table: str,
    points: IdPoints,
    areas: list[tuple[str, Area, bool]],
    limit: float,
) -> None:
    import numpy as np

    for area, shape, new in areas:
        some = points if new else points.some(points.new)
        if not len(some.ids):
            continue
        distance = distance_to_area(shape, some.lat, some.lon)
        near = distance <= limit
        columns = {
            points.key: some.ids[near],
            "area": np.full(int(near.sum()), area, dtype=object),
            "distance_m": distance[near],
        }
        insert_arrays(con, table, columns)
