"""The ground of the model of beds: which areas and cameras go in, how far apart they lie, and what
is known of each area before any picture.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from camsign.answers.area_sign import bed_signs
from camsign.answers.reach import AreaOrCamera, Reach
from camsign.answers.scope import Scope
from camsign.arrays import Bools, Floats
from camsign.geo import Area, area_center, distance_bearing
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session
from camsign.logbook.shapes import to_area

# Asked about some areas, those farther off than this count as elsewhere [m]: the length of a range
# half again as large as the mean of grown bucks (403 ha; South Texas, bucks of 3.5 years and up),
# twice as long as wide. The shape, and that big woods ask for more: common practice, no source.
RANGE_M = 4000.0
# How likely a bed an area is before any picture, by its kind; 1 is a bedding area without sign
# (common practice, no source).
KINDS = {"bedding": 1.0, None: 0.6}
OTHER_KIND = 0.15


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """Areas and deployments: [m] from the edges, bearing [deg] and [m] to the centers.

    `near`: which deployments lie within RANGE_M of the areas asked about, or in reach of one of the
    areas; None for all.
    """

    ids: list[str]
    shapes: list[Area]
    kinds: list[str | None]
    reach: Reach
    distance: Floats
    bearing: Floats
    center_m: Floats
    near: Bools | None


def ground_of(session: Session, reach_m: float, about: Collection[str] | None = None) -> Ground:
    """Give the areas and the deployments that stand.

    Args:
        reach_m: cameras this close to an area's edge count for it [m].
        about: ids of areas; those farther than RANGE_M from the centers of all of them are left
            out.
    """
    con = session.con
    areas = con.execute("SELECT area_id, name, kind, shape FROM areas_now ORDER BY name, area_id")
    # By place, since draws go by their order: a new name changes none.
    rows = sorted(areas.fetchall(), key=lambda r: area_center(to_area(r[3])))
    centers = np.array([area_center(to_area(r[3])) for r in rows]).reshape(-1, 2)
    hung = run_sql(con, __file__, "hung.sql").fetchall()
    spots = np.array([h[2:4] for h in hung], dtype=float).reshape(-1, 2)
    near = None
    if about is not None:
        asked = centers[[r[0] in about for r in rows]]
        kept, near = _within(centers, asked), _within(spots, asked)
        rows, centers = [rows[i] for i in np.flatnonzero(kept)], centers[kept]
    distance = _edges(session, [h[0] for h in hung], [r[0] for r in rows])
    if near is not None:
        near |= (distance <= reach_m).any(axis=1)
    bearing, center_m = np.zeros_like(distance), np.zeros_like(distance)
    for a, center in enumerate(centers.tolist()):
        center_m[:, a], bearing[:, a] = distance_bearing(spots[:, 0], spots[:, 1], *center)
    reach = Reach(
        tuple(AreaOrCamera(r[0], r[1]) for r in rows),
        tuple(h[0] for h in hung),
        tuple(h[1] for h in hung),
        (),
    )
    shapes = [to_area(r[3]) for r in rows]
    kinds = [r[2] for r in rows]
    return Ground([r[0] for r in rows], shapes, kinds, reach, distance, bearing, center_m, near)


def _edges(session: Session, deployments: list[str], areas: list[str]) -> Floats:
    """Give the kept distances of deployments from the edges of areas [m], infinite without."""
    number = {d: i for i, d in enumerate(deployments)}
    column = {a: i for i, a in enumerate(areas)}
    found = np.full((len(deployments), len(areas)), np.inf)
    for deployment, area, meters in run_sql(session.con, __file__, "edges.sql").fetchall():
        if deployment in number and area in column:
            found[number[deployment], column[area]] = meters
    return found


def _within(places: Floats, asked: Floats) -> Bools:
    """Say which places (lat, lon [deg]) lie within RANGE_M of one of those asked about."""
    found = np.zeros(len(places), dtype=bool)
    for center in asked.tolist():
        found |= distance_bearing(places[:, 0], places[:, 1], *center)[0] <= RANGE_M
    return found


def liked(session: Session, scope: Scope, ground: Ground) -> Floats:
    """Say how likely a bed each area is by its kind and the sign of the days watched."""
    shapes = dict(zip(ground.ids, ground.shapes, strict=True))
    signs = bed_signs(session, scope, shapes)
    return np.array([
        KINDS.get(kind, OTHER_KIND)
        * (1.0 + 0.5 * min(signs[area][0], 2) + 0.5 * signs[area][1])
        for area, kind in zip(ground.ids, ground.kinds, strict=True)
    ])  # fmt: skip
