"""How a page's module names its addresses: what is asked, what is sent, what people say.

What is called runs in the server's pool of threads; only bodies are read on its loop.
"""

from __future__ import annotations

from collections.abc import Callable, Coroutine, Hashable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from typing import Any, TypeVar

from anyio import from_thread
from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from camsign.logbook.session import Session
from camsign.page import inputs
from camsign.page.app_state import AppState, opened
from camsign.page.show import render

SMALL_BODY = 256 << 10
MOST_BODY = 512 << 20
"""No request is larger, whatever its route [bytes]."""

T = TypeVar("T")
Named = Mapping[str, str]
Sent = dict[str, Any]
Values = dict[str, Any]
Told = tuple[Values, str]
Run = Callable[[Session, Named, Any], Told]
"""Given the session, what the address names, and what was sent: the answer, and words for undo;
without any, those of the journal."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A question of a page: the logbook, what the address names, what stands behind its `?`, and
    what was sent along.

    `once(key, work)` gives what `work` computes once for what the logbook says now.
    """

    session: Session
    named: Named
    query: QueryParams
    sent: Sent
    state: AppState
    once: Callable[[Hashable, Callable[[], Any]], Any]


@contextmanager
def asking(request: Request, settled: bool = False, sent: Sent | None = None) -> Iterator[Asked]:
    """Open the logbook for a question, `settled`: with all that was said here taken in."""
    state = opened(request)
    # Before the logbook is read, else what was read before a change could pass for what is said
    # after it.
    once = partial(state.answered.give, state.desk.version)
    named = {name: str(value) for name, value in request.path_params.items()}
    with state.desk.reading(settled) as session:
        yield Asked(session, named, request.query_params, sent or {}, state, once)


def asks(
    path: str,
    run: Callable[[Asked], Any],
    shown: str = "",
    settled: bool = False,
    body: int | None = None,
) -> Route:
    """Give a route that asks the logbook: `run` gives a response, or the values of the template
    `shown`, or without one of a JSON object. `body`: a JSON object of so many bytes is sent along.
    """

    def called(request: Request) -> Response:
        sent = from_thread.run(inputs.body, request) if body else None
        with asking(request, settled, sent) as asked:
            found = run(asked)
        if isinstance(found, Response):
            return found
        return render(request, shown, found) if shown else JSONResponse(found)

    return Route(path, called, methods=["POST"] if body else None, max_body_size=body)


def post(
    path: str,
    handler: Callable[[Request, Any], Response],
    body: int = SMALL_BODY,
    read: Callable[[Request], Coroutine[Any, Any, Any]] = inputs.body,
) -> Route:
    """Give a route that is sent something, a JSON object unless `read` gives something else.

    A request with more than `body` bytes is refused.
    """

    def called(request: Request) -> Response:
        return handler(request, from_thread.run(read, request))

    return Route(path, called, methods=["POST"], max_body_size=body)


def says(
    path: str,
    run: Run,
    body: int = SMALL_BODY,
    read: Callable[[Request], Coroutine[Any, Any, Any]] = inputs.body,
) -> Route:
    """Give a route by which people say something, a JSON object unless `read` gives something else:
    one act, answered when it is on the disk, with what was said and how much can be taken back.

    What only tags frames is answered at once: pages hear of it by the news.
    """

    def called(request: Request) -> Response:
        state, sent = opened(request), from_thread.run(read, request)
        named = {**request.query_params, **request.path_params}
        (answer, words), spoken = state.desk.say(lambda session: run(session, named, sent))
        words = words or spoken.what
        undo, redo = state.turns.did(words, spoken.acts, spoken.frames)
        if not spoken.only_frames:
            state.desk.catch_up()
        told = {"acts": spoken.acts, "what": words, "undo": undo, "redo": redo}
        return JSONResponse({**answer, **told})

    return Route(path, called, methods=["POST"], max_body_size=body)
