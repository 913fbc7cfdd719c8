"""Clusters of fresh sign: where several signs of the last days lie close to one another."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from camsign.geo import equidistant
from camsign.sign.record import SignRow

APART_M = 75.0
LEAST = 3


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
    """Give the clusters of fresh looks (`camsign.sign.fresh.fresh_signs`), newest first.

    Signs joined in chains make one cluster (single linkage); fewer than three make none.
    """
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
