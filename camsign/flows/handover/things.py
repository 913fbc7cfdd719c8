"""What of a logbook has a place, each as one thing with its words, its cells and its shape.

The cells say all that a logbook needs to know the thing again (`camsign.formats.marked`), whatever
the format; the words say the same to a person, in words that the import of a file reads.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, tzinfo
from typing import Any

from camsign.errors import UsageError
from camsign.formats.geojson import positions
from camsign.geo import Circle, circle_ring
from camsign.logbook.database import sql_beside
from camsign.logbook.moments import aware, local, season_of
from camsign.logbook.named import known_bucks
from camsign.logbook.session import Session
from camsign.logbook.shapes import of_circle, to_area
from camsign.sign.lines import line_tracks, sign_lines
from camsign.units import UnitSystem, compass_word, format_length
from camsign.zones import zone

WHAT = ("cameras", "sign", "places", "areas", "walks", "sits", "lines", "proposals")
"""What can be handed on; lines and proposals are worked out and never taken in again."""

Position = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Thing:
    """Something with a place. `shape`: GeoJSON, longitude before latitude [deg, WGS 84].

    `what` is one of WHAT, `kind` its kind; `cells` say it to another logbook, `words` to a person;
    `when` (aware) is when it was seen or hung; `id` is "" for what was worked out.
    """

    what: str
    kind: str
    name: str
    words: str
    shape: Mapping[str, Any]
    cells: Mapping[str, Any]
    id: str = ""
    when: datetime | None = None

    @property
    def where(self) -> list[Position]:
        """All of its positions in order, as latitude and longitude [deg]."""
        return list(positions(self.shape["coordinates"]))


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be handed on: which of WHAT, the season of sign and sits.

    `newest`: of each sign only its newest look, and of each camera only where it hung last: on a
    handheld its older places have the same name.
    """

    what: Sequence[str] = WHAT
    season: int | None = None
    newest: bool = False


def wanted(what: Sequence[str] | None, season: int | None = None, newest: bool = False) -> Wanted:
    """Give what is wanted, by the words of people. Raises UsageError for one that is none."""
    for word in what or ():
        if word not in WHAT:
            raise UsageError(f"there is nothing called {word!r}", f"say {', '.join(WHAT)}")
    return Wanted(tuple(what) if what else WHAT, season, newest)


def things(session: Session, asked: Wanted = Wanted()) -> list[Thing]:
    """Give everything that is wanted, cameras first."""
    makers = {
        "cameras": _cameras, "sign": _sign, "places": _places, "areas": _areas, "walks": _walks,
        "sits": _sits,
        "lines": _lines, "proposals": _proposals,
    }  # fmt: skip
    return [thing for what in WHAT if what in asked.what for thing in makers[what](session, asked)]


def _rows(session: Session, name: str) -> list[dict[str, Any]]:
    cursor = session.con.execute(sql_beside(__file__, f"{name}.sql"))
    names = [column[0] for column in cursor.description or ()]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def _cameras(session: Session, asked: Wanted) -> Iterator[Thing]:
    tz, rows = session.settings.tz, _rows(session, "cameras")
    last = {row["camera"]: row["deployment"] for row in rows}
    for row in rows:
        if asked.newest and last[row["camera"]] != row["deployment"]:
            continue
        since, until = local(row["hung"], tz), row["taken_down"] and local(row["taken_down"], tz)
        facing = row["facing_deg"]
        cells = {
            "kind": "camera", "camera": row["camera"], "deployment": row["deployment"],
            "from": since.isoformat(),
            "until": until.isoformat() if until else None,
            "facing": None if facing is None else f"{facing!r}T", "clock": row["clock"],
            "tz": row["tz"], "note": row["note"], "worked_to_end": row["worked_to_end"],
        }  # fmt: skip
        words = f"hung {since:%Y-%m-%d}" + (f", taken down {until:%Y-%m-%d}" if until else "")
        words += "" if facing is None else f", facing {compass_word(facing)}"
        yield _point("cameras", "camera", row["camera"], words, row, cells, since)


