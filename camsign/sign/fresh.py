"""New sign: what looked fresh or bright when it was seen, or was said to be made on those days; and
where several lie close to one another."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from camsign.geo import equidistant
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session
from camsign.sign.record import SignRow, signs

APART_M = 75.0
LEAST = 3
"""Fresh signs so near to another of them make a cluster, if they are so many. Our choice."""


@dataclass(frozen=True, slots=True)
class NewLook:
    """One look at new sign. `newest`: the latest day (local) on which it was made; of a bright one,
    made this season but not surely on the days asked for, the day it was seen.
    """

    sighting: str
    sign: str
    newest: date
    bright: bool


def new_looks(session: Session, first: date, last: date) -> list[NewLook]:
    """Give the looks at new sign that was made (at the latest), or is bright, on these days.

    Sign whose look nobody noted is not new, unless its days were said; nor is what was seen after
    `last`.
    """
    rows = run_sql(session.con, __file__, "fresh.sql", first=first, last=last).fetchall()
    return [NewLook(*row) for row in rows]


def fresh_signs(session: Session, first: date, last: date) -> list[SignRow]:
    """Give the looks at new sign of these days, in full."""
    fresh = {look.sighting for look in new_looks(session, first, last)}
    return [row for row in signs(session) if row.sighting in fresh]


@dataclass(frozen=True, slots=True)
class Cluster:
    """Fresh signs of which each lies within `APART_M` of another of them.

    lat, lon: their middle [deg]; `radius_m`: to the farthest [m]; `kinds`: how many of each.
    """

    lat: float
    lon: float
    radius_m: float
    signs: int
    kinds: dict[str, int]
    newest: date


def clusters(looks: Sequence[SignRow]) -> list[Cluster]:
    """Give the clusters of fresh looks (`fresh_signs`), newest first.

    Signs joined in chains make one cluster (single linkage); fewer than three make none.
    """
    import numpy as np
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    rows = list({r.sign: r for r in looks}.values())
    if len(rows) < LEAST:
        return []
    middle = equidistant(rows[0].lat, rows[0].lon)
    at = np.stack(middle([r.lon for r in rows], [r.lat for r in rows]), axis=1)
    pairs = cKDTree(at).query_pairs(APART_M, output_type="ndarray")
    shape = (len(rows), len(rows))
    joined = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape)
    count, label = connected_components(joined, directed=False)
    members = [np.flatnonzero(label == i) for i in range(count)]
    found = [
        _cluster([rows[i] for i in which], at[which]) for which in members if len(which) >= LEAST
    ]
    return sorted(found, key=lambda c: (c.newest, c.signs), reverse=True)


def _cluster(rows: Sequence[SignRow], at: object) -> Cluster:
    import numpy as np

    points = np.asarray(at)
    off = np.hypot(*(points - points.mean(axis=0)).T)
    kinds = Counter(r.kind for r in rows)
    return Cluster(
        lat=float(np.mean([r.lat for r in rows])),
        lon=float(np.mean([r.lon for r in rows])),
        radius_m=float(off.max()),
        signs=len(rows),
        kinds=dict(kinds.most_common()),
        newest=max(r.made_to for r in rows),
    )
