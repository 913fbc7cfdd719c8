"""What is folded below the stands of tonight: your sits, pressure, a next camera, the review."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute

from camsign.answers.scope import scope_of
from camsign.logbook.moments import today
from camsign.logbook.session import Session
from camsign.page import inputs
from camsign.page.app_state import AppState
from camsign.page.charts import in_words
from camsign.page.routing import get
from camsign.page.show import render
from camsign.page.tonight_words import day_words
from camsign.sits.hang_next import hang_next, worth
from camsign.sits.journal import SitRow
from camsign.sits.pressure import pressure
from camsign.sits.review import review
from camsign.sits.seen import sits_of
from camsign.sits.words import clock, met_words, odds, span, wind_words
from camsign.units import counted

PARTS = (
    ("sits", "Your sits"),
    ("next", "Where to hang your next camera"),
    ("pressure", "Does going in cost you?"),
    ("review", "Was it right?"),
)
"""The parts in their order, each with its heading."""

_LATELY_DAYS = 60

Asked = tuple[object, ...]


def _part(request: Request) -> Response:
    part = str(request.path_params["part"])
    if part not in dict(PARTS):
        raise HTTPException(404)
    state: AppState = request.app.state.opened
    version = state.desk.version
    with state.desk.reading() as session:
        about, ask = _ASKING[part](session, request.query_params)
        answer = state.answered.give(version, ("tonight", part, *about), ask)
        values = {"part": part, "answer": answer, "people_of": _People(session), "worth": worth}
    return render(request, "tonight_parts.html", values)


class _People:
    """A logbook's own words for its days, hours, winds and chances."""

    def __init__(self, session: Session) -> None:
        self._settings = session.settings
        self._now = today(session.settings.tz)

    figure = staticmethod(in_words)
    odds = staticmethod(odds)
    span = staticmethod(span)

    def day(self, value: date) -> str:
        """A day, with its year where that is not this one."""
        return day_words(value, self._now)

    def ago(self, value: date) -> str:
        """How long ago a day is, if that is not long; else empty."""
        days = (self._now - value).days
        return f", {counted(days, 'day')} ago" if 0 < days <= _LATELY_DAYS else ""

    def hours(self, row: SitRow) -> str:
        """From when to when somebody sat."""
        return f"{clock(row.start, self._settings)} to {clock(row.stop, self._settings)}"

    def wind(self, row: SitRow) -> str:
        """The wind somebody wrote down; empty for none."""
        return wind_words(row.wind_deg, row.wind_ms, self._settings)

    def met(self, row: SitRow, spooked: bool) -> str:
        """Who was seen on a sit, or who noticed; empty for nobody."""
        seen = (one for one in row.seen if one.spooked == spooked)
        return "; ".join(met_words(one, self._settings) for one in seen)


def _sits(session: Session, _: Mapping[str, str]) -> tuple[Asked, Callable[[], Any]]:
    return (), lambda: sits_of(session)


def _next(session: Session, sent: Mapping[str, str]) -> tuple[Asked, Callable[[], Any]]:
    day = inputs.day(sent, "day") or today(session.settings.tz)
    morning = inputs.one_of(sent, "part", "evening", "morning") == "morning"
    return (day, morning), lambda: hang_next(session, day, morning)


def _pressure(session: Session, _: Mapping[str, str]) -> tuple[Asked, Callable[[], Any]]:
    scope = scope_of(session)
    return (scope.first, scope.last), lambda: pressure(session, scope)


def _review(session: Session, _: Mapping[str, str]) -> tuple[Asked, Callable[[], Any]]:
    scope = scope_of(session)
    return (scope.first, scope.last), lambda: review(session, scope)


_ASKING = {"sits": _sits, "next": _next, "pressure": _pressure, "review": _review}

ROUTES: list[BaseRoute] = [get("/tonight/part/{part}", _part)]
