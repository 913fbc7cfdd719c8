"""Seventh step: distances between deployments, signs and areas, once a pair."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from camsign.derive.script import run, touched
from camsign.errors import UsageError
from camsign.geo import Area, distance_bearing, distance_to_area
from camsign.logbook.session import Session
from camsign.logbook.shapes import to_area

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt
    from duckdb import DuckDBPyConnection

    Floats = npt.NDArray[np.float64]
    Ints = npt.NDArray[np.int64]

# Pairs measured and stored at once, which bounds the memory.
_BATCH = 500_000
# No degree of latitude is shorter, and no degree of longitude longer, on WGS 84 [m].
_LAT_DEGREE_M = 110_500.0
_LON_DEGREE_M = 111_300.0


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
    if not touched(con, "camera", "sign", "area"):
        return
    run(con, "pairs")
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
    for i, j in _batches(near_boxes(deployments, signs, limit)):
        distance, bearing = distance_bearing(
            deployments.lat[i], deployments.lon[i], signs.lat[j], signs.lon[j]
        )
        near = distance <= limit
        columns = {
            "deployment": deployments.ids[i[near]],
            "sign": signs.ids[j[near]],
            "distance_m": distance[near],
            "bearing_deg": bearing[near],
        }
        _insert(con, "sign_pairs", columns)


def near_boxes(a: IdPoints, b: IdPoints, limit_m: float) -> Iterator[tuple[Ints, Ints]]:
    """Give, per point of `a`, index pairs (i, j) of all points of `b` that may be within the limit.

    `b` is ordered by latitude. A box in degrees keeps what lies farther out of the reckoning.
    """
    import numpy as np

    high = limit_m / _LAT_DEGREE_M
    first = np.searchsorted(b.lat, a.lat - high, "left")
    last = np.searchsorted(b.lat, a.lat + high, "right")
    for i in range(len(a.lat)):
        j = np.arange(first[i], last[i])
        shrink = np.cos(np.radians(min(abs(a.lat[i]) + high, 90.0)))
        wide = limit_m / (_LON_DEGREE_M * shrink) if shrink > 1e-6 else 180.0
        apart = np.abs((b.lon[j] - a.lon[i] + 180.0) % 360.0 - 180.0)
        j = j[apart <= wide * 1.01]
        yield np.full(len(j), i), j


def _batches(pairs: Iterator[tuple[Ints, Ints]]) -> Iterator[tuple[Ints, Ints]]:
    import numpy as np

    held: list[tuple[Ints, Ints]] = []
    count = 0
    for pair in pairs:
        held.append(pair)
        count += len(pair[0])
        if count >= _BATCH:
            yield np.concatenate([p[0] for p in held]), np.concatenate([p[1] for p in held])
            held, count = [], 0
    if count:
        yield np.concatenate([p[0] for p in held]), np.concatenate([p[1] for p in held])


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
        _insert(con, table, columns)


def _insert(
    con: DuckDBPyConnection, table: str, columns: dict[str, npt.NDArray[np.generic]]
) -> None:
    if len(columns["distance_m"]):
        con.register("made_pairs", columns)
        con.execute(f"INSERT INTO {table} BY NAME SELECT * FROM made_pairs")
        con.unregister("made_pairs")
