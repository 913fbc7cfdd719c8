"""Our own scripts and styles: kept by browsers for a minute, named before they are wanted."""

from __future__ import annotations

import os
import re
from functools import cache
from pathlib import Path
from posixpath import dirname, join, normpath

from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

STATIC = Path(__file__).parent / "static"
# Long enough for going from page to page, short enough for a newer camsign on the same port.
_KEPT = "private, max-age=60"
_IMPORT = re.compile(r'^import\s[^"]*"(\.[^"]+)"', re.MULTILINE)


class OurFiles(StaticFiles):
    """Static files with a short life in the browser's cache."""

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


@cache
def modules(script: str) -> tuple[str, ...]:
    """Give every module that a script (its path below static/) imports, near or far.

    A page names them in its head, so that the browser asks for all at once.
    """
    found: dict[str, None] = {}
    waiting = [script]
    while waiting:
        name = waiting.pop()
        for said in _IMPORT.findall((STATIC / name).read_text(encoding="utf-8")):
            other = normpath(join(dirname(name), said))
            if other not in found:
                found[other] = None
                waiting.append(other)
    return tuple(found)
