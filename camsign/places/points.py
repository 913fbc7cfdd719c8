"""Places: stands, parking, ways in, water and food, as named points or paths."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from camsign.errors import UsageError
from camsign.geo import distance_bearing
from camsign.logbook import naming
from camsign.logbook.edits import SetFields, new_id
from camsign.places.shapes import path_shape, points_of

if TYPE_CHECKING:
    from camsign.logbook.session import Session

KINDS = ("stand", "parking", "way in", "water", "food")


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """A place. lat, lon: its point, or the beginning of its path [deg, WGS 84]; `length_m` [m]."""

    place: str
    place_id: str
    kind: str
    lat: float
    lon: float
    length_m: float | None = None


def add_place(
    session: Session, kind: str, name: str, points: Sequence[tuple[float, float]]
) -> PlaceRow:
    """Add a place: one (lat, lon) point [deg, WGS 84], or several in order for a path.

    Raises:
        UsageError: the name is taken, the kind is none, or there is no such place.
    """
    kept = naming.cleaned(name, "place")
    naming.refuse_taken(_names(session), kept, "place")
    fields = {"name": kept, "kind": place_kind_of(kind), "shape": path_shape(points)}
    place = new_id("p")
    session.say(f"added place {kept}", [SetFields("place", place, fields)])
    return _row(place, fields)


def places(session: Session, kind: str | None = None) -> list[PlaceRow]:
    """Give the places that stand, by kind and name."""
    rows = session.con.execute(
        "SELECT place, coalesce(name, place), kind, shape FROM places WHERE gone IS NOT TRUE"
        " AND shape IS NOT NULL ORDER BY kind, lower(name), place"
    ).fetchall()
    word = place_kind_of(kind) if kind else None
    made = [_row(p, {"name": n, "kind": k, "shape": s}) for p, n, k, s in rows]
    return [row for row in made if word in (None, row.kind)]


def rename_place(session: Session, place: str, name: str) -> PlaceRow:
    """Give a place, named by name or id, another name. Raises UsageError if that is taken."""
    known = _names(session)
    found = naming.find(known, place, "place")
    kept = naming.cleaned(name, "place")
    naming.refuse_taken(known, kept, "place", but=found)
    edit = SetFields("place", found, {"name": kept})
    session.say(f"renamed place {known[found]} to {kept}", [edit])
    return _row(found, {**_fields(session, found), "name": kept})


def move_place(session: Session, place: str, points: Sequence[tuple[float, float]]) -> PlaceRow:
    """Put a place, named by name or id, elsewhere; `points` as for `add_place`.

    Raises:
        UsageError: there is no such place, or no point.
    """
    known = _names(session)
    found = naming.find(known, place, "place")
    shape = path_shape(points)
    session.say(f"moved place {known[found]}", [SetFields("place", found, {"shape": shape})])
    return _row(found, {**_fields(session, found), "shape": shape})


def remove_place(session: Session, place: str) -> PlaceRow:
    """Take a place, named by name or id, away; `undo` brings it back. Raises UsageError if none."""
    known = _names(session)
    found = naming.find(known, place, "place")
    session.say(f"removed place {known[found]}", [SetFields("place", found, {"gone": True})])
    return _row(found, _fields(session, found))


def place_kind_of(word: str) -> str:
    """Give the kind of place that a word names; `way-in` is `way in`. Raises UsageError if none."""
    kind = " ".join(word.replace("-", " ").replace("_", " ").lower().split())
    if kind not in KINDS:
        raise UsageError(f"there is no kind of place {word.strip()!r}", f"say {', '.join(KINDS)}")
    return kind


def _names(session: Session) -> dict[str, str]:
    rows = session.con.execute(
        "SELECT place, coalesce(name, place) FROM places WHERE gone IS NOT TRUE"
    ).fetchall()
    return dict(rows)


def _fields(session: Session, place: str) -> dict[str, Any]:
    row = session.con.execute(
        "SELECT name, kind, shape FROM places WHERE place = ?", [place]
    ).fetchone()
    return dict(zip(("name", "kind", "shape"), row or (place, None, None), strict=True))


def _row(place: str, fields: dict[str, Any]) -> PlaceRow:
    points = points_of(fields["shape"])
    lat, lon = points[0]
    length = _length(points) if len(points) > 1 else None
    return PlaceRow(fields["name"], place, fields["kind"], lat, lon, length)


def _length(points: Sequence[tuple[float, float]]) -> float:
    lats, lons = ([p[i] for p in points] for i in (0, 1))
    legs, _ = distance_bearing(lats[:-1], lons[:-1], lats[1:], lons[1:])
    return float(legs.sum())
