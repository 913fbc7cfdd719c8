"""Stands and the ways in that lead to them, on the plane."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from camsign.arrays import Floats
from camsign.logbook.session import Session
from camsign.places.shapes import points_of
from camsign.sits.evenings import Stand
from camsign.sits.plane import Plane

# A way in belongs to each stand that one of its ends lies this near to [m].
ENDS_WITHIN_M = 75.0
# Points of a way in are looked at this far apart [m].
STEP_M = 25.0
# How far one shoots where nobody said [m]: 30 yards; common practice, no source.
USUAL_SHOT_M = 27.432


@dataclass(frozen=True, slots=True)
class StandPlace:
    """A stand: its name and id, where it is (lat, lon [deg]) and as a stand on the plane."""

    place_id: str
    name: str
    lat: float
    lon: float
    stand: Stand
    shot_known: bool


@dataclass(frozen=True, slots=True)
class WayIn:
    """A way in: points from its far end to the stand (n x 2 [m]), about STEP_M apart.

    `water`: names of the streams and shores drawn on the map that it crosses.
    """

    place_id: str
    name: str
    points: Floats
    water: tuple[str, ...] = ()


def stands_of(session: Session, plane: Plane, shot_m: float | None = None) -> list[StandPlace]:
    """All stands that stand, by name. `shot_m` [m] overrules what was said of each."""
    found = []
    for place, name, line, said in _drawn(session, "stand"):
        lat, lon = line[0]
        shoots = shot_m or said
        stand = Stand(*plane.at(lat, lon), shoots or USUAL_SHOT_M)
        found.append(StandPlace(place, name, lat, lon, stand, bool(shoots)))
    return found


def ways_in(session: Session, plane: Plane, stand: Stand) -> list[WayIn]:
    """The drawn paths that end at a stand, each from its far end."""
    found = []
    banks = [
        (name, plane.xy(*zip(*line, strict=True)))
        for _, name, line, _ in _drawn(session, "water") if len(line) > 1
    ]  # fmt: skip
    for place, name, line, _ in _drawn(session, "way in"):
        points = plane.xy(*zip(*line, strict=True))
        off = np.hypot(points[:, 0] - stand.x, points[:, 1] - stand.y)
        if len(points) < 2 or min(off[0], off[-1]) > ENDS_WITHIN_M:
            continue
        toward = points if off[-1] <= off[0] else points[::-1]
        wet = tuple(name for name, bank in banks if crosses(points, bank))
        found.append(WayIn(place, name, stepped(toward), wet))
    return found


def _drawn(session: Session, kind: str) -> list[tuple[str, str, list[tuple[float, float]], Any]]:
    """The drawn places of a kind, by name: id, name, points (lat, lon [deg]), shooting distance."""
    rows = session.con.execute(
        "SELECT place, coalesce(name, place), shape, shoots_m FROM places WHERE gone IS NOT TRUE"
        " AND kind = ? AND shape IS NOT NULL ORDER BY lower(name), place",
        [kind],
    ).fetchall()
    return [(place, name, points_of(shape), shoots) for place, name, shape, shoots in rows]


def crosses(a: Floats, b: Floats) -> bool:
    """Whether two paths (n x 2 [m]) cross or touch."""
    p, r = a[:-1, None], np.diff(a, axis=0)[:, None]
    q, s = b[None, :-1], np.diff(b, axis=0)[None]
    gap = q - p
    across = r[..., 0] * s[..., 1] - r[..., 1] * s[..., 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        t = (gap[..., 0] * s[..., 1] - gap[..., 1] * s[..., 0]) / across
        u = (gap[..., 0] * r[..., 1] - gap[..., 1] * r[..., 0]) / across
    return bool(((t >= 0) & (t <= 1) & (u >= 0) & (u <= 1)).any())


def stepped(points: Floats, step: float = STEP_M) -> Floats:
    """Points along a line, no farther apart than a step [m]; its ends are kept."""
    legs = np.hypot(*np.diff(points, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(legs)])
    n = max(2, int(np.ceil(along[-1] / step)) + 1)
    at = np.linspace(0, along[-1], n)
    return np.stack([np.interp(at, along, points[:, i]) for i in (0, 1)], 1)
