"""From one logbook to another: those that were opened on this machine before."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute

from camsign.errors import UsageError
from camsign.logbook.folder import Folder
from camsign.logbook.remembered import remembered
from camsign.page import inputs
from camsign.page.app_state import AppState
from camsign.page.routing import post


def known(request: Request) -> list[dict[str, Any]]:
    """Give the logbooks to choose from, by name, with the open one; none where there is only it.

    Two of one name are shown with the folder they lie in; the end of a path tells them apart.
    """
    state: AppState = request.app.state.opened
    if not state.any:
        return []
    here = state.desk.folder.root.resolve()
    paths = sorted({here, *remembered()}, key=lambda path: (path.name.lower(), path))
    names = [path.name for path in paths]
    return [
        {
            "path": str(path),
            "name": path.name if names.count(path.name) == 1 else "/".join(path.parts[-2:]),
            "here": path == here,
        }
        for path in (paths if len(paths) > 1 else [])
    ]


def _switch(request: Request, sent: dict[str, Any]) -> Response:
    """Show another logbook; only one that was opened before, never any folder."""
    state: AppState = request.app.state.opened
    said = inputs.text(sent, "logbook", 4000)
    path = next((p for p in remembered() if str(p) == said), None)
    if path is None:
        raise UsageError("that logbook is not here any more", "load the page again")
    state.open(Folder(path))
    request.app.state.hub.tell("switched", logbook=path.name)
    return JSONResponse({"logbook": path.name})


ROUTES: list[BaseRoute] = [post("/switch", _switch)]
