"""Sign of files as items: which is new here, changed or known, and what was read of each.

Two devices' copies of one waypoint, sign of a kind within 5 m and a day, are offered as one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from camsign.flows.fieldwork.new_or_known import Item
from camsign.flows.fieldwork.sign_tables import Ready, sign_edits
from camsign.geo import Places
from camsign.logbook.edits import Edit, SetFields
from camsign.logbook.session import Session
from camsign.units import UnitSystem, compass_word, format_length

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


def sign_items(
    session: Session, signs: list[tuple[str, Ready]]
) -> tuple[list[Item], list[Duplicate]]:
    """Compare all sign of files at once with what the logbook holds; give what may be doubled."""
    units = session.settings.units
    ready = [r for _, r in signs]
    # Of one that comes in two files the last says what it is, and it is taken once.
    said = {r.sighting: both for r, both in zip(ready, sign_edits(session, ready), strict=True)
            if both[1]}  # fmt: skip
    items: list[Item] = []
    for file, r in signs:
        state, new = said.pop(r.sighting, ("known", ()))
        travel = r.of_sighting.get("travel_deg")
        way = "" if travel is None else f"{_arrow(travel)} going {compass_word(travel)}"
        items.append(
            Item("sign", f"{file}: {r.where}", r.of_sign.get("note") or "", r.kind, r.lat, r.lon,
                 state, r.seen_on, _read_as(r, units), new, r.row, way)
        )  # fmt: skip
    fresh = [r for (_, r), item in zip(signs, items, strict=True) if item.state == "new"]
    return items, find_duplicates(session, fresh)


def joined(item: Item, other: str) -> list[Edit]:
    """Say a sign as one more look at another, so that nothing of it is lost and it is known."""
    return [
        replace(
            e, fields={**e.fields, **({"gone": True} if e.thing == "sign" else {"sign": other})}
        )
        for e in item.edits
        if isinstance(e, SetFields)
    ]


def sign_of(item: Item) -> str | None:
    """Give the id of the sign that an item says, None if it says none."""
    return next((e.id for e in item.edits if isinstance(e, SetFields) and e.thing == "sign"), None)


_ARROWS = dict(zip(("N", "NE", "E", "SE", "S", "SW", "W", "NW"), "↑↗→↘↓↙←↖", strict=True))


def facing_words(deg: float) -> str:
    """Give where a camera looks [deg] as an arrow and words, such as `↗ faces NE`."""
    return f"{_arrow(deg)} faces {compass_word(deg)}"


def _arrow(deg: float) -> str:
    """The arrow of the letters that stand beside it: of three the two of its corner."""
    word = compass_word(deg)
    return _ARROWS[word if len(word) < 3 else word[1:]]


def _read_as(r: Ready, units: UnitSystem) -> str:
    """Give what else was read of a sign: its bare side, tree, look and measures."""
    measures = dict(r.of_sighting.get("measures") or {})
    bare = measures.pop("bare_deg", None)
    said = [f"bare side {compass_word(bare)}"] if bare is not None else []
    said += [f"a {whose}'s bed"] if (whose := r.of_sign.get("bed_of")) in ("buck", "doe") else []
    said += [w for w in (r.of_sign.get("species"), r.of_sighting.get("state")) if w]
    said += [_measure(n, v, units) for n, v in measures.items()]
    said += ["as you said"] if r.chosen else []
    return ", ".join(said)


def _measure(name: str, value: Any, units: UnitSystem) -> str:
    word = name.removesuffix("_m").removesuffix("_deg").replace("_", " ")
    if value is True:
        return word
    if isinstance(value, list):
        return ", ".join(str(v) for v in value)
    if name.endswith("_m"):
        return f"{word} {format_length(value, units, small=True)}"
    if name.endswith("_deg"):
        return f"{word} {compass_word(value)}"
    return f"{word} {value:g}"


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
