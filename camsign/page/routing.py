"""How a page's module names its addresses: what only reads, what is sent, what people say.

Bodies are read on the server's loop; everything else runs in its pool of threads.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from camsign.logbook.session import Session
from camsign.page import inputs

if TYPE_CHECKING:
    from camsign.page.app_state import AppState

SMALL_BODY = 256 << 10
MOST_BODY = 512 << 20
"""No request is larger, whatever its route [bytes]."""

Named = Mapping[str, str]
Sent = dict[str, Any]
Told = tuple[dict[str, Any], str]
Run = Callable[["Session", Named, Sent], Told]
"""Given the session, what the address names, and what was sent: the answer, and words for undo;
without any, those of the journal."""


def get(path: str, handler: Callable[..., Any]) -> Route:
    """Give a route that only reads."""
    return Route(path, handler, methods=["GET"])


def post(
    path: str,
    handler: Callable[[Request, Any], Response],
    body: int = SMALL_BODY,
    read: Callable[[Request], Awaitable[Any]] = inputs.body,
) -> Route:
    """Give a route that is sent something, a JSON object unless `read` gives something else.

    A request with more than `body` bytes is refused.
    """

    async def called(request: Request) -> Response:
        return await run_in_threadpool(handler, request, await read(request))

    return Route(path, called, methods=["POST"], max_body_size=body)


def says(path: str, run: Run, body: int = SMALL_BODY) -> Route:
    """Give a route by which people say something: one act, answered when it is on the disk."""
    return post(path, partial(said, run), body)


def said(run: Run, request: Request, sent: Sent) -> Response:
    """Let `run` speak; the answer tells what was said and how much can be taken back.

    What only tags frames is answered at once: pages hear of it by the news.
    """
    state: AppState = request.app.state.opened
    named = {name: str(value) for name, value in request.path_params.items()}
    spoken = state.desk.say(lambda session: run(session, named, sent))
    answer, words = spoken.result
    words = words or spoken.what
    state.turns.did(words, spoken.acts, spoken.frames)
    if not spoken.only_frames:
        state.desk.catch_up()
    back, again = state.turns.counts()
    return JSONResponse({**answer, "acts": spoken.acts, "what": words, "undo": back, "redo": again})
