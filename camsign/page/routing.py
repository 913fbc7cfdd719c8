"""How a page's module names its addresses: what only reads, what changes something."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from starlette.routing import Route

SMALL_BODY = 256 << 10
MOST_BODY = 512 << 20
"""No request is larger, whatever its route [bytes]."""

Handler = Callable[..., Any]


def get(path: str, handler: Handler) -> Route:
    """Give a route that only reads."""
    return Route(path, handler, methods=["GET"])


def post(path: str, handler: Handler, body: int = SMALL_BODY) -> Route:
    """Give a route that changes something; a request with more than `body` bytes is refused."""
    return Route(path, handler, methods=["POST"], max_body_size=body)
