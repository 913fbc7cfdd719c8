"""A handheld's or phone's file: sorted into cameras, places, areas, sign; shown; then taken."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from camsign.errors import CamsignError, InputRefused
from camsign.flows.fieldwork.found import FieldFile, Found, read_field_file
from camsign.flows.fieldwork.nearby import Nearby
from camsign.flows.fieldwork.shorthand import AreaDraft, CameraDraft, PlaceDraft, Shorthand
from camsign.flows.fieldwork.sign import Choices, local_day, ready_signs, sign_edits
from camsign.formats.geojson import read_geojson
from camsign.formats.kinds import HEAD_BYTES
from camsign.geo import distance_bearing
from camsign.logbook import naming
from camsign.logbook.edits import SetFields
from camsign.places import areas, points
from camsign.places.deployments import deployments, hang
from camsign.units import parse_when

if TYPE_CHECKING:
    from camsign.flows.fieldwork.sign import Ready
    from camsign.logbook.session import Session

# A receiver under trees is off by so much; the same camera marked twice is one (common practice).
SAME_SPOT_M = 60.0
DEFAULT_RADIUS_M = 100.0
_SHOWN = 200


@dataclass(frozen=True, slots=True)
class Item:
    """One thing of the file. `what`: camera, place, area or sign; `known`: nothing new in it."""

    what: str
    name: str
    kind: str
    where: str
    lat: float
    lon: float
    day: date | None = None
    known: bool = False
    draft: Any = None


@dataclass(slots=True)
class Sorted:
    """What a file holds: items, sign ready to be said, and lines on what was not understood."""

    file: str
    items: list[Item] = field(default_factory=list)
    signs: list[Ready] = field(default_factory=list)
    not_understood: list[str] = field(default_factory=list)


def sort_file(session: Session, path: Path) -> Sorted:
    """Read a file and sort what is in it; nothing is noted yet.

    Raises:
        InputRefused: it is no GPX, no table and no GeoJSON, or nothing of it is understood.
    """
    found = _of_geojson(path) if _is_json(path) else _of_points(session, path)
    if not found.items:
        told = "; ".join(["nothing in this file is understood", *found.not_understood[:2]])
        raise InputRefused(told, "it has to be GPX, a table, or GeoJSON")
    return found


def take_file(session: Session, path: Path) -> tuple[dict[str, int], list[str]]:
    """Take in what a file holds: how many of each, and a line for each that was refused.

    Raises:
        InputRefused: as for `sort_file`.
    """
    if _is_json(path):
        done = areas.import_areas(session, path)
        return {"area": done.new + done.changed}, done.refused
    found = _of_points(session, path)
    counts, refused = {"camera": 0, "place": 0, "area": 0, "sign": 0}, found.not_understood
    for item in found.items:
        if item.known or item.what == "sign":
            continue
        try:
            _say(session, item)
            counts[item.what] += 1
        except CamsignError as e:
            refused.append(f"{item.where} left out: {e}")
    edits, said = sign_edits(session, found.signs)
    if edits:
        counts["sign"] = said["new"] + said["changed"]
        session.say(f"took in {counts['sign']} signs of {found.file}", edits)
    return counts, refused


def shown(found: Sorted) -> dict[str, Any]:
    """Give a sorted file as a page shows it."""
    groups: dict[str, Any] = {}
    for what in ("camera", "place", "area", "sign"):
        mine = [item for item in found.items if item.what == what]
        rows = [
            {
                "name": i.name,
                "kind": i.kind,
                "at": f"{i.lat:.5f}, {i.lon:.5f}",
                "day": i.day.isoformat() if i.day else "",
                "known": i.known,
            }
            for i in mine[:_SHOWN]
        ]
        new = sum(not i.known for i in mine)
        groups[what] = {"rows": rows, "all": len(mine), "new": new}
    return {"file": found.file, "groups": groups, "not_understood": found.not_understood[:_SHOWN]}


def _of_points(session: Session, path: Path) -> Sorted:
    file = read_field_file(path)
    found = Sorted(file.name, not_understood=list(file.troubles))
    others, signs = _parted(session, file, found)
    found.items += others
    found.items = [*_once(found.items, found), *_signs(session, FieldFile(file.name, signs), found)]
    found.not_understood += [
        f"track {track.name[:40]!r}: tracks are left out; draw ways in on the map"
        for track in file.paths
    ]
    return found


def _parted(session: Session, file: FieldFile, found: Sorted) -> tuple[list[Item], list[Found]]:
    """Part a file's points into cameras, places and areas, and what has to be sign."""
    hung = deployments(session)
    shorthand = Shorthand(session.settings, {d.camera for d in hung})
    nearby = Nearby.of(session)
    others: list[Item] = []
    signs: list[Found] = []
    for point in file.points:
        if "kind" in point.cells or point.lat is None or point.lon is None:
            signs.append(point)
            continue
        try:
            draft = shorthand.read(point.name, point.text)
            if isinstance(draft, CameraDraft | PlaceDraft | AreaDraft):
                nearby.check((point.lat, point.lon))
                others.append(_item(session, point, draft))
            elif draft is None:
                named = f" {point.name[:40]!r}" if point.name else ""
                found.not_understood.append(f"{point.where}: no word in{named} names a kind")
            else:
                signs.append(point)
        except CamsignError as e:
            found.not_understood.append(f"{point.where}: {e}")
    return [_marked(session, item, hung) for item in others], signs


