"""What sign says on the map: lines of rubs, and points that they head away from."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute

from camsign.errors import UsageError
from camsign.flows.fieldwork.accept_proposals import take_proposals
from camsign.logbook.session import Session
from camsign.page import inputs
from camsign.page.app_state import desk_of
from camsign.page.routing import Named, Sent, Told, get, says
from camsign.sign.lines import LineRow, sign_lines
from camsign.sign.proposals import Proposal, propose
from camsign.units import format_bearing


def _said_by_sign(request: Request) -> Response:
    # Of all seasons, as the terminal says it: old rubs beside fresh ones are the best clue.
    with desk_of(request).reading() as session:
        lines, proposed = sign_lines(session), propose(session)
    return JSONResponse(
        {"lines": [_line(one) for one in lines], "proposed": [_proposal(one) for one in proposed]}
    )


def _line(one: LineRow) -> dict[str, Any]:
    against = f", {one.against} of them the other way" if one.against else ""
    return {
        "id": one.line,
        "rubs": one.rubs,
        "heading": one.heading_deg.value,
        "words": f"{one.rubs} rubs{against}, going {_heading(one)}{_ends(one)}",
        "length_m": one.length_m,
        "from": one.came_from,
        "to": one.goes_to,
        "points": one.points,
    }


def _heading(one: LineRow) -> str:
    e = one.heading_deg
    return format_bearing(e.value or 0.0, e.low, e.high)


def _ends(one: LineRow) -> str:
    return f", {one.by_name}" if one.by_name else ""


def _proposal(one: Proposal) -> dict[str, Any]:
    return {
        "name": one.area,
        "kind": one.kind,
        "lat": one.lat,
        "lon": one.lon,
        "radius_m": one.radius_m,
        "region_m": one.region_m,
        "region_deg": one.region_deg,
        "known_as": one.known_as,
        "why": list(one.why),
    }


def _take(session: Session, _: Named, sent: Sent) -> Told:
    """Add a proposed area to the logbook."""
    name = inputs.text(sent, "name")
    if name is None:
        raise UsageError("which proposal?", "load the page again")
    done = take_proposals(session, [name])
    return {"id": done[0].area_id, "kind": "area"}, f"added {done[0].area}"


ROUTES: list[BaseRoute] = [
    get("/map/lines", _said_by_sign),
    says("/map/proposals", _take),
]
