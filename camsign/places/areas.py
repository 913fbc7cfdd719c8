"""Areas: named circles and polygons where deer bed, feed, gather or pass."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from camsign.errors import CamsignError, InputRefused, UsageError, quoted
from camsign.geo import Circle, distance_bearing, shared
from camsign.logbook import named, naming
from camsign.logbook.edits import Edit, SetFields, new_id
from camsign.logbook.fields import choice_of
from camsign.logbook.session import Session
from camsign.logbook.shapes import to_area
from camsign.logbook.things import AREA, DOE_BEDDING
from camsign.places.nearby import Nearby
from camsign.places.shapes import center_and_size, circle_shape, polygon_shape, rings_of
from camsign.units import counted

if TYPE_CHECKING:
    from camsign.formats.geojson import GeoFeature

Rings = Sequence[tuple[float, float]]
# Other words for a kind: a bare bedding area is one where bucks bed.
_ALSO = {"buck bedding": "bedding", "doe": DOE_BEDDING, "does": DOE_BEDDING}


@dataclass(frozen=True, slots=True)
class AreaRow:
    """An area. lat, lon: its center [deg, WGS 84]; `radius_m`: of a circle of its size [m].

    `overlaps`: of one just drawn, the areas with which it shares more than a tenth of the smaller.
    """

    area: str
    area_id: str
    kind: str
    lat: float
    lon: float
    radius_m: float
    hectares: float
    overlaps: tuple[str, ...] | None = field(default=None, metadata={"spare": True})

    @property
    def read_as(self) -> str:
        """Say that it lies over others, and what that does to answers; empty where it doesn't."""
        if not self.overlaps:
            return ""
        over = ", ".join(self.overlaps)
        return (
            f"It overlaps {over}: pictures near both count for both, and days in bed are split "
            "between them"
        )


@dataclass(frozen=True, slots=True)
class AreasTaken:
    """What an import of areas did: `new`, `changed` and `known` areas, and a line per refusal."""

    areas: list[AreaRow]
    new: int
    changed: int
    known: int
    refused: list[str]


def add_area(
    session: Session,
    kind: str,
    name: str,
    at: tuple[float, float] | None = None,
    radius: float | None = None,
    corners: Sequence[Rings] = (),
) -> AreaRow:
    """Add a circle about `at` (lat, lon) [deg, WGS 84] with its radius [m], or what its corners
    enclose: a list of rings, each of (lat, lon).

    Raises:
        UsageError: the name is taken, or the kind, place, radius or outline is none.
    """
    shape = _drawn(at, radius, corners)
    if shape is None:
        raise UsageError("where does this area lie?", "give its middle and radius, or its corners")
    made = named.add(session, AREA, {"name": name, "kind": kind_of(kind), "shape": shape})
    return _over(*made, _all_drawn(session))


def add_areas(session: Session, wanted: Sequence[tuple[str, str, Circle]]) -> list[AreaRow]:
    """Add circles in one act, each with its kind and name; a taken name gets a number behind it.

    Raises:
        UsageError: a kind, place or radius is none.
    """
    taken = {naming.key(name) for name in named.names(session, AREA).values()}
    edits: list[Edit] = []
    rows = []
    for kind, said, circle in wanted:
        name = naming.free(naming.cleaned(said, "area"), taken)
        taken.add(naming.key(name))
        shape = circle_shape(circle.lat, circle.lon, circle.radius_m)
        fields = {"name": name, "kind": kind_of(kind), "shape": shape}
        area = new_id("a")
        edits.append(SetFields("area", area, fields))
        rows.append(_row(area, fields))
    if edits:
        session.say(f"added {counted(len(edits), 'area')}", edits)
    return rows


def import_areas(
    session: Session, path: Path, kind: str | None = None, anywhere: bool = False
) -> AreasTaken:
    """Take in the polygons of a GeoJSON file by their properties `name` and `kind`.

    An area that is there already by its name is changed if it differs; the same file again adds
    nothing. A feature that cannot be taken costs one line. `kind` is for features that name none;
    `anywhere` takes areas too that lie more than 1,000 km from everything known.

    Raises:
        InputRefused: no GeoJSON, or nothing in it could be taken.
    """
    from camsign.formats.geojson import read_geojson

    if path.suffix.lower() in (".kml", ".kmz", ".gpx"):
        raise InputRefused(
            f"{path} is no GeoJSON, by its name",
            f"camsign import {quoted(str(path))} takes such a file in",
        )
    file = read_geojson(path)
    refused, nearby = list(file.troubles), Nearby.of(session, anywhere)
    found: list[tuple[str, dict[str, Any]]] = []
    for feature in file.features:
        try:
            found.append(_of_feature(feature, kind, nearby))
        except CamsignError as e:
            named = f" {feature.name!r}" if feature.name else ""
            refused.append(f"feature {feature.number}{named} left out: {e}")
    if not found:
        raise InputRefused("; ".join([f"{path} holds no area that can be taken", *refused[:1]]))
    return _take(session, path.name, found, refused)


def areas(session: Session) -> list[AreaRow]:
    """Give the areas that stand, by name."""
    rows = session.con.execute("SELECT area_id, name, kind, shape FROM areas_now").fetchall()
    made = [_row(a, {"name": n, "kind": k, "shape": s}) for a, n, k, s in rows if s]
    return sorted(made, key=lambda row: row.area.casefold())


