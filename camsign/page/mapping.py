"""The map: what lies where, and saying what hangs, stands or lies there."""

from __future__ import annotations

from dataclasses import asdict
from datetime import timedelta
from typing import TYPE_CHECKING

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute

from camsign.errors import UsageError
from camsign.page import inputs
from camsign.page.app_state import desk_of
from camsign.page.fresh import APART_M, LEAST, clusters
from camsign.page.ground import ground_of
from camsign.page.relief import whole_relief
from camsign.page.routing import get
from camsign.page.show import render
from camsign.page.things import forms
from camsign.sign import record

if TYPE_CHECKING:
    pass

_MOST_CORNERS = 5000
_BIG_BODY = 1 << 20


def _page(request: Request) -> Response:
    desk_of(request)
    return render(request, "map.html")


def _ground(request: Request) -> Response:
    with desk_of(request).reading() as session:
        relief = whole_relief(session.folder)
        return JSONResponse({**ground_of(session), "relief": relief, "forms": forms()})


def _fresh(request: Request) -> Response:
    last = inputs.day(request.query_params, "last")
    days = int(inputs.number(request.query_params, "days") or 10)
    if last is None or not 1 <= days <= 366:
        raise UsageError("fresh up to which day, and how many days back?", "load the page again")
    with desk_of(request).reading() as session:
        found = clusters(record.fresh_signs(session, last - timedelta(days=days - 1), last))
    shown = [{**asdict(one), "newest": one.newest.isoformat()} for one in found]
    return JSONResponse({"clusters": shown, "apart_m": APART_M, "least": LEAST})


ROUTES: list[BaseRoute] = [
    get("/map", _page),
    get("/map/ground", _ground),
    get("/map/fresh", _fresh),
]