def _item(session: Session, point: Found, draft: CameraDraft | PlaceDraft | AreaDraft) -> Item:
    if isinstance(draft, CameraDraft):
        what, name, kind = "camera", draft.camera, "camera"
    else:
        what = "place" if isinstance(draft, PlaceDraft) else "area"
        name, kind = draft.name or point.name, draft.kind
    day = local_day(point, session.settings.tz)
    lat, lon = float(point.lat or 0.0), float(point.lon or 0.0)
    return Item(what, name, kind, point.where, lat, lon, day, draft=draft)


def _marked(session: Session, item: Item, hung: list[Any]) -> Item:
    """Mark what the logbook has already: the same camera at the spot, or the name."""
    if item.what == "camera":
        here = [d for d in hung if d.camera.lower() == item.name.lower()]
        off = [distance_bearing(item.lat, item.lon, d.lat, d.lon)[0] for d in here]
        return replace(item, known=any(float(o) <= SAME_SPOT_M for o in off))
    rows = areas.areas(session) if item.what == "area" else points.places(session)
    names = {naming.key(getattr(row, item.what)) for row in rows}
    return replace(item, known=naming.key(item.name) in names)


def _once(items: list[Item], found: Sorted) -> Iterator[Item]:
    """Give each camera, place and area once; the database cannot know of the first one yet."""
    seen: set[tuple[str, str]] = set()
    for item in items:
        key = (item.what, naming.key(item.name))
        if key in seen:
            found.not_understood.append(f"{item.where}: {item.name} comes twice in the file")
        else:
            seen.add(key)
            yield item


def _signs(session: Session, file: FieldFile, found: Sorted) -> list[Item]:
    ready = ready_signs(session, file, Choices(), found.not_understood, [])
    found.signs = ready
    edits, _ = sign_edits(session, ready)
    said = {edit.id for edit in edits if isinstance(edit, SetFields)}
    return [
        Item("sign", r.kind, r.kind, r.where, r.lat, r.lon, r.seen_on, r.sighting not in said)
        for r in ready
    ]


def _of_geojson(path: Path) -> Sorted:
    file = read_geojson(path)
    found = Sorted(path.name, not_understood=list(file.troubles))
    for feature in file.features:
        lat, lon = _somewhere(feature.geometry["coordinates"])
        named = feature.name or f"feature {feature.number}"
        kind = feature.kind or "no kind said"
        found.items.append(Item("area", named, kind, f"feature {feature.number}", lat, lon))
    return found


def _somewhere(coordinates: Any) -> tuple[float, float]:
    while coordinates and isinstance(coordinates[0], list):
        coordinates = coordinates[0]
    return (float(coordinates[1]), float(coordinates[0])) if coordinates else (0.0, 0.0)


def _is_json(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(HEAD_BYTES).lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{")


def _say(session: Session, item: Item) -> None:
    at = (item.lat, item.lon)
    if item.what == "camera":
        day = item.day or datetime.now(UTC).date()
        hang(session, item.name, at, parse_when(day.isoformat()), facing=item.draft.facing)
    elif item.what == "place":
        points.add_place(session, item.kind, item.name, [at])
    else:
        radius = item.draft.radius_m or DEFAULT_RADIUS_M
        areas.add_area(session, item.kind, item.name, at, radius)
