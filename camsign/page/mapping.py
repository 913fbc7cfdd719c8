"""The map: what lies where, and saying what hangs, stands or lies there."""

from __future__ import annotations

from dataclasses import asdict
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute

from camsign.errors import UsageError
from camsign.page import inputs
from camsign.page.app_state import desk_of
from camsign.page.fresh import APART_M, LEAST, clusters
from camsign.page.ground import ground_of
from camsign.page.routing import Named, Sent, Told, get, says
from camsign.page.show import render
from camsign.places import areas, deployments, points
from camsign.places.shapes import circle_shape, polygon_shape
from camsign.sign import record
from camsign.sign.heading import parse_heading
from camsign.sign.kinds import KINDS, sign_kind
from camsign.units import parse_bearing, parse_lat_lon, parse_length, parse_when

if TYPE_CHECKING:
    from camsign.logbook.session import Session
    from camsign.units import DayOrInstant

_MOST_CORNERS = 5000
_BIG_BODY = 1 << 20


def _page(request: Request) -> Response:
    values = {
        "area_kinds": areas.KINDS,
        "place_kinds": points.KINDS,
        "sign_kinds": KINDS,
    }
    desk_of(request)
    return render(request, "map.html", values)


def _ground(request: Request) -> Response:
    with desk_of(request).reading() as session:
        return JSONResponse(ground_of(session))


def _fresh(request: Request) -> Response:
    last = inputs.day(request.query_params, "last")
    days = int(inputs.number(request.query_params, "days") or 10)
    if last is None or not 1 <= days <= 366:
        raise UsageError("fresh up to which day, and how many days back?", "load the page again")
    with desk_of(request).reading() as session:
        found = clusters(record.fresh_signs(session, last - timedelta(days=days - 1), last))
    shown = [{**asdict(one), "newest": one.newest.isoformat()} for one in found]
    return JSONResponse({"clusters": shown, "apart_m": APART_M, "least": LEAST})


# ---------------------------------------------------------------- cameras


def _hang(session: Session, _: Named, sent: Sent) -> Told:
    done = deployments.hang(
        session,
        _needed(sent, "camera", "which camera?"),
        at_of(sent),
        _when(sent, "from", "since when does it hang?"),
        _maybe_when(sent, "until"),
        _bearing(sent, "facing"),
        clock="local" if sent.get("clock_follows") is True else "hung",
        note=inputs.text(sent, "note", 2000),
    )
    return {"id": done.deployment, "kind": "camera"}, f"hung {done.camera}"


def _correct(session: Session, named: Named, sent: Sent) -> Told:
    camera, note = inputs.text(sent, "camera"), inputs.text(sent, "note", 2000)
    done = deployments.correct_deployment(
        session,
        named["id"],
        camera=camera,
        at=at_of(sent) if "at" in sent else None,
        start=_maybe_when(sent, "from"),
        until=_maybe_when(sent, "until"),
        still_hanging=sent.get("still_hanging") is True,
        facing=_bearing(sent, "facing"),
        note=note,
    )
    return {"id": done.deployment, "kind": "camera"}, f"corrected {done.camera}"


def _take_down(session: Session, _: Named, sent: Sent) -> Told:
    camera = _needed(sent, "camera", "which camera?")
    on = _when(sent, "on", "when was it taken down?")
    done = deployments.takedown(session, camera, on, sent.get("working") is True)
    return {"id": done.deployment, "kind": "camera"}, f"took down {done.camera}"


def _never_hung(session: Session, named: Named, _: Sent) -> Told:
    done = deployments.remove_deployment(session, named["id"])
    return {}, f"removed a deployment of {done.camera}"


# ---------------------------------------------------------------- sign


def _add_sign(session: Session, _: Named, sent: Sent) -> Told:
    kind = sign_kind(_needed(sent, "kind", "what kind of sign?"))
    species, note = inputs.text(sent, "species"), inputs.text(sent, "note", 2000)
    whose = inputs.text(sent, "bed_of")
    done = record.add_sign(session, kind, at_of(sent), _seen(sent), species, note, whose)
    return {"id": done.sign, "kind": "sign", "read_as": done.read_as}, f"noted a {kind}"


def _look_again(session: Session, named: Named, sent: Sent) -> Told:
    done = record.look_again(session, named["id"], _seen(sent), inputs.text(sent, "bed_of"))
    answer = {"id": done.sign, "kind": "sign", "read_as": done.read_as}
    return answer, f"looked again at a {done.kind}"


def _move_sign(session: Session, named: Named, sent: Sent) -> Told:
    moved = record.move_sign(session, named["id"], at_of(sent))
    return {"id": moved, "kind": "sign"}, "moved a sign"


def _remove_sign(session: Session, named: Named, _: Sent) -> Told:
    record.remove_sign(session, named["id"])
    return {}, "removed a sign"


def _seen(sent: Sent) -> record.SaidSighting:
    day = inputs.day(sent, "seen")
    if day is None:
        raise UsageError("on which day was it seen?", "choose a day")
    travel, bare = inputs.text(sent, "travel"), inputs.text(sent, "bare")
    if travel and bare:
        raise UsageError("a rub's travel and its bare side say the same", "give one of them")
    said = f"bare {bare}" if bare else travel
    heading = parse_heading(said) if said else None
    state, note = inputs.text(sent, "state"), inputs.text(sent, "seen_note", 2000)
    return record.SaidSighting(day, state, heading, note=note)


# ---------------------------------------------------------------- areas and places


