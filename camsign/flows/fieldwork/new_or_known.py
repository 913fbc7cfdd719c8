"""One thing of a handheld's file, ready to be said: is it new here, changed, or known?"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from functools import partial
from typing import Any

from camsign.answers.result import INNER
from camsign.errors import UsageError
from camsign.flows.fieldwork.parsed import ParsedPoint, ParsedShape
from camsign.flows.fieldwork.shorthand import SpotDraft
from camsign.flows.fieldwork.table_cells import day_of
from camsign.formats.geojson import positions
from camsign.formats.gpx import Track
from camsign.formats.text import plain_number
from camsign.geo import distance_bearing
from camsign.logbook.edits import Edit, SetFields
from camsign.logbook.moments import as_text, start_of, stored
from camsign.logbook.naming import cleaned, content_id, free, key
from camsign.logbook.session import Session
from camsign.places.areas import kind_of
from camsign.places.deployments import hang_fields
from camsign.places.shapes import circle_shape, path_shape, points_of, polygon_shape
from camsign.units import DayOrInstant, format_length, parse_bearing, parse_when

# A receiver under trees is off by so much; the same camera marked twice is one (common practice).
SAME_SPOT_M = 60.0
# A place of the same name farther off than this is another place.
OTHER_PLACE_M = 500.0
# What a person who marks an area by a point is taken to mean, unless a radius is written [m].
POINT_RADIUS_M = 60.0
# A walked path keeps its shape within so much [deg]: about half a meter.
_PATH_DEG = 5e-6


@dataclass(frozen=True, slots=True)
class Item:
    """A thing of a file. `what`: camera, place, area, sign, walk or waypoint (not understood).

    `state`: new, changed or known. lat, lon [deg, WGS 84]; `day` local; `why` a word on how it was
    read, or why it was not. `row` numbers it among all that the files hold; `way` is the travel
    read, such as `↙ going SW`; `guess` the kind that one not understood may be.
    """

    what: str
    where: str
    name: str
    kind: str
    lat: float
    lon: float
    state: str
    day: date | None = None
    why: str = ""
    edits: tuple[Edit, ...] = field(default=(), repr=False, metadata=INNER)
    row: int = 0
    way: str = ""
    guess: str = ""

    @property
    def at(self) -> tuple[float, float]:
        """Where it lies: latitude, longitude [deg]."""
        return self.lat, self.lon


class ItemMaker:
    """Turns drafts into items, knowing what the logbook holds and what the files held so far."""

    def __init__(self, session: Session, on: date | None) -> None:
        self.session = session
        self.on = on
        con = session.con
        self._hung: dict[str, list[_Hangs]] = {}
        for camera, *rest in con.execute(
            "SELECT lower(camera), deployment, lat, lon, hung, taken_down FROM deployments"
            " WHERE gone IS NOT TRUE AND lat IS NOT NULL ORDER BY hung"
        ).fetchall():
            self._hung.setdefault(camera, []).append(_Hangs(*rest))
        self._known = {
            row[0]
            for table, name in _IDS
            for row in con.execute(f"SELECT {name} FROM {table}").fetchall()
        }
        self._areas = _by_name(con.execute("SELECT area_id, name, kind, shape FROM areas_now"))
        self._places = _by_name(
            con.execute(
                "SELECT place, coalesce(name, place), kind, shape FROM places"
                " WHERE gone IS NOT TRUE AND shape IS NOT NULL"
            )
        )

    @property
    def cameras(self) -> set[str]:
        """Camera IDs that hung somewhere, in lower case."""
        return set(self._hung)

    def camera(
        self,
        point: ParsedPoint,
        draft: SpotDraft,
        at: tuple[float, float],
        cells: Mapping[str, str],
    ) -> Item:
        """Read a camera; the same one at the same spot is known, elsewhere later it was moved.

        Since it cannot hang in two places, one that nobody said was taken down hung where it was
        until it was hung elsewhere. Raises UsageError.
        """
        start = self._since(point, cells)
        name = cleaned(draft.name, "camera")
        moment = start.moment
        if self._hangs(name, moment, at):
            return _item("camera", point, name, "camera", at, "known", moment.date())
        since = start_of(start, self.session.settings.tz)
        before, until = self._moved(name, stored(since))
        if "until" in cells:
            until = parse_when(cells["until"])
        facing = parse_bearing(cells["facing"]) if "facing" in cells else draft.facing
        fields = hang_fields(
            self.session, name, at, start, until, facing, cells.get("clock"),
            cells.get("tz"), cells.get("note"), ends=before.deployment if before else "",
        )  # fmt: skip
        if cells.get("worked_to_end") == "true":
            fields["worked_to_end"] = True
        made = point.made or content_id(
            "d", name.lower(), f"{at[0]:.6f}", f"{at[1]:.6f}", fields["hung"]
        )
        item = partial(_item, "camera", point, fields["camera"], "camera", at)
        if made in self._known:
            return item("known", moment.date())
        self._hang_once(name, made, at, fields, before)
        edits: tuple[Edit, ...] = (SetFields("deployment", made, fields),)
        why = "until it was hung elsewhere" if until and "until" not in cells else ""
        if before:
            before.taken_down = stored(since)
            edits += (SetFields("deployment", before.deployment, {"taken_down": as_text(since)}),)
            why = "moved; the old spot ends that day"
        return item("new", moment.date(), why, edits)

    def place(self, point: ParsedPoint, draft: SpotDraft, path: list[tuple[float, float]]) -> Item:
        """Read a stand, parking, way in, water or food. Raises UsageError."""
        name = cleaned(draft.name, "place")
        shape = path_shape(path)
        made = point.made or content_id("p", key(name), json.dumps(shape))
        at = path[0]
        fields: dict[str, Any] = {"name": name, "kind": draft.kind, "shape": shape}
        if shoots := plain_number(point.cells.get("shoots_m", "")):
            fields["shoots_m"] = shoots
        item, edit = partial(_item, "place", point), SetFields("place", made, fields)
        if made in self._known:
            state = "changed" if point.made else "known"
            return item(name, draft.kind, at, state, edits=(edit,))
        old = self._places.get(key(name))
        if old is not None:
            far = _meters(at, points_of(old.shape)[0])
            if far <= SAME_SPOT_M and len(points_of(old.shape)) == len(path):
                return item(name, draft.kind, at, "known")
            if far <= OTHER_PLACE_M and old.kind == draft.kind:
                edit = SetFields("place", old.id, {"shape": shape})
                return item(name, draft.kind, at, "changed", edits=(edit,))
            # A way to the stand `pine` is `way in pine`, not `pine 2`.
            whole = cleaned(point.name, "place") if point.name and not point.made else name
            name = free(whole if key(whole) not in self._places else name, self._places)
        self._places[key(name)] = _Old(made, draft.kind, shape)
        fields["name"] = name
        return item(name, draft.kind, at, "new", edits=(edit,))

    def area(self, point: ParsedPoint, draft: SpotDraft, at: tuple[float, float]) -> Item:
        """Read an area marked by a point: a circle. Raises UsageError."""
        name = cleaned(draft.name, "area")
        radius = draft.radius_m or POINT_RADIUS_M
        size = format_length(radius, self.session.settings.units)
        why = "" if draft.radius_m else f"no size was written: a circle of {size} around it"
        shape = circle_shape(*at, radius)
        if key(name) in self._areas:
            return _item("area", point, name, draft.kind, at, "known")
        return self._area(point, name, draft.kind, at, shape, why)

    def drawn(self, drawn: ParsedShape, kind: str, name: str) -> Item:
        """Read a polygon; one of the same name that differs is changed. Raises UsageError."""
        name = cleaned(name, "area")
        kind = kind_of(kind)
        circle = drawn.geometry.get("circle")
        shape = circle_shape(*circle) if circle else polygon_shape(drawn.geometry)
        lat, lon = circle[:2] if circle else next(positions(shape["coordinates"]))
        point = ParsedPoint(drawn.where, name, made=drawn.made)
        old = self._areas.get(key(name))
        if drawn.made in self._known:
            old = _Old(drawn.made, "", None)
        if old is None:
            return self._area(point, name, kind, (lat, lon), shape, "")
        if (old.kind, old.shape) == (kind, json.loads(json.dumps(shape))):
            return _item("area", point, name, kind, (lat, lon), "known")
        edit = SetFields("area", old.id, {"name": name, "kind": kind, "shape": shape})
        return _item("area", point, name, kind, (lat, lon), "changed", edits=(edit,))

    def met(
        self, made: str, cells: Mapping[str, str], name: str, at: tuple[float, float], where: str
    ) -> Item | None:
        """Give a thing that camsign wrote and nobody changed since as known; None if it is not."""
        if made not in self._known or (cells.get("sighting") or made) not in self._known:
            return None
        what = _WHAT[made[0]]
        kind = cells.get("kind", what)
        return _item(what, ParsedPoint(where, made=made), name, kind, at, "known")

    def walks(self, track: Track, file: str) -> list[Item]:
        """Read a walked path, one for each stretch on which the receiver was on."""
        found = []
        for n, segment in enumerate(track.segments, 1):
            if len(segment) < 2:
                continue
            name = track.name or "walk"
            name = f"{name} ({n})" if len(track.segments) > 1 else name
            line = _simple([(p.lat, p.lon) for p in segment])
            times = [p.time_utc for p in segment if p.time_utc is not None]
            made = content_id("w", name, json.dumps(line[0]), json.dumps(line[-1]), str(times[:1]))
            made = track.cells.get("made") or made
            fields: dict[str, Any] = {"name": name, "shape": path_shape(line), "source": file}
            if times:
                fields |= {"started": as_text(min(times)), "ended": as_text(max(times))}
            fields |= {n: track.cells[n] for n in ("started", "ended") if track.cells.get(n)}
            state = "known" if made in self._known else "new"
            self._known.add(made)
            edit = SetFields("walk", made, fields)
            where = f"track {track.name[:40]!r}"
            day = min(times).date() if times else None
            found.append(_item("walk", ParsedPoint(where), name, "walk", line[0], state, day,
                               edits=(edit,)))  # fmt: skip
        return found

    def waypoint(
        self,
        point: ParsedPoint,
        at: tuple[float, float],
        file: str,
        why: str,
        sign: str | None = None,
    ) -> Item:
        """Keep what was not understood as a note; known too if it was said to be that sign."""
        made = content_id("n", point.name, point.text, f"{at[0]:.6f}", f"{at[1]:.6f}")
        fields: dict[str, Any] = {"name": point.name, "text": point.text, "source": file}
        fields |= {"lat": at[0], "lon": at[1]}
        if point.when:
            fields["noted"] = as_text(point.when)
        state = "known" if made in self._known or sign in self._known else "new"
        self._known.add(made)
        edit = SetFields("waypoint", made, {k: v for k, v in fields.items() if v != ""})
        return _item("waypoint", point, point.name, "", at, state, why=why, edits=(edit,))

    def _area(
        self,
        point: ParsedPoint,
        name: str,
        kind: str,
        at: tuple[float, float],
        shape: dict[str, Any],
        why: str,
    ) -> Item:
        made = point.made or content_id("a", key(name), json.dumps(shape))
        self._areas[key(name)] = _Old(made, kind, json.loads(json.dumps(shape)))
        fields = {"name": name, "kind": kind, "shape": shape, "gone": False}
        edit = SetFields("area", made, fields)
        return _item("area", point, name, kind, at, "new", why=why, edits=(edit,))

    def _moved(self, name: str, since: datetime) -> tuple[_Hangs | None, DayOrInstant | None]:
        """Where it hung until `since` (naive UTC) without a known end, and when it hung next."""
        others = self._hung.get(name.lower(), [])
        before = [o for o in others if o.taken_down is None and o.hung < since]
        later = min((o.hung for o in others if o.hung > since), default=None)
        until = later and later.replace(tzinfo=UTC)
        next_ = DayOrInstant(until.isoformat(), until, False) if until else None
        return before[-1] if before else None, next_

    def _hang_once(
        self,
        name: str,
        made: str,
        at: tuple[float, float],
        fields: Mapping[str, Any],
        before: _Hangs | None,
    ) -> None:
        """Keep that it hangs there; not if it hangs elsewhere then, by what was read so far."""
        hung = stored(datetime.fromisoformat(fields["hung"]))
        down = fields.get("taken_down")
        down = stored(datetime.fromisoformat(down)) if down else None
        hangs = self._hung.setdefault(name.lower(), [])
        for other in hangs:
            ends = hung if other is before else other.taken_down
            if (ends is None or hung < ends) and (down is None or other.hung < down):
                how = f"say when {name} was taken down, then hang it at {at[0]:.5f},{at[1]:.5f}"
                raise UsageError(f"{name} comes twice; the first was taken", how)
        hangs.append(_Hangs(made, *at, hung, down))
        hangs.sort(key=lambda one: one.hung)

    def _hangs(self, camera: str, moment: datetime, at: tuple[float, float]) -> bool:
        naive = stored(moment) if moment.tzinfo else moment
        return any(
            one.hung.date() <= naive.date()
            and (one.taken_down is None or naive <= one.taken_down)
            and _meters(at, (one.lat, one.lon)) <= SAME_SPOT_M
            for one in self._hung.get(camera.lower(), [])
        )

    def _since(self, point: ParsedPoint, cells: Mapping[str, str]) -> DayOrInstant:
        if "from" in cells:
            return parse_when(cells["from"])
        if point.when is not None:
            return DayOrInstant(point.when.isoformat(), point.when, False)
        day = day_of(cells["seen_on"]) if "seen_on" in cells else point.day or self.on
        if day is None:
            raise UsageError("it does not say since when it hangs", "give the day with --on DAY")
        return parse_when(day.isoformat())


def outline(drawn: ParsedShape, why: str) -> Item:
    """Show an outline of which nobody said what it is; nothing is taken of it."""
    circle = drawn.geometry.get("circle")
    lat, lon = circle[:2] if circle else next(positions(drawn.geometry["coordinates"]))
    point = ParsedPoint(drawn.where, drawn.name)
    return _item("outline", point, drawn.name, "", (lat, lon), "asked", why=why)


@dataclass(slots=True)
class _Hangs:
    """A camera at a place [deg]; `hung`, `taken_down` naive UTC."""

    deployment: str
    lat: float
    lon: float
    hung: datetime
    taken_down: datetime | None


@dataclass(frozen=True, slots=True)
class _Old:
    """What a name stands for already."""

    id: str
    kind: str
    shape: Any


# Removed things too: what a person took away does not come back with the same file.
_IDS = (
    ("deployments", "deployment"),
    ("places", "place"),
    ("walks", "walk"),
    ("waypoints", "waypoint"),
    ("signs", "sign"),
    ("sightings", "sighting"),
    ("areas", "area"),
)
# By the letter that an id begins with.
_WHAT = {"s": "sign", "d": "camera", "p": "place", "a": "area", "w": "walk"}


def _by_name(rows: Any) -> dict[str, _Old]:
    return {
        key(name): _Old(id_, kind, json.loads(shape)) for id_, name, kind, shape in rows.fetchall()
    }


def _item(
    what: str,
    point: ParsedPoint,
    name: str,
    kind: str,
    at: tuple[float, float],
    state: str,
    day: date | None = None,
    why: str = "",
    edits: tuple[Edit, ...] = (),
) -> Item:
    said = edits if state != "known" else ()
    return Item(what, point.where, name, kind, at[0], at[1], state, day or point.day, why, said)


def _meters(a: tuple[float, float], b: tuple[float, float]) -> float:
    return float(distance_bearing(*a, *b)[0])


def _simple(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Leave out points of a path that change its shape by less than half a meter."""
    import shapely

    line = shapely.LineString(points).simplify(_PATH_DEG, preserve_topology=False)
    return [(round(lat, 6), round(lon, 6)) for lat, lon in line.coords]
