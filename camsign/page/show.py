"""Templates, filled with every name escaped, and what the head of every page shows."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from pathlib import Path
from posixpath import dirname, join, normpath
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from starlette.requests import Request
from starlette.responses import Response
from starlette.templating import Jinja2Templates

from camsign.cards.listing import known_in_words
from camsign.formats.days import People, day, from_sun, span, spoken
from camsign.logbook.folder import opened_before
from camsign.logbook.history import unread as lines_unread
from camsign.page.app_state import AppState, opened
from camsign.units import format_bearing

STATIC = Path(__file__).parent / "static"
MOST_LINES = 200
"""So many lines that could not be read are listed at most; the heading counts them all."""
PAGES = (
    ("/tonight", "Tonight"),
    ("/woods", "From the woods"),
    ("/sort", "Sort"),
    ("/map", "Map"),
    ("/areas", "Areas"),
    ("/bucks", "Bucks"),
    ("/cards", "Cards"),
)
"""What the head of every page leads to."""
_IMPORT = re.compile(r'^import\s[^"]*"(\.[^"]+)"', re.MULTILINE)


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


def said(verdict: str) -> str:
    """Give a verdict as people say it."""
    return spoken(verdict)


def _by_people(name: str) -> Callable[[Context, Any], str]:
    """Give a filter that says a value as the people of this logbook do."""

    @pass_context
    def in_words(context: Context, value: Any) -> str:
        words: str = getattr(context["people"], name)(value)
        return words

    return in_words


_environment = Environment(
    loader=FileSystemLoader(Path(__file__).parent / "templates", encoding="utf-8"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
_environment.globals |= {"modules": modules, "bearing": format_bearing, "days": span}
_environment.filters |= {name: _by_people(name) for name in ("clock", "at", "prose")}
_environment.filters |= {"day": day, "from_sun": from_sun, "said": said}
_environment.filters["how_known"] = known_in_words
_templates = Jinja2Templates(env=_environment)


def render(
    request: Request, name: str, values: Mapping[str, Any] | None = None, status: int = 200
) -> Response:
    """Fill a template; every page gets `pages` and `here`, the part it is in, too."""
    state = opened(request)
    undo, redo = state.turns.counts()
    shared: dict[str, Any] = {"pages": PAGES}
    shared |= {"here": "/" + request.url.path.strip("/").partition("/")[0]}
    shared |= {"undo": undo, "redo": redo, "unread": unread(state), "logbook": "", "logbooks": []}
    if state.any:
        folder = state.desk.folder
        shared |= {"logbook": folder.root.resolve().name, "logbooks": _logbooks(folder.root)}
    shared["people"] = People(state.desk.folder.settings.units if state.any else "imperial")
    return _templates.TemplateResponse(request, name, {**shared, **(values or {})}, status)


def _logbooks(root: Path) -> list[dict[str, Any]]:
    """Give the logbooks to choose from, by name, with the open one; none where there is only it.

    Those of one name are shown with as many of the folders they lie in as tell them apart.
    """
    here = root.resolve()
    paths = sorted({here, *opened_before()}, key=lambda path: (path.name.lower(), path))
    return [
        {
            "path": str(path),
            "name": _end_of(path, paths),
            "here": path == here,
        }
        for path in (paths if len(paths) > 1 else [])
    ]


def _end_of(path: Path, paths: Sequence[Path]) -> str:
    """Give the end of a path that no other one has."""
    ends = (path.parts[-n:] for n in range(1, len(path.parts) + 1))
    mine = (end for end in ends if sum(one.parts[-len(end) :] == end for one in paths) == 1)
    return "/".join(next(mine, path.parts))


def unread(state: AppState) -> tuple[str, list[str]]:
    """Give the heading, "" if all was read, and a line for each thing that was not."""
    if not state.any:
        return "", []
    with state.desk.reading() as session:
        lines = lines_unread(session)
    many = "1 line or card" if len(lines) == 1 else f"{len(lines)} lines or cards"
    heading = f"{many} of this logbook could not be read; the rest was" if lines else ""
    return heading, lines[:MOST_LINES]
