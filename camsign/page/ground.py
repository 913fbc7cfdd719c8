"""What lies where, as the map page is given it: numbers and words, days as ISO text."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import asdict
from datetime import date
from typing import Any

from camsign.answers.ground import NamedArea, ground
from camsign.answers.scope import scope_of
from camsign.geo import Circle, area_center
from camsign.logbook.moments import season_of
from camsign.logbook.session import Session
from camsign.places.deployments import Hung, deployments
from camsign.sign.marks import CAMERA, MARKS
from camsign.sign.record import SignRow, signs


def ground_of(session: Session) -> dict[str, Any]:
    """Give all that the map draws: cameras, sign with its looks, areas, places, seasons."""
    there = ground(session)
    hung, looks = deployments(session), signs(session)
    settings = session.settings
    scope = scope_of(session)
    return {
        "home": settings.home,
        "units": settings.units,
        "reach_m": settings.reach_m,
        "marks": {kind: asdict(mark) for kind, mark in {**MARKS, "camera": CAMERA}.items()},
        "season_start": settings.season_start,
        "cameras": [_camera(one) for one in hung],
        "sign": _signs(looks),
        "areas": [_area(one) for one in there.areas],
        "places": [
            {"id": p.place, "name": p.name, "kind": p.kind, "points": p.line} for p in there.places
        ],
        "seasons": _seasons(hung, looks, settings.season_start),
        "first": scope.first.isoformat(),
        "last": scope.last.isoformat(),
        "season": scope.season,
    }


def _camera(one: Hung) -> dict[str, Any]:
    return {
        "id": one.deployment,
        "camera": one.camera,
        "lat": one.lat,
        "lon": one.lon,
        "facing": one.facing_deg,
        "hung": one.hung.isoformat(timespec="minutes"),
        "until": one.until.isoformat(timespec="minutes") if one.until else None,
        "clock": one.clock,
        "note": one.note,
    }


def _signs(looks: Sequence[SignRow]) -> list[dict[str, Any]]:
    by_sign: defaultdict[str, list[SignRow]] = defaultdict(list)
    for look in looks:
        by_sign[look.sign].append(look)
    return [_sign(rows) for rows in by_sign.values()]


def _sign(rows: list[SignRow]) -> dict[str, Any]:
    """Give one sign; its looks in the order of the days, the bearing the newest that is known."""
    last = rows[-1]
    known = [row.travel_deg for row in rows if row.travel_deg is not None]
    return {
        "id": last.sign,
        "kind": last.kind,
        "lat": last.lat,
        "lon": last.lon,
        "travel": known[-1] if known else None,
        "species": last.species,
        "note": last.note,
        "bed_of": last.bed_of,
        "traditional": last.traditional,
        "looks": [_look(row) for row in rows],
    }


def _look(row: SignRow) -> dict[str, Any]:
    return {
        "seen": row.seen_on.isoformat(),
        "from": row.made_from.isoformat(),
        "to": row.made_to.isoformat(),
        "basis": row.basis,
        "state": row.state,
        "note": row.seen_note,
        "measures": dict(row.measures),
    }


def _area(one: NamedArea) -> dict[str, Any]:
    lat, lon = area_center(one.area)
    shape: dict[str, Any] = {"id": one.area_id, "name": one.name, "kind": one.kind}
    shape |= {"lat": lat, "lon": lon}
    if isinstance(one.area, Circle):
        return {**shape, "radius_m": one.area.radius_m}
    return {**shape, "rings": [_open(ring) for ring in one.area.rings]}


def _open(ring: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Give a ring without its first corner said again at its end."""
    return list(ring[:-1] if len(ring) > 1 and ring[0] == ring[-1] else ring)


def _seasons(hung: Sequence[Hung], looks: Sequence[SignRow], start: tuple[int, int]) -> list[int]:
    days: list[date] = [one.hung.date() for one in hung]
    days += [one.until.date() for one in hung if one.until]
    found = {season_of(day, start) for day in days} | {look.season for look in looks}
    return sorted(found, reverse=True)
