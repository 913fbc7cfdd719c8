"""What of the logbook could not be read: one quiet line in the head of every page, with a fold."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute

from camsign.logbook.history import unread
from camsign.page.app_state import AppState
from camsign.page.routing import get

MOST_LINES = 200
"""So many are listed at most; the heading counts them all."""


def told(request: Request) -> tuple[str, list[str]]:
    """Give the heading, "" if all was read, and a line for each that was not."""
    state: AppState = request.app.state.opened
    if not state.any:
        return "", []
    with state.desk.reading() as session:
        lines = unread(session)
    many = "1 line or card" if len(lines) == 1 else f"{len(lines)} lines or cards"
    heading = f"{many} of this logbook could not be read; the rest was" if lines else ""
    return heading, lines[:MOST_LINES]


def _unread(request: Request) -> Response:
    heading, lines = told(request)
    return JSONResponse({"heading": heading, "lines": lines})


ROUTES: list[BaseRoute] = [get("/unread", _unread)]