def set_area(
    session: Session,
    area: str,
    name: str | None = None,
    kind: str | None = None,
    at: tuple[float, float] | None = None,
    radius: float | None = None,
    corners: Sequence[Rings] = (),
) -> AreaRow:
    """Change an area, named by name or id; what is not given stays, its id in any case.

    Raises:
        UsageError: there is no such area, nothing is to change, or as for `add_area`.
    """
    found = find_area(session, area)
    if (at is None) != (radius is None):  # the other one stays
        lat, lon, now_m, _ = center_and_size(named.fields_of(session, AREA, found)["shape"])
        at, radius = at or (lat, lon), radius or now_m
    fields = {"name": name, "kind": kind and kind_of(kind), "shape": _drawn(at, radius, corners)}
    return _over(*named.change(session, AREA, found, fields), _all_drawn(session))


def remove_area(session: Session, area: str) -> AreaRow:
    """Take an area, named by name or id, out of every answer. Raises UsageError if none."""
    return _row(*named.remove(session, AREA, area))


def find_area(session: Session, said: str) -> str:
    """Give the id of an area by its name or id. Raises UsageError with the nearest name."""
    return named.find(session, AREA, said)


def kind_of(word: str) -> str:
    """Give the kind of area that a word names. Raises UsageError if it names none."""
    return choice_of(AREA.field("kind"), word, "kind of area", _ALSO)


def _drawn(
    at: tuple[float, float] | None, radius: float | None, corners: Sequence[Rings]
) -> dict[str, Any] | None:
    """Give the shape of what was drawn, if anything was."""
    if corners:
        rings = [[[lon, lat] for lat, lon in ring] for ring in corners]
        if min(map(len, rings)) < 3:
            raise UsageError("an area needs three corners at least", "click more of them")
        closed = [[[*ring, ring[0]]] for ring in rings]
        if len(closed) == 1:
            return polygon_shape({"type": "Polygon", "coordinates": closed[0]})
        return polygon_shape({"type": "MultiPolygon", "coordinates": closed})
    if at is None:
        return None
    if radius is None:
        raise UsageError("the area needs a size", "add --radius, such as --radius 80yd")
    return circle_shape(*at, radius)


def _row(area: str, fields: Mapping[str, Any]) -> AreaRow:
    lat, lon, radius, hectares = center_and_size(fields["shape"])
    return AreaRow(fields["name"], area, fields["kind"], lat, lon, radius, hectares)


# Less is how outlines that meet are drawn; our choice.
_OVER = 0.1
# A narrow area reaches so many times as far as the radius of a circle of its size, at most.
_LONG = 10.0


def _over(area: str, fields: Mapping[str, Any], drawn: Mapping[str, Mapping[str, Any]]) -> AreaRow:
    """Give the row of an area that was drawn, with those of `drawn` it lies over."""
    row, mine = _row(area, fields), to_area(fields["shape"])
    others = (one for other, one in drawn.items() if other != area and _may_meet(row, one["shape"]))
    over = [one["name"] for one in others if shared(mine, to_area(one["shape"])) > _OVER]
    return replace(row, overlaps=tuple(sorted(over)) or None)


def _may_meet(row: AreaRow, shape: Any) -> bool:
    """Whether the middle of a shape lies near enough to overlap."""
    lat, lon, radius, _ = center_and_size(shape)
    apart = float(distance_bearing(row.lat, row.lon, lat, lon)[0])
    return apart < _LONG * (row.radius_m + radius)


def _all_drawn(session: Session) -> dict[str, Mapping[str, Any]]:
    """The name and shape of every area by its id."""
    rows = session.con.execute("SELECT area_id, name, shape FROM areas_now WHERE shape IS NOT NULL")
    return {area: {"name": name, "shape": shape} for area, name, shape in rows.fetchall()}


def _of_feature(
    feature: GeoFeature, kind: str | None, nearby: Nearby
) -> tuple[str, dict[str, Any]]:
    name = naming.cleaned(feature.name, "feature of an area file")
    word = kind_of(feature.kind or kind or "")
    shape = polygon_shape(feature.geometry)
    for ring in rings_of(shape):
        for lon, lat in ring:
            nearby.check((lat, lon))
    fields = {"name": name, "kind": word, "shape": shape}
    return naming.content_id("a", naming.key(name), json.dumps(fields["shape"])), fields


def _take(
    session: Session, file: str, found: list[tuple[str, dict[str, Any]]], refused: list[str]
) -> AreasTaken:
    """Sort what a file holds into new, changed and known by name, and say it in one act."""
    by_name = {naming.key(name): area for area, name in named.names(session, AREA).items()}
    edits: list[Edit] = []
    taken: dict[str, AreaRow] = {}
    new = changed = 0
    for made_id, fields in found:
        area = by_name.get(naming.key(fields["name"]))
        if area in taken:
            refused.append(f"{fields['name']!r} comes twice in the file: the first was taken")
            continue
        if area is None:
            new, area = new + 1, made_id
            by_name[naming.key(fields["name"])] = area
            edits.append(SetFields("area", area, {**fields, "gone": False}))
        else:
            now = named.fields_of(session, AREA, area)
            shape = json.loads(now["shape"]) if isinstance(now["shape"], str) else now["shape"]
            if (now["kind"], shape) != (fields["kind"], json.loads(json.dumps(fields["shape"]))):
                changed += 1
                edits.append(SetFields("area", area, fields))
        taken[area] = _row(area, fields)
    if edits:
        session.say(f"loaded {counted(len(edits), 'area')} from {file}", edits)
    said = {edit.id: edit.fields for edit in edits if isinstance(edit, SetFields)}
    drawn = {**_all_drawn(session), **said}
    rows = [_over(a, said[a], drawn) if a in said else row for a, row in taken.items()]
    return AreasTaken(rows, new, changed, len(taken) - len(edits), refused)
