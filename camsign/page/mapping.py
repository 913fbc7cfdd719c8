"""The map: what lies where, what the sign says, and the user's own pictures beneath it."""

from __future__ import annotations

from dataclasses import asdict
from datetime import timedelta
from pathlib import PurePath

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import BaseRoute

from camsign.errors import UsageError
from camsign.flows.fieldwork.accept_proposals import take_proposals
from camsign.logbook.session import Session
from camsign.page import inputs
from camsign.page.ground import ground_of
from camsign.page.relief import whole_relief
from camsign.page.routing import Asked, Named, Sent, Told, Values, asks, says
from camsign.page.things import forms
from camsign.pixels.underlays import MOST_BYTES, add_underlay, file_of, underlays
from camsign.sign.fresh import APART_M, LEAST, clusters, fresh_signs
from camsign.sign.lines import LineRow, sign_lines
from camsign.sign.proposals import Proposal, propose
from camsign.units import counted, format_bearing


def _ground(asked: Asked) -> Values:
    relief = whole_relief(asked.session.folder)
    return {**ground_of(asked.session), "relief": relief, "forms": forms()}


# ---------------------------------------------------------------- fresh sign


def _fresh(asked: Asked) -> Values:
    last = inputs.day(asked.query, "last")
    days = int(inputs.number(asked.query, "days") or 10)
    if last is None or not 1 <= days <= 366:
        raise UsageError("fresh up to which day, and how many days back?", "load the page again")
    found = clusters(fresh_signs(asked.session, last - timedelta(days=days - 1), last))
    shown = [{**asdict(one), "newest": one.newest.isoformat()} for one in found]
    return {"clusters": shown, "apart_m": APART_M, "least": LEAST}


# ---------------------------------------------------------------- what rubs say


def _said_by_sign(asked: Asked) -> Values:
    # Of all seasons, as the terminal says it: old rubs beside fresh ones are the best clue.
    lines, proposed = sign_lines(asked.session), propose(asked.session)
    return {"lines": [_line(one) for one in lines], "proposed": [_proposal(p) for p in proposed]}


def _line(one: LineRow) -> Values:
    against = f", {one.against} of them the other way" if one.against else ""
    e = one.heading_deg
    heading = format_bearing(e.value or 0.0, e.low, e.high)
    ends = f", {one.by_name}" if one.by_name else ""
    return {
        "id": one.line,
        "rubs": one.rubs,
        "heading": e.value,
        "words": f"{counted(one.rubs, 'rub')}{against}, going {heading}{ends}",
        "length_m": one.length_m,
        "from": one.came_from,
        "to": one.goes_to,
        "points": one.points,
    }


def _proposal(one: Proposal) -> Values:
    same = ("kind", "lat", "lon", "radius_m", "region_m", "region_deg", "known_as")
    return {"name": one.area, **{k: getattr(one, k) for k in same}, "why": list(one.why)}


def _take(session: Session, _: Named, sent: Sent) -> Told:
    """Add a proposed area to the logbook."""
    name = inputs.text(sent, "name")
    if name is None:
        raise UsageError("which proposal?", "load the page again")
    done = take_proposals(session, [name])
    return {"id": done[0].area_id, "kind": "area"}, f"added {done[0].area}"


# ---------------------------------------------------------------- pictures beneath the map


def _pictures(asked: Asked) -> Values:
    return {"pictures": [asdict(one) | {"id": one.underlay} for one in underlays(asked.session)]}


def _add(session: Session, named: Named, data: bytes) -> Told:
    """Keep a picture that was chosen: its bytes are the body, its name stands in the address."""
    name = PurePath(inputs.file_name(named, "map")).stem[:80]
    return {"id": add_underlay(session, name, data).underlay}, ""


def _file(asked: Asked) -> Response:
    path = file_of(asked.session, asked.named["id"])
    if path is None:
        raise HTTPException(404)
    kind = "image/png" if path.suffix == ".png" else "image/jpeg"
    return FileResponse(path, media_type=kind)


ROUTES: list[BaseRoute] = [
    asks("/map", lambda _: {}, "map.html"),
    asks("/map/ground", _ground),
    asks("/map/fresh", _fresh),
    asks("/map/lines", _said_by_sign),
    says("/map/proposals", _take),
    asks("/map/pictures", _pictures),
    says("/map/pictures", _add, MOST_BYTES, Request.body),
    asks("/map/pictures/{id}/file", _file),
]
