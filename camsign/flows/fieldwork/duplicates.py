"""Two devices' copies of one waypoint: sign of a kind within 5 m and a day, offered as one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from camsign.flows.fieldwork.sign_tables import Ready
from camsign.geo import Places
from camsign.logbook.session import Session

NEAR_M = 5.0
NEAR_DAYS = 1


@dataclass(frozen=True, slots=True)
class Duplicate:
    """A new sign and the one it may be: `where` in its file, ids, and how far apart [m]."""

    where: str
    kind: str
    sign: str
    other: str
    distance_m: float


@dataclass(frozen=True, slots=True)
class _Spot:
    sign: str
    kind: str
    lat: float
    lon: float
    day: date
    source: str


def find_duplicates(session: Session, fresh: Sequence[Ready]) -> list[Duplicate]:
    """Find, for each new sign, one from another file (or said by hand) that it may be a copy of.

    Two waypoints of one file are two signs: the person marked both.
    """
    if not fresh:
        return []
    new = [_spot(r) for r in fresh]
    spots = [*_standing(session, fresh), *new]
    if len({spot.source for spot in spots}) == 1:
        return []
    found = []
    for r, spot, twin in zip(fresh, new, _nearest(new, spots), strict=True):
        if twin is not None:
            found.append(Duplicate(r.where, r.kind, spot.sign, twin[1].sign, twin[0]))
    return _once(found)


def _standing(session: Session, fresh: Sequence[Ready]) -> list[_Spot]:
    lats = [r.lat for r in fresh]
    rows = session.con.execute(
        "SELECT s.sign, s.kind, s.lat, s.lon, g.seen_on, s.source FROM signs s"
        " JOIN sightings g USING (sign) WHERE s.gone IS NOT TRUE AND g.gone IS NOT TRUE"
        " AND g.seen_on IS NOT NULL AND s.lat BETWEEN ? AND ?",
        [min(lats) - 0.001, max(lats) + 0.001],
    ).fetchall()
    return [_Spot(a, kind, lat, lon, day, _file(source)) for a, kind, lat, lon, day, source in rows]


def _spot(r: Ready) -> _Spot:
    return _Spot(r.sign, r.kind, r.lat, r.lon, r.seen_on, _file(r.of_sign.get("source")))


def _file(source: str | None) -> str:
    return (source or "").rpartition("#")[0]


def _nearest(new: Sequence[_Spot], spots: Sequence[_Spot]) -> list[tuple[float, _Spot] | None]:
    """Give, of each new spot, the nearest other that it may be a copy of, with its distance [m]."""
    best: list[tuple[float, _Spot] | None] = [None] * len(new)
    places = Places([spot.lat for spot in spots], [spot.lon for spot in spots])
    for part in places.near([spot.lat for spot in new], [spot.lon for spot in new], NEAR_M):
        for i, j, far in zip(*(column.tolist() for column in part[:3]), strict=True):
            last = best[i]
            if _may_be(new[i], spots[j]) and (last is None or far < last[0]):
                best[i] = far, spots[j]
    return best


def _may_be(one: _Spot, other: _Spot) -> bool:
    """Say whether two spots can be one sign by all but their places."""
    if one.sign == other.sign or one.kind != other.kind or one.source == other.source:
        return False
    return abs((other.day - one.day).days) <= NEAR_DAYS


def _once(twins: list[Duplicate]) -> list[Duplicate]:
    """Of two new signs that are each other's twins, the second is the copy."""
    kept: list[Duplicate] = []
    copies: set[str] = set()
    for twin in twins:
        if twin.other in copies or any(k.other == twin.sign and k.sign == twin.other for k in kept):
            continue
        kept.append(twin)
        copies.add(twin.sign)
    return kept
