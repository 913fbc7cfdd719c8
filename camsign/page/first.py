"""Where there is no logbook yet: where is home?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute

from camsign.errors import UsageError
from camsign.flows.fieldwork.starting import start
from camsign.logbook.folder import Folder
from camsign.page import inputs
from camsign.page.app_state import AppState
from camsign.page.routing import get, post
from camsign.page.show import render


def _page(request: Request) -> Response:
    if request.app.state.opened.any:
        return RedirectResponse("/woods", 303)
    return render(request, "first.html", {"where": str(request.app.state.where)})


def _start(request: Request, sent: dict[str, Any]) -> Response:
    """Start a logbook where the user says, and show it from now on."""
    state: AppState = request.app.state.opened
    if state.any:
        raise UsageError("there is a logbook already", "load the page again")
    name, home = inputs.text(sent, "folder", 500), inputs.text(sent, "home")
    if name is None:
        raise UsageError("the logbook's folder has no name", "type one, such as hollow")
    units = inputs.one_of(sent, "units", "imperial", "metric") or "imperial"
    root = Path(request.app.state.where) / Path(name).expanduser()
    light = ",".join(inputs.text(sent, name) or "30" for name in ("before", "after"))
    made = start(root, home, units, None if home else inputs.text(sent, "tz"), light)
    state.open(Folder(made.logbook))
    return JSONResponse({"logbook": str(made.logbook), "tz": made.tz})


ROUTES: list[BaseRoute] = [get("/first", _page), post("/first", _start)]
