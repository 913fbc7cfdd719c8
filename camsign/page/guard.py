"""Who is let in: only the user's own browser on this machine, which has shown the token once.

- Host must be the address that was bound: a foreign name that resolves to 127.0.0.1 is refused.
- The first address carries a random token and gives a cookie that scripts cannot read and other
  sites cannot send; everything else wants that cookie.
- Whatever changes something must come from a page of ours, by its Origin.
- Nothing but our own files runs or is shown in a page (content security policy).
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

POLICY = "; ".join(
    [
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' blob:",
        "media-src 'self'",
        "connect-src 'self'",
        "manifest-src 'none'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    ]
)
_HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    # Not `no-referrer`: with that a form's own post would come with the Origin "null".
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}
# No style sheet: whoever is not let in gets no file of ours, and nothing else may style a page.
_CLOSED = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>camsign: an old address</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark"></head>
<body><h1>This address is an old one</h1>
<p>camsign was started again since, or another browser opened it.
What was marked as saved is safe.</p>
<h2>To get back in</h2>
<ol><li>Open the address that camsign prints in its terminal window.</li>
<li>Is that window closed? Run camsign again in your logbook's folder.</li></ol>
</body></html>
"""


@dataclass(frozen=True)
class Keys:
    """The address that was bound, and the two secrets of this run: one to enter, one to stay."""

    address: str
    token: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    pass_: str = field(default_factory=lambda: secrets.token_urlsafe(32))

    @property
    def cookie(self) -> str:
        """The cookie's name. Browsers keep one jar for all ports, so the port is part of it."""
        return f"camsign-{self.address.rpartition(':')[2]}"

    @property
    def first_address(self) -> str:
        """What the user's browser opens first."""
        return f"http://{self.address}/?token={self.token}"


class Guard:
    """ASGI: refuses whoever has no business here, and adds the safety headers to every answer."""

    def __init__(self, app: ASGIApp, keys: Keys) -> None:
        self._app, self._keys, self._cookie = app, keys, keys.cookie

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or hand it on."""

        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers[name] = value
                headers.setdefault("cache-control", "no-store")
            await send(message)

        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
        elif scope["type"] == "http":
            refusal = self._answer(scope)
            await (refusal or self._app)(scope, receive, sending)
        else:
            await send({"type": "websocket.close", "code": 1008})

    def _answer(self, scope: Scope) -> Response | None:
        """Give the answer that ends the matter here, or None to go on."""
        headers = Headers(scope=scope)
        if headers.get("host") != self._keys.address:
            return PlainTextResponse("This name is not this machine's page.\n", 421)
        token = parse_qs(scope["query_string"].decode("latin-1")).get("token")
        if scope["path"] == "/" and token and scope["method"] == "GET":
            return self._enter(token[0])
        shown = cookie_parser(headers.get("cookie", "")).get(self._cookie, "")
        if not secrets.compare_digest(shown.encode(), self._keys.pass_.encode()):
            return HTMLResponse(_CLOSED, 403)
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return PlainTextResponse("Another site may not ask this page for anything.\n", 403)
        writes = scope["method"] not in ("GET", "HEAD")
        if writes and headers.get("origin") != f"http://{self._keys.address}":
            return PlainTextResponse("Only a page of camsign may change anything here.\n", 403)
        return None

    def _enter(self, token: str) -> Response:
        if not secrets.compare_digest(token.encode(), self._keys.token.encode()):
            return HTMLResponse(_CLOSED, 403)
        response = RedirectResponse("/", 303)
        response.set_cookie(self._cookie, self._keys.pass_, httponly=True, samesite="strict")
        response.headers["cache-control"] = "no-store"
        return response
