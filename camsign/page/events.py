"""News for open pages, as server-sent events: what was said, what came in, how far long work is."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from typing import Any

from starlette.requests import Request
from starlette.responses import StreamingResponse
from starlette.routing import BaseRoute, Route

_QUIET_S = 15.0
_MOST_WAITING = 1000


class Hub:
    """Hands every piece of news to every open page; may be called from any thread."""

    def __init__(self) -> None:
        self._loop: asyncio.AbstractEventLoop | None = None
        self._queues: set[asyncio.Queue[str | None]] = set()

    def start(self) -> None:
        """Remember the loop that the pages' streams run in; called once, inside it."""
        self._loop = asyncio.get_running_loop()

    def tell(self, kind: str, **news: Any) -> None:
        """Send one piece of news to every open page."""
        if self._loop is not None and not self._loop.is_closed():
            text = f"event: {kind}\ndata: {json.dumps(news, ensure_ascii=False)}\n\n"
            self._loop.call_soon_threadsafe(self._spread, text)

    def end(self) -> None:
        """Close every stream, so that the server can stop."""
        self._spread(None)

    def _spread(self, text: str | None) -> None:
        for queue in list(self._queues):
            try:
                queue.put_nowait(text)
            except asyncio.QueueFull:  # a page that does not listen; it asks anew when it does
                self._queues.discard(queue)

    async def stream(self) -> AsyncIterator[str]:
        """Give the news from now on; a comment now and then keeps the line open."""
        queue: asyncio.Queue[str | None] = asyncio.Queue(_MOST_WAITING)
        self._queues.add(queue)
        try:
            yield "retry: 1000\nevent: hello\ndata: {}\n\n"
            while queue in self._queues:
                try:
                    text = await asyncio.wait_for(queue.get(), _QUIET_S)
                except TimeoutError:
                    text = ": quiet\n\n"
                if text is None:
                    return
                yield text
        finally:
            self._queues.discard(queue)


async def _events(request: Request) -> StreamingResponse:
    hub: Hub = request.app.state.hub
    return StreamingResponse(hub.stream(), media_type="text/event-stream")


ROUTES: list[BaseRoute] = [Route("/events", _events)]
