"""The pages as one ASGI application: subjects' routes, scripts and styles, how errors look."""

from __future__ import annotations

import os
import re
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from camsign import page
from camsign.errors import BUSY, DAMAGED, CamsignError
from camsign.formats.days import People
from camsign.logbook.folder import Folder
from camsign.page.app_state import AppState, NoLogbookError, opened
from camsign.page.events import Hub
from camsign.page.guard import Guard, Keys
from camsign.page.jobs import Jobs
from camsign.page.routing import MOST_BODY
from camsign.page.show import STATIC, render
from camsign.units import upper_first

_STATUS = {BUSY: 503, DAMAGED: 500}
# Long enough for going from page to page, short enough for a newer camsign on the same port.
_KEPT = "private, max-age=60"


def make_app(keys: Keys, folder: Folder | None, where: Path) -> Starlette:
    """Give the application.

    Args:
        keys: the bound address and this run's secrets.
        folder: the logbook, or None to begin with starting one.
        where: the folder the program was called in.

    Raises:
        CamsignError: the logbook cannot be opened.
    """
    hub = Hub()
    app = Starlette(
        routes=[*_routes(), Mount("/static", OurFiles(directory=STATIC))],
        middleware=[Middleware(Guard, keys=keys)],
        exception_handlers={
            CamsignError: _told,
            HTTPException: _plain,
            NoLogbookError: _first,
            Exception: _unforeseen,
        },
        lifespan=_lifespan,
        max_body_size=MOST_BODY,
    )
    app.state.hub, app.state.jobs, app.state.where = hub, Jobs(hub), where
    app.state.opened = AppState(folder, hub)
    return app


def _routes() -> list[BaseRoute]:
    """Give the routes of every module of this room that names any."""
    modules = [import_module(f"{page.__name__}.{m.name}") for m in iter_modules(page.__path__)]
    subjects: list[BaseRoute] = [
        route for module in modules for route in getattr(module, "ROUTES", [])
    ]
    return [Route("/", _home), *subjects]


class OurFiles(StaticFiles):
    """Our own scripts and styles, with a short life in the browser's cache."""

    def file_response(
        self,
        full_path: str | os.PathLike[str],
        stat_result: os.stat_result,
        scope: Scope,
        status_code: int = 200,
    ) -> Response:
        """Give a file. As StaticFiles."""
        response = super().file_response(full_path, stat_result, scope, status_code)
        response.headers["cache-control"] = _KEPT
        return response


@asynccontextmanager
async def _lifespan(app: Starlette) -> AsyncIterator[None]:
    app.state.hub.start()
    yield
    app.state.hub.end()
    app.state.jobs.close()
    app.state.opened.close()


def _home(request: Request) -> Response:
    """Go to what is next: a first logbook, a first card, the sorting."""
    state = opened(request)
    if not state.any:
        return RedirectResponse("/first", 303)
    with state.desk.reading() as session:
        any_card = session.con.execute("SELECT 1 FROM cards LIMIT 1").fetchone()
    return RedirectResponse("/sort" if any_card else "/woods", 303)


def _told(request: Request, e: Exception) -> Response:
    if not isinstance(e, CamsignError):
        raise e
    state = request.app.state.opened
    people = People(state.desk.folder.settings.units if state.any else "imperial")
    # What to type stays as it is.
    return _error(request, _STATUS.get(e.exit_code, 400), people.prose(e.what), e.remedy)


def _plain(request: Request, e: Exception) -> Response:
    status = e.status_code if isinstance(e, HTTPException) else 500
    words = {404: "There is nothing at this address.", 413: "That is more than is taken at once."}
    return _error(request, status, words.get(status, "That cannot be done here."), "")


def _unforeseen(request: Request, e: Exception) -> Response:
    """Starlette raises the exception again behind this answer, so that the server's log has it."""
    remedy = "nothing you saved before is lost; go back and try again"
    return _error(request, 500, "something went wrong inside camsign", remedy)


def _first(request: Request, e: Exception) -> Response:
    if _wants_json(request):
        return _error(request, 409, "there is no logbook yet", "start one on the first page")
    return RedirectResponse("/first", 303)


def _error(request: Request, status: int, what: str, remedy: str) -> Response:
    if _wants_json(request):
        return JSONResponse({"what": what, "remedy": remedy}, status)
    typed = _TYPED.search(remedy)
    see = _SEE.get(typed[1]) if typed else None
    said = {"what": upper_first(what), "remedy": "" if typed else remedy, "see": see}
    return render(request, "error.html", said, status)


# What a page offers where the terminal would name a command.
_TYPED = re.compile(r"camsign ([a-z]+)")
_SEE = {
    "area": ("/areas", "See all areas"),
    "buck": ("/bucks", "See all bucks"),
    "cards": ("/cards", "See all cards"),
    "deployments": ("/map", "See the map"),
    "place": ("/map", "See the map"),
    "sign": ("/map", "See the map"),
}


def _wants_json(request: Request) -> bool:
    return "application/json" in request.headers.get("accept", "")
