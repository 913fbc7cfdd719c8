"""When a sign was made, at the earliest and at the latest.

Without evidence: rubs and scrapes in the latest rubbing season begun by the day seen (setting
`rubbing`), other sign in the `other_sign_days` before it; common practice, no source. The look of
the sign narrows that by the ageing table, and so do other looks at the same sign. Whatever the
evidence, nothing is made after the day on which it was seen.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from camsign.errors import UsageError
from camsign.sign.ageing import ABSENT, row_of

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
    usual = _by_look(kind, seen_on, state, species, settings) or _usual(kind, seen_on, settings)
    if given_from is None and given_to is None:
        return usual
    first = given_from or min(usual.made_from, given_to or seen_on)
    last = given_to or (usual.made_to if usual.made_to >= first else seen_on)
    return _clipped(first, last, seen_on, "said")


@dataclass(frozen=True, slots=True)
class Look:
    """One look at a sign: the day (local), what it looked like, and days said outright."""

    seen_on: date
    state: str | None = None
    given_from: date | None = None
    given_to: date | None = None


def windows_of(
    kind: str, species: str | None, looks: Sequence[Look], settings: Settings
) -> list[MadeWindow | None]:
    """Give the window of each look at one sign, narrowed by the others; None where it was absent.

    What was absent on one day and there on a later one was made between them. Looks whose windows
    overlap tell of one making, whose window they share, unless it had been made afresh since.
    """
    order = sorted(range(len(looks)), key=lambda i: looks[i].seen_on)
    given: list[MadeWindow | None] = [None] * len(looks)
    making: list[int] = []
    absent: date | None = None
    before: date | None = None
    for i in order:
        look = looks[i]
        if look.state == ABSENT:
            absent, making, before = look.seen_on, [], None
            continue
        made = made_window(
            kind, look.seen_on, look.state, species, look.given_from, look.given_to, settings
        )
        if look.state == "fresh" and before and before >= made.made_from:
            made, making = _since(made, before, f"{made.basis}, anew"), []
        elif absent and absent >= made.made_from:
            made = _since(made, absent, f"{made.basis}, not there before")
        shared = _overlap(given[making[-1]], made) if making else None
        making = [*making, i] if shared else [i]
        for j in making:
            given[j] = shared or made
        before = look.seen_on
    return given


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


def _since(made: MadeWindow, day: date, basis: str) -> MadeWindow:
    return MadeWindow(day, max(day, made.made_to), basis)


def _overlap(one: MadeWindow | None, other: MadeWindow) -> MadeWindow | None:
    if one is None:
        return None
    first, last = max(one.made_from, other.made_from), min(one.made_to, other.made_to)
    if first > last:
        return None
    if (first, last) == (one.made_from, one.made_to):
        return one
    same = (first, last) == (other.made_from, other.made_to)
    return other if same else MadeWindow(first, last, f"{one.basis}; {other.basis}")


def _usual(kind: str, seen_on: date, settings: Settings) -> MadeWindow:
    if kind in SEASONAL:
        return _clipped(*rubbing_season(seen_on, settings), seen_on, "rubbing season")
    days = settings.other_sign_days
    return _clipped(seen_on - timedelta(days), seen_on, seen_on, f"the {days} days before")


def _by_look(
    kind: str, seen_on: date, state: str | None, species: str | None, settings: Settings
) -> MadeWindow | None:
    """Give the window of the ageing table; None where it has no row, or one that cannot be."""
    row = row_of(kind, state, species, settings) if state else None
    if row is None:
        return None
    first, last = _row_span(kind, seen_on, row, settings)
    last = min(last, seen_on - timedelta(row.get("days_at_least", 0)))
    # A look that belongs later in the season than the day seen says nothing: the default stands.
    return _clipped(first, last, seen_on, f"looked {state}") if first <= last else None


def _row_span(
    kind: str, seen_on: date, row: Mapping[str, Any], settings: Settings
) -> tuple[date, date]:
    if "days" in row:
        return seen_on - timedelta(row["days"]), seen_on
    if kind not in SEASONAL:
        return seen_on - timedelta(settings.other_sign_days), seen_on
    back = row.get("seasons_back", 0)
    if back:
        return rubbing_season(seen_on, settings, back)[0], rubbing_season(seen_on, settings, 1)[1]
    first, last = rubbing_season(seen_on, settings)
    return _in_season(row.get("from"), first, first), _in_season(row.get("to"), first, last)


def _in_season(month_day: str | None, first: date, usual: date) -> date:
    """Give the day of a row's `from` or `to` in the season that began on `first`."""
    if month_day is None:
        return usual
    try:
        month, day = (int(x) for x in month_day.split("-"))
        on = on_day(first.year, (month, day))
    except (ValueError, AttributeError) as e:
        raise UsageError(
            f"{month_day!r} under [ageing] in logbook.toml is no day such as 09-15", "mend it"
        ) from e
    return on if on >= first else on_day(first.year + 1, (month, day))


def _clipped(first: date, last: date, seen_on: date, basis: str) -> MadeWindow:
    last = min(last, seen_on)
    return MadeWindow(min(first, last), last, basis)
