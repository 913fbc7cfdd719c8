"""Templates, filled with every name escaped."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from starlette.requests import Request
from starlette.responses import Response
from starlette.templating import Jinja2Templates

from camsign.cards.listing import known_in_words
from camsign.formats.days import People, day, from_sun, span, spoken
from camsign.page.static_files import modules
from camsign.page.switching import known
from camsign.page.unread import told
from camsign.units import UnitSystem, format_bearing

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

_environment = Environment(
    loader=FileSystemLoader(Path(__file__).parent / "templates", encoding="utf-8"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
_environment.globals["modules"] = modules
_environment.globals["bearing"] = format_bearing
_environment.globals["days"] = span
_environment.filters["day"] = day
_templates = Jinja2Templates(env=_environment)


@pass_context
def _clock(context: Context, value: datetime) -> str:
    return _people(context).clock(value)


@pass_context
def _at(context: Context, value: datetime | None) -> str:
    return _people(context).at(value)


@pass_context
def _prose(context: Context, text: object) -> str:
    return _people(context).prose(text)


def _people(context: Context) -> People:
    people: People = context["people"]
    return people


def said(verdict: str) -> str:
    """Give a verdict as people say it, set as the pages' own words are."""
    return spoken(verdict).replace("'", "’")


_environment.filters |= {"clock": _clock, "at": _at, "prose": _prose, "from_sun": from_sun}
_environment.filters |= {"said": said, "how_known": known_in_words}


def render(
    request: Request, name: str, values: Mapping[str, Any] | None = None, status: int = 200
) -> Response:
    """Fill a template; every page gets `pages` and `here`, the part it is in, too."""
    here = "/" + request.url.path.strip("/").partition("/")[0]
    undo, redo = request.app.state.opened.turns.counts()
    shared = {"pages": PAGES, "here": here, "logbook": _name(request), "undo": undo, "redo": redo}
    shared["unread"], shared["logbooks"] = told(request), known(request)
    shared["people"] = People(_units(request))
    return _templates.TemplateResponse(request, name, {**shared, **(values or {})}, status)


def _units(request: Request) -> UnitSystem:
    state = request.app.state.opened
    units: UnitSystem = state.desk.folder.settings.units if state.any else "imperial"
    return units


def _name(request: Request) -> str:
    state = request.app.state.opened
    return state.desk.folder.root.resolve().name if state.any else ""
