"""Where there is no logbook yet."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute

from camsign.page.routing import get
from camsign.page.show import render


def _page(request: Request) -> Response:
    if request.app.state.opened.any:
        return RedirectResponse("/sort", 303)
    return render(request, "first.html", {"where": str(request.app.state.where)})


ROUTES: list[BaseRoute] = [get("/first", _page)]
