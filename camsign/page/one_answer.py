"""Answers about one thing, as parts of other pages: who made a sign, where a buck is bedded."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute

from camsign.answers.makers import makers
from camsign.answers.scope import scope_of
from camsign.answers.where import where
from camsign.formats.interval import percent
from camsign.page.app_state import desk_of
from camsign.page.routing import get
from camsign.page.show import render
from camsign.stats.estimate import Estimate


def _makers(request: Request) -> Response:
    with desk_of(request).reading() as session:
        answer = makers(session, scope_of(session), str(request.path_params["sign"]))
    rows = [
        (m.buck, m.buck_id, percent(Estimate(m.p, m.low, m.high)), m.why) for m in answer.makers
    ]
    return _shown(request, answer, answer.verdict, rows)


def _where(request: Request) -> Response:
    with desk_of(request).reading() as session:
        answer = where(session, scope_of(session, [str(request.path_params["buck"])]))
    return _shown(request, answer, answer.said, [])


def _shown(request: Request, answer: Any, said: str, rows: list[tuple[Any, ...]]) -> Response:
    values = {"answer": answer, "said": f"{said[:1].upper()}{said[1:].rstrip('.')}.", "rows": rows}
    return render(request, "one_answer.html", values)


ROUTES: list[BaseRoute] = [
    get("/map/signs/{sign}/makers", _makers),
    get("/bucks/{buck}/where", _where),
]
