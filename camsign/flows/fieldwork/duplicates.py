"""Two devices' copies of one waypoint: sign of a kind within 5 m and a day, offered as one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from math import cos, floor, radians
from typing import TYPE_CHECKING

from camsign.flows.fieldwork.sign_tables import Ready
from camsign.geo import distance_bearing

if TYPE_CHECKING:
    from camsign.logbook.session import Session

NEAR_M = 5.0
NEAR_DAYS = 1
# A cell is no smaller than the reach anywhere: 5 m of latitude are 4.5e-5 degrees.
_CELL_DEG = 6e-5


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


# Spots by cell and by the file that they come from.
_Cells = dict[tuple[str, int, int], dict[str, list[_Spot]]]


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
    cells: _Cells = {}
    for spot in spots:
        cells.setdefault(_cell(spot), {}).setdefault(spot.source, []).append(spot)
    found = []
    for r, spot in zip(fresh, new, strict=True):
        twin = _nearest(spot, cells)
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


def _cell(spot: _Spot) -> tuple[str, int, int]:
    narrow = max(cos(radians(spot.lat)), 0.01)
    # Rounded, so that cells of neighbouring rows are the same size.
    column = floor(spot.lon * round(narrow, 2) / _CELL_DEG)
    return spot.kind, floor(spot.lat / _CELL_DEG), column


def _nearest(spot: _Spot, cells: _Cells) -> tuple[float, _Spot] | None:
    best: tuple[float, _Spot] | None = None
    for other in _around(spot, cells):
        if other.sign == spot.sign or abs((other.day - spot.day).days) > NEAR_DAYS:
            continue
        far = float(distance_bearing(spot.lat, spot.lon, other.lat, other.lon)[0])
        if far <= NEAR_M and (best is None or far < best[0]):
            best = far, other
    return best


def _around(spot: _Spot, cells: _Cells) -> Iterator[_Spot]:
    """Give the spots of other files in the cell of this one and in those beside it."""
    kind, row, column = _cell(spot)
    for i in (row - 1, row, row + 1):
        for j in (column - 1, column, column + 1):
            for source, spots in cells.get((kind, i, j), {}).items():
                if source != spot.source:
                    yield from spots


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
