"""What is folded below the stands of tonight: your sits, pressure, a next camera, the review."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from starlette.exceptions import HTTPException
from starlette.routing import BaseRoute

from camsign.answers.scope import scope_of
from camsign.formats.days import day as in_full
from camsign.logbook.moments import today
from camsign.logbook.session import Session
from camsign.page import inputs
from camsign.page.charts import in_words
from camsign.page.routing import Asked, Values, asks
from camsign.page.tonight_words import day_words
from camsign.sits.hang_next import hang_next, worth
from camsign.sits.journal import SitRow
from camsign.sits.pressure import pressure
from camsign.sits.review import review
from camsign.sits.seen import sits_of, too_short
from camsign.sits.words import clock, met_words, odds, span, wind_words
from camsign.units import counted

PARTS = (
    ("sits", "Your sits"),
    ("next", "Where to hang your next camera"),
    ("pressure", "Does going in cost you?"),
    ("review", "Were the odds right?"),
)
"""The parts in their order, each with its heading."""

_LATELY_DAYS = 60


def _part(asked: Asked) -> Values:
    part, session = asked.named["part"], asked.session
    if part not in dict(PARTS):
        raise HTTPException(404)
    about, ask = _asking(part, session, asked.query)
    answer = asked.once(("tonight", part, *about), ask)
    values = {"part": part, "answer": answer, "people_of": _People(session)}
    return values | {"worth": worth, "too_short": too_short}


def _asking(
    part: str, session: Session, sent: Mapping[str, str]
) -> tuple[tuple[object, ...], Callable[[], Any]]:
    """Give what a part is about, and what asks for it."""
    if part == "sits":
        return (), lambda: sits_of(session)
    if part == "next":
        day = inputs.day(sent, "day") or today(session.settings.tz)
        morning = inputs.one_of(sent, "part", "evening", "morning") == "morning"
        return (day, morning), lambda: hang_next(session, day, morning)
    scope = scope_of(session)
    if part == "review":
        return (scope.first, scope.last), lambda: review(session, scope)
    day = inputs.day(sent, "day") or today(session.settings.tz)
    known = replace(scope, last=max(scope.first, min(scope.last, day - timedelta(days=1))))
    return (known.first, known.last), lambda: pressure(session, known)


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

    @staticmethod
    def full(value: date) -> str:
        """A day with its year."""
        return in_full(value)

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


ROUTES: list[BaseRoute] = [asks("/tonight/part/{part}", _part, "tonight_parts.html")]