def _sign(session: Session, asked: Wanted) -> Iterator[Thing]:
    shown: set[str] = set()
    there = session.settings
    for row in _rows(session, "looks"):
        if asked.season is not None and row.pop("season") != asked.season:
            continue
        row.pop("season", None)
        if asked.newest and row["sign"] in shown:
            continue
        shown.add(row["sign"])
        measures = json.loads(row.pop("measures") or "{}")
        measures.pop("bare_deg", None)
        kind, travel, seen = row["kind"], row["travel_deg"], row["seen_on"]
        way = "" if travel is None else f" {compass_word(travel)}"
        said = [f"going{way}"] if way else []
        said += [w for w in (row["species"], row["state"]) if w]
        said += [_measure(name, value, there.units) for name, value in measures.items()]
        said += [row["note"]] if row["note"] else []
        cells = {k: v.isoformat() if isinstance(v, date) else v for k, v in row.items()}
        cells |= {k: " ".join(v) if isinstance(v, list) else "yes" if v is True else v
                  for k, v in measures.items()}  # fmt: skip
        noon = datetime.combine(seen, time(12), zone(there.tz)) if seen else None
        name = f"{kind}{way} {row['sign'][2:6]}"
        yield _point("sign", kind, name, ", ".join(said), row, cells, noon)


def _measure(name: str, value: Any, units: UnitSystem) -> str:
    word = name.removesuffix("_m").removesuffix("_deg").replace("_", " ")
    if name.endswith("_m"):
        return f"{word} {format_length(value, units, small=True).replace(' ', '')}"
    if name.endswith("_deg"):
        return f"{word} {compass_word(value)}"
    if isinstance(value, list):
        return " ".join(map(str, value))
    return word if value is True else f"{word} {value}"


def _point(
    what: str, kind: str, name: str, words: str, row: Mapping[str, Any], cells: Mapping[str, Any],
    when: datetime | None,
) -> Thing:  # fmt: skip
    at = {"type": "Point", "coordinates": [row["lon"], row["lat"]]}
    kept = {k: v for k, v in _said(cells).items() if k not in ("lat", "lon")}
    made = row["deployment"] if what == "cameras" else row["sign"]
    return Thing(what, kind, name, words, at, kept, made, when)


def _places(session: Session, _: Wanted) -> Iterator[Thing]:
    for row in _rows(session, "places"):
        cells = {"kind": row["kind"], "name": row["name"], "place_id": row["place"],
                 "shoots_m": row["shoots_m"]}  # fmt: skip
        shape, kind = json.loads(row["shape"]), row["kind"]
        yield Thing("places", kind, row["name"], kind, shape, _said(cells), row["place"])


def _areas(session: Session, _: Wanted) -> Iterator[Thing]:
    rows = session.con.execute(
        "SELECT area_id, name, kind, shape FROM areas_now WHERE shape IS NOT NULL ORDER BY name"
    ).fetchall()
    for area, name, kind, shape in rows:
        outline, cells = _outline(shape), {"kind": kind, "name": name, "area_id": area}
        if outline["type"] != "Polygon" or "circle" in json.loads(shape):
            cells["shape"] = shape  # no format keeps a circle, and not all keep two outlines in one
        yield Thing("areas", kind, name, f"{kind} area", outline, cells, area)


def _outline(shape: str) -> Mapping[str, Any]:
    """The outline of an area as RFC 7946 wants it: the outer ring against the clock."""
    import shapely

    value = json.loads(shape)
    area = to_area(value)
    if isinstance(area, Circle):
        value = {"type": "Polygon", "coordinates": [[list(p) for p in circle_ring(area)]]}
    drawn = shapely.geometry.shape(value)
    return json.loads(shapely.to_geojson(shapely.orient_polygons(drawn)))  # type: ignore[no-any-return]


def _walks(session: Session, _: Wanted) -> Iterator[Thing]:
    for row in _rows(session, "walks"):
        times = {n: row[n].replace(tzinfo=UTC) for n in ("started", "ended") if row[n]}
        cells = {"kind": "walk", "name": row["name"], "walk": row["walk"]}
        cells |= {n: t.isoformat() for n, t in times.items()}
        shape = json.loads(row["shape"])
        yield Thing("walks", "walk", row["name"], "walked", shape, cells, row["walk"],
                    times.get("started"))  # fmt: skip


