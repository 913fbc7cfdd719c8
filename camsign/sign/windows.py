"""When a sign was made, at the earliest and at the latest.

Without evidence: rubs and scrapes in the latest rubbing season begun by the day seen (setting
`rubbing`), other sign in the `other_sign_days` before it; common practice, no source.
Whatever the evidence, nothing is made after the day on which it was seen.
"""

from __future__ import annotations

from calendar import monthrange
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from camsign.logbook.settings import Settings

SEASONAL = frozenset({"rub", "scrape"})


@dataclass(frozen=True, slots=True)
class MadeWindow:
    """The earliest and latest day (local) on which a sign was made, and what that rests on."""

    made_from: date
    made_to: date
    basis: str


def made_window(
    kind: str,
    seen_on: date,
    state: str | None,
    species: str | None,
    given_from: date | None,
    given_to: date | None,
    settings: Settings,
) -> MadeWindow:
    """Give the window in which a sign was made; days said outright go before any default.

    Args:
        kind: rub, scrape, bed, track, droppings, trail, browse or shed.
        seen_on: the day it was seen (local).
        state: the look of its surface in a word, or None.
        species: the tree's, or None.
        given_from: the earliest day as said, or None.
        given_to: the latest day as said, or None.
        settings: the logbook's, for `rubbing` and `other_sign_days`.
    """
    usual = _usual(kind, seen_on, settings)
    if given_from is None and given_to is None:
        return usual
    first = given_from or min(usual.made_from, given_to or seen_on)
    last = given_to or (usual.made_to if usual.made_to >= first else seen_on)
    return _clipped(first, last, seen_on, "said")


def rubbing_season(day: date, settings: Settings, back: int = 0) -> tuple[date, date]:
    """Give first and last day of the latest rubbing season begun by `day`, or `back` before it.

    Days are local.
    """
    first, last = settings.rubbing
    year = day.year if (day.month, day.day) >= first else day.year - 1
    start = on_day(year - back, first)
    return start, on_day(start.year + (last < first), last)


def on_day(year: int, month_day: tuple[int, int]) -> date:
    """Give that day of that year; a day which the month does not have is its last."""
    month, day = month_day
    return date(year, month, min(day, monthrange(year, month)[1]))


def _usual(kind: str, seen_on: date, settings: Settings) -> MadeWindow:
    if kind in SEASONAL:
        return _clipped(*rubbing_season(seen_on, settings), seen_on, "rubbing season")
    days = settings.other_sign_days
    return _clipped(seen_on - timedelta(days), seen_on, seen_on, f"the {days} days before")


def _clipped(first: date, last: date, seen_on: date, basis: str) -> MadeWindow:
    last = min(last, seen_on)
    return MadeWindow(min(first, last), last, basis)
