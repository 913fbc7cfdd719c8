"""What a page could send that is nothing: one line each, never a traceback."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest
from starlette.requests import Request

from camsign.errors import UsageError
from camsign.page import inputs


def body(data: bytes) -> dict[str, Any]:
    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": data, "more_body": False}

    return asyncio.run(inputs.body(Request({"type": "http", "headers": []}, receive)))


@pytest.mark.parametrize(
    "data",
    [b"[" * 100_000, b'{"a":' * 100_000, b'{"path": "\\ud800"}', b'{"\\udfff": 1}', b"\xff", b"{"],
    ids=["lists in lists", "objects in objects", "half a pair", "half a name", "bytes", "cut"],
)
def test_what_is_no_json_is_one_line(data: bytes) -> None:
    with pytest.raises(UsageError, match="load the page again"):
        body(data)


def test_what_is_json_stays_as_it_is() -> None:
    assert body(b'{"name": "\\ud83e\\udd8c \\u00e9"}') == {"name": "\U0001f98c é"}
    assert body(b"") == {}


def test_a_home_of_nobody_is_one_line() -> None:
    with pytest.raises(UsageError, match="names no home"):
        inputs.path({"path": "~nobody-of-this-name/card"}, "path", 200)
    assert inputs.path({}, "path", 200) is None
