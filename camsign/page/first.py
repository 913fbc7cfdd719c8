"""Where there is no logbook yet: where is home?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute

from camsign.errors import UsageError
from camsign.flows.fieldwork.starting import start
from camsign.logbook.folder import Folder
from camsign.page import asked
from camsign.page.opened import Opened
from camsign.page.routing import get, post
from camsign.page.show import render


def _page(request: Request) -> Response:
    if request.app.state.opened.any:
        return RedirectResponse("/woods", 303)
    return render(request, "first.html", {"where": str(request.app.state.where)})


async def _start(request: Request) -> Response:
    return await run_in_threadpool(_started, request, await asked.body(request))


def _started(request: Request, sent: dict[str, Any]) -> Response:
    """Start a logbook where the user says, and show it from now on."""
    opened: Opened = request.app.state.opened
    if opened.any:
        raise UsageError("there is a logbook already", "load the page again")
    name, home = asked.text(sent, "folder", 500), asked.text(sent, "home")
    if name is None:
        raise UsageError("the logbook's folder has no name", "type one, such as hollow")
    units = asked.one_of(sent, "units", "imperial", "metric") or "imperial"
    root = Path(request.app.state.where) / Path(name).expanduser()
    light = ",".join(asked.text(sent, name) or "30" for name in ("before", "after"))
    made = start(root, home, units, None if home else asked.text(sent, "tz"), light)
    opened.open(Folder(made.logbook))
    return JSONResponse({"logbook": str(made.logbook), "tz": made.tz})


ROUTES: list[BaseRoute] = [get("/first", _page), post("/first", _start)]