def _sits(session: Session, asked: Wanted) -> Iterator[Thing]:
    """The sits, each at its stand, with the words that the import of a file reads."""
    there, bucks = session.settings, known_bucks(session)
    tz = zone(there.tz)
    for row in _rows(session, "sits"):
        begin, end = aware(row["start"]), aware(row["stop"])
        season = season_of(begin.astimezone(tz).date(), there.season_start)
        if asked.season not in (None, season):
            continue
        met = [
            one | ({"buck_name": bucks.name(one["buck"])} if one["buck"] else {})
            for one in json.loads(row["met"] or "[]")
        ]
        cells = {
            "kind": "sit", "sit": row["sit"], "stand": row["stand"],
            "stand_name": row["stand_name"], "start": begin.isoformat(), "stop": end.isoformat(),
            "wind_deg": row["wind_deg"], "wind_ms": row["wind_ms"], "note": row["note"],
            "met": json.dumps([_said(one) for one in met]) if met else None,
        }  # fmt: skip
        lat, lon = next(positions(json.loads(row["shape"])["coordinates"]))
        name = f"sat {row['stand_name']} {_clock(begin, tz)}-{_clock(end, tz)}"
        at = {"type": "Point", "coordinates": [lon, lat]}
        words = _sit_words(row, met, there.units, tz)
        yield Thing("sits", "sit", name, words, at, _said(cells), row["sit"], begin)


def _said(cells: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in cells.items() if value is not None}


def _sit_words(
    row: Mapping[str, Any], met: Sequence[Mapping[str, Any]], units: UnitSystem, tz: tzinfo
) -> str:
    """Give who was met, the wind and the note, such as `saw 8pt 40yd E 4:40pm; wind SW 6mph`."""
    parts = []
    for word, spooked in (("saw", False), ("spooked", True)):
        those = [_phrase(one, units, tz) for one in met if bool(one.get("spooked")) is spooked]
        parts += [f"{word} {', '.join(those)}"] if those else []
    parts += [f"wind {wind}"] if (wind := _wind(row, units)) else []
    parts += [f"note {row['note']}"] if row["note"] else []
    return "; ".join(parts)


def _phrase(one: Mapping[str, Any], units: UnitSystem, tz: tzinfo) -> str:
    count, points, far = one.get("count") or 1, one.get("points"), one.get("distance_m")
    who = one.get("buck_name") or (f"{points}pt" if points else one.get("what") or "animal")
    yards = units == "imperial"
    words = [str(count)] if count > 1 else []
    words += ["mature"] if one.get("mature") else []
    words += [who]
    words += [f"{far / 0.9144:.0f}yd" if yards else f"{far:.0f}m"] if far is not None else []
    words += [compass_word(one["from_deg"])] if one.get("from_deg") is not None else []
    at = one.get("seen_at")
    words += [_clock(datetime.fromisoformat(at), tz)] if at else []
    return " ".join([*words, *([one["note"]] if one.get("note") else [])])


def _wind(row: Mapping[str, Any], units: UnitSystem) -> str:
    way, pace = row["wind_deg"], row["wind_ms"]
    if way is None:
        return "calm" if pace == 0 else ""
    if pace is None:
        return compass_word(way)
    imperial = units == "imperial"
    return f"{compass_word(way)} {pace / 0.44704 if imperial else 3.6 * pace:.0f}" + (
        "mph" if imperial else "kmh"
    )


def _clock(when: datetime, tz: tzinfo) -> str:
    here = when.astimezone(tz)
    return f"{here.hour % 12 or 12}:{here:%M}{'am' if here.hour < 12 else 'pm'}"


def _lines(session: Session, asked: Wanted) -> Iterator[Thing]:
    for track in line_tracks(sign_lines(session, asked.season)):
        shape = {"type": "LineString", "coordinates": [[p.lon, p.lat] for p in track.points]}
        yield Thing("lines", "rub line", track.name, "worked out from rubs", shape,
                    {"kind": "rub line"})  # fmt: skip


def _proposals(session: Session, asked: Wanted) -> Iterator[Thing]:
    from camsign.sign.proposals import propose

    for p in propose(session, asked.season):
        if p.known_as is not None:
            continue
        outline = _outline(json.dumps(of_circle(Circle(p.lat, p.lon, p.radius_m))))
        cells = {"kind": "proposal", "proposed_kind": p.kind, "score": round(p.score, 2)}
        words = f"{p.kind}? {'; '.join(p.why)}"
        yield Thing("proposals", "proposal", p.area, words, outline, cells)
