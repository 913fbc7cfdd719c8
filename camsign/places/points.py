"""Places: stands, parking, ways in, water and food, as named points or paths."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from camsign.errors import UsageError
from camsign.geo import distance_bearing
from camsign.logbook import named
from camsign.logbook.fields import choice_of
from camsign.logbook.session import Session
from camsign.logbook.things import PLACE
from camsign.places.shapes import path_shape, points_of


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
    session: Session,
    kind: str,
    name: str,
    at: Sequence[tuple[float, float]],
    shoots: float | None = None,
) -> PlaceRow:
    """Add a place: one (lat, lon) point [deg, WGS 84], or several in order for a path; `shoots`: of
    a stand, how far one shoots from it [m].

    Raises:
        UsageError: the name is taken, the kind is none, or there is no such place.
    """
    word = place_kind_of(kind)
    fields: dict[str, Any] = {"name": name, "kind": word, "shape": path_shape(at)}
    if shoots is not None:
        fields["shoots_m"] = _shot(word, shoots)
    return _row(*named.add(session, PLACE, fields))


def places(session: Session, kind: str | None = None) -> list[PlaceRow]:
    """Give the places that stand, by kind and name."""
    rows = session.con.execute(
        "SELECT place, coalesce(name, place), kind, shape FROM places WHERE gone IS NOT TRUE"
        " AND shape IS NOT NULL ORDER BY kind, lower(name), place"
    ).fetchall()
    word = place_kind_of(kind) if kind else None
    made = [_row(p, {"name": n, "kind": k, "shape": s}) for p, n, k, s in rows]
    return [row for row in made if word in (None, row.kind)]


def set_place(
    session: Session,
    place: str,
    name: str | None = None,
    kind: str | None = None,
    at: Sequence[tuple[float, float]] = (),
    shoots: float | None = None,
) -> PlaceRow:
    """Change a place, named by name or id; what is not given stays.

    Raises:
        UsageError: there is no such place, nothing is to change, or as for `add_place`.
    """
    word, shape = kind and place_kind_of(kind), path_shape(at) if at else None
    fields: dict[str, Any] = {"name": name, "kind": word, "shape": shape}
    if shoots is not None:
        now = named.fields_of(session, PLACE, named.find(session, PLACE, place))
        fields["shoots_m"] = _shot(word or now["kind"], shoots)
    return _row(*named.change(session, PLACE, place, fields))


def _shot(kind: str, shoots: float) -> float:
    """How far one shoots from a stand [m]. Raises UsageError."""
    if kind != "stand":
        raise UsageError(f"nobody shoots from a {kind}", "say --shoots of a stand only")
    if not 1 <= shoots <= 500:
        raise UsageError(f"a shot of {shoots:.0f} m is not between 1 and 500 m", "such as 30yd")
    return shoots


def remove_place(session: Session, place: str) -> PlaceRow:
    """Take a place, named by name or id, away. Raises UsageError if there is none."""
    return _row(*named.remove(session, PLACE, place))


def place_kind_of(word: str) -> str:
    """Give the kind of place that a word names; `way-in` is `way in`. Raises UsageError if none."""
    return choice_of(PLACE.field("kind"), word, "kind of place")


def _row(place: str, fields: dict[str, Any]) -> PlaceRow:
    points = points_of(fields["shape"])
    length = None
    if len(points) > 1:
        lats, lons = zip(*points, strict=True)
        length = float(distance_bearing(lats[:-1], lons[:-1], lats[1:], lons[1:])[0].sum())
    return PlaceRow(fields["name"], place, fields["kind"], *points[0], length)
