"""What people say through a page's forms: sent as JSON, said once, ready to be taken back."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from camsign.page import asked
from camsign.page.sorting import turns_of

if TYPE_CHECKING:
    from camsign.logbook.session import Session
    from camsign.page.opened import Opened

Run = Callable[["Session", Mapping[str, str], dict[str, Any]], tuple[dict[str, Any], str]]
"""Given the session, what the address names, and what was sent: the answer, and words for undo."""


def verb(run: Run) -> Callable[[Request], Awaitable[Response]]:
    """Make a handler that lets `run` speak and answers when it is on the disk and in the copy."""

    async def handler(request: Request) -> Response:
        sent = await asked.body(request)
        return await run_in_threadpool(said, request, run, sent)

    return handler


def said(request: Request, run: Run, sent: dict[str, Any]) -> Response:
    """Let `run` speak; the answer tells what was said and how much can be taken back."""
    opened: Opened = request.app.state.opened
    named = {name: str(value) for name, value in request.path_params.items()}
    spoken = opened.desk.say(lambda session: run(session, named, sent))
    answer, words = spoken.result
    opened.turns.did(words, spoken.acts)
    opened.desk.catch_up()
    return JSONResponse({**answer, "what": words, **turns_of(opened)})
