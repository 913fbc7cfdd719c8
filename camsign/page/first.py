"""Where there is no logbook yet: where is home?"""

from __future__ import annotations

from dataclasses import asdict
from functools import cache
from pathlib import Path

from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from camsign.errors import UsageError
from camsign.flows.fieldwork.starting import move_home, start, understood
from camsign.logbook.folder import Folder
from camsign.page import inputs
from camsign.page.app_state import opened
from camsign.page.routing import Sent, post
from camsign.page.show import render
from camsign.zones import zone_of

_CELL = 4
"""Side of a cell of the small world map [deg]."""


def _page(request: Request) -> Response:
    if opened(request).any:
        return RedirectResponse("/woods", 303)
    return render(request, "first.html", {"where": str(request.app.state.where)})


def _start(request: Request, sent: Sent) -> Response:
    """Start a logbook where the user says, and show it from now on."""
    state = opened(request)
    if state.any:
        raise UsageError("there is a logbook already", "load the page again")
    name, home = inputs.path(sent, "folder", 500), inputs.text(sent, "home")
    if name is None:
        raise UsageError("the logbook's folder has no name", "type one, such as hollow")
    units = inputs.one_of(sent, "units", "imperial", "metric") or "imperial"
    _refuse_unsure(sent, home)
    root = Path(request.app.state.where) / name
    light = ",".join(inputs.text(sent, name) or "30" for name in ("before", "after"))
    made = start(root, home, units, None if home else inputs.text(sent, "tz"), light)
    state.open(Folder(made.logbook))
    return JSONResponse({"logbook": str(made.logbook), "tz": made.tz})


def _refuse_unsure(sent: Sent, home: str | None) -> None:
    """Refuse a home that looks like a slip, unless someone saw where it lies and said yes to it."""
    if home is None or inputs.text(sent, "sure") == home:
        return
    found = understood(home, None)
    if found.meant:
        raise UsageError(f"{home} is in {found.country}", f"{found.doubt}: {found.meant}")


def _place(request: Request) -> Response:
    """Say back where a home lies while it is typed."""
    home, here = (request.query_params.get(name, "")[:200] for name in ("home", "zone"))
    found = understood(home, here or None)
    return JSONResponse({**asdict(found), "x": found.lon + 180, "y": 90 - found.lat})


def _world(_: Request) -> Response:
    """Give where land is, as path data in degrees from the map's upper left corner."""
    return JSONResponse({"land": land_path()})


@cache
def land_path() -> str:
    """Draw land as cells of the globe: what lies in no zone of the high seas."""
    cells = []
    for lat in range(84, -60, -_CELL):
        for lon in range(-180, 180, _CELL):
            if not zone_of(lat - _CELL / 2, lon + _CELL / 2).startswith("Etc/"):
                cells.append(f"M{lon + 180} {90 - lat}h{_CELL}v{_CELL}h-{_CELL}z")
    return "".join(cells)


def _move(request: Request, sent: Sent) -> Response:
    """Put home elsewhere: a wrong one makes every sunrise wrong."""
    state, home = opened(request), inputs.text(sent, "home")
    if home is None:
        raise UsageError("no place was typed", "type latitude and longitude")
    _refuse_unsure(sent, home)
    found = move_home(state.desk.folder, home)
    state.open(Folder(state.desk.folder.root))
    return JSONResponse({"what": found.where})


ROUTES: list[BaseRoute] = [
    Route("/first", _page),
    post("/first", _start),
    Route("/first/place", _place),
    Route("/first/world", _world),
    post("/home", _move),
]