def _add_area(session: Session, _: Named, sent: Sent) -> Told:
    kind = _needed(sent, "kind", "what do they do there?")
    name = _needed(sent, "name", "an area needs a name")
    if "corners" in sent:
        done = areas.add_polygon(session, kind, name, _geometry(sent))
    else:
        done = areas.add_area(session, kind, name, at_of(sent), _radius(session, sent))
    return {"id": done.area_id, "kind": "area"}, f"added {done.area}"


def _set_area(session: Session, named: Named, sent: Sent) -> Told:
    """Say what is different of an area: its name, kind or shape."""
    found = areas.find_area(session, named["id"])
    done: areas.AreaRow | None = None
    if name := inputs.text(sent, "name"):
        done = areas.rename_area(session, found, name)
    if kind := inputs.text(sent, "kind"):
        done = areas.set_area_kind(session, found, kind)
    if "corners" in sent:
        done = areas.reshape_area(session, found, polygon_shape(_geometry(sent)))
    elif "at" in sent:
        shape = circle_shape(*at_of(sent), _radius(session, sent))
        done = areas.reshape_area(session, found, shape)
    if done is None:
        raise UsageError("nothing about this area was changed", "change something first")
    return {"id": found, "kind": "area"}, f"changed {done.area}"


def _remove_area(session: Session, named: Named, _: Sent) -> Told:
    done = areas.remove_area(session, named["id"])
    return {}, f"removed {done.area}"


def _add_place(session: Session, _: Named, sent: Sent) -> Told:
    kind = _needed(sent, "kind", "what kind of place?")
    name = _needed(sent, "name", "a place needs a name")
    path = _path(sent) if "corners" in sent else [at_of(sent)]
    done = points.add_place(session, kind, name, path)
    return {"id": done.place_id, "kind": "place"}, f"added {done.place}"


def _set_place(session: Session, named: Named, sent: Sent) -> Told:
    done: points.PlaceRow | None = None
    if name := inputs.text(sent, "name"):
        done = points.rename_place(session, named["id"], name)
    if "corners" in sent or "at" in sent:
        path = _path(sent) if "corners" in sent else [at_of(sent)]
        done = points.move_place(session, named["id"], path)
    if done is None:
        raise UsageError("nothing about this place was changed", "change something first")
    return {"id": done.place_id, "kind": "place"}, f"changed {done.place}"


def _remove_place(session: Session, named: Named, _: Sent) -> Told:
    done = points.remove_place(session, named["id"])
    return {}, f"removed {done.place}"


# ---------------------------------------------------------------- what was sent


def at_of(sent: Sent) -> tuple[float, float]:
    """Give the (lat, lon) [deg] of a text such as `44.61,-71.22`. Raises UsageError if none."""
    return parse_lat_lon(_needed(sent, "at", "where?"))


def _needed(sent: Sent, name: str, question: str) -> str:
    said = inputs.text(sent, name)
    if said is None:
        raise UsageError(question, "fill this in")
    return said


def _when(sent: Sent, name: str, question: str) -> DayOrInstant:
    return parse_when(_needed(sent, name, question))


def _maybe_when(sent: Sent, name: str) -> DayOrInstant | None:
    said = inputs.text(sent, name)
    return parse_when(said) if said else None


def _bearing(sent: Sent, name: str) -> Any:
    said = inputs.text(sent, name)
    return parse_bearing(said) if said else None


def _radius(session: Session, sent: Sent) -> float:
    unit = "m" if session.settings.units == "metric" else "yd"
    return parse_length(_needed(sent, "radius", "how far does it reach around?"), unit)


def _path(sent: Sent) -> list[tuple[float, float]]:
    """Give the (lat, lon) corners that a page sent as [[lat, lon], …]."""
    corners = sent["corners"]
    if not isinstance(corners, list) or len(corners) > _MOST_CORNERS:
        raise UsageError("these are no corners, or too many", f"{_MOST_CORNERS} are the most")
    return [_corner(one) for one in corners]


def _corner(one: Any) -> tuple[float, float]:
    numbers = isinstance(one, list) and len(one) == 2
    if not numbers or not all(isinstance(v, int | float) for v in one):
        raise UsageError("a corner is no place", "draw it again")
    return float(one[0]), float(one[1])


def _geometry(sent: Sent) -> dict[str, Any]:
    """Give the GeoJSON polygon of the corners of one or of several rings."""
    rings = sent["corners"]
    if not isinstance(rings, list) or len(rings) > 50:
        raise UsageError("this is no outline", "draw it again")
    made = []
    for ring in rings:
        around = [[lon, lat] for lat, lon in _path({"corners": ring})]
        if len(around) < 3:
            raise UsageError("an area needs three corners at least", "click more of them")
        made.append([*around, around[0]])
    if len(made) == 1:
        return {"type": "Polygon", "coordinates": made}
    return {"type": "MultiPolygon", "coordinates": [[ring] for ring in made]}


ROUTES: list[BaseRoute] = [
    get("/map", _page),
    get("/map/ground", _ground),
    get("/map/fresh", _fresh),
    says("/map/cameras", _hang),
    says("/map/cameras/takedown", _take_down),
    says("/map/cameras/{id}", _correct),
    says("/map/cameras/{id}/remove", _never_hung),
    says("/map/sign", _add_sign),
    says("/map/sign/{id}/look", _look_again),
    says("/map/sign/{id}/move", _move_sign),
    says("/map/sign/{id}/remove", _remove_sign),
    says("/map/areas", _add_area, _BIG_BODY),
    says("/map/areas/{id}", _set_area, _BIG_BODY),
    says("/map/areas/{id}/remove", _remove_area),
    says("/map/places", _add_place, _BIG_BODY),
    says("/map/places/{id}", _set_place, _BIG_BODY),
    says("/map/places/{id}/remove", _remove_place),
]
