"""Signs that may be one: of a kind and close together, such as one rub marked in two seasons."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from itertools import groupby
from operator import itemgetter

import numpy as np
from scipy.spatial import cKDTree

from camsign.geo import distance_bearing
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session
from camsign.sign.plane import stretches

# A receiver under trees is off by some meters (common practice, no source).
NEAR_M = 5.0


@dataclass(frozen=True, slots=True)
class Alike:
    """Two signs that may be one, the later seen first; days on which each was first seen."""

    sign: str
    other: str
    kind: str
    distance_m: float
    seen_on: date
    other_seen_on: date


def alike(session: Session, within_m: float = NEAR_M) -> list[Alike]:
    """Give pairs of signs of one kind at most so far apart [m], the nearest first.

    `same_sign` makes one sign of the two; nothing is joined here.
    """
    rows = run_sql(session.con, __file__, "duplicate_signs.sql").fetchall()
    found = []
    for kind, group in groupby(rows, key=itemgetter(0)):
        signs = [(sign, lat, lon, day) for _, sign, lat, lon, day in group]
        found += _pairs(kind, signs, within_m)
    return sorted(found, key=lambda p: (p.distance_m, p.sign, p.other))


def already_there(session: Session, kind: str, at: tuple[float, float]) -> str | None:
    """Give the id of the nearest sign of a kind that stands within `NEAR_M` of a place (lat, lon)
    [deg], None without any."""
    rows = session.con.execute(
        "SELECT sign, lat, lon FROM signs WHERE kind = ? AND gone IS NOT TRUE"
        " AND abs(lat - ?) < 1e-4 ORDER BY sign",
        [kind, at[0]],
    ).fetchall()
    if not rows:
        return None
    far, _ = distance_bearing(*at, [lat for _, lat, _ in rows], [lon for *_, lon in rows])
    nearest = int(np.argmin(far))
    return str(rows[nearest][0]) if far[nearest] <= NEAR_M else None


def _pairs(kind: str, rows: list[tuple[str, float, float, date]], within_m: float) -> list[Alike]:
    lat, lon = (np.array([row[i] for row in rows], dtype=float) for i in (1, 2))
    found = []
    for members, plane in stretches(lat, lon):
        points = np.stack(plane.to_meters(lat[members], lon[members]), axis=1)
        for i, j in cKDTree(points).query_pairs(within_m, output_type="ndarray"):
            later, earlier = sorted(
                (rows[members[i]], rows[members[j]]), key=lambda r: (r[3], r[0]), reverse=True
            )
            far = float(np.hypot(*(points[i] - points[j])))
            found.append(Alike(later[0], earlier[0], kind, far, later[3], earlier[3]))
    return found
