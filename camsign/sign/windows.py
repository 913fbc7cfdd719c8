"""When a sign was made, at the earliest and at the latest.

By the table in aging.toml: kind, look and the time of year at which it was seen; what the table
does not name was made in the `other_sign_days` before (common practice, no source). Other looks at
the same sign narrow it. No rub is made outside the rubbing season, when no buck has hard antlers,
and nothing is made after the day on which it was seen.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from camsign.errors import UsageError
from camsign.logbook.settings import Settings
from camsign.sign.aging import ABSENT, FALL, SUMMER, UNLOOKED, WINTER, row_of, table

# What bounds a row by making seasons instead of days.
_SPANS = frozenset({"seasons", "from", "to"})
# Made with hard antlers, so never outside the rubbing season.
HARD_ANTLERS = frozenset({"rub"})


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

    Days are local. `state`: the look of its surface in a word; `species`: the tree's; `given_from`,
    `given_to`: the earliest and latest day as said.
    """
    usual = _by_table(kind, seen_on, state, species, settings)
    if given_from is None and given_to is None:
        return usual
    first = given_from or min(usual.made_from, given_to or seen_on)
    last = given_to or (usual.made_to if usual.made_to >= first else seen_on)
    return _clipped(first, last, seen_on, "said")


@dataclass(frozen=True, slots=True)
class SightingLook:
    """One look at a sign: the day (local), what it looked like, and days said outright."""

    seen_on: date
    state: str | None = None
    given_from: date | None = None
    given_to: date | None = None


def windows_of(
    kind: str, species: str | None, looks: Sequence[SightingLook], settings: Settings
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
        # In the cold a rub keeps its look: only a look that means "just now" tells of a new one.
        now = look.state == "fresh" and made.made_to == look.seen_on
        if now and before and before >= made.made_from:
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
    return _season(settings.rubbing, day, back)


def time_of_year(day: date, settings: Settings) -> str:
    """Tell whether a day lies in the FALL (rubbing season), the WINTER behind it or the SUMMER."""
    _, last = rubbing_season(day, settings)
    if day <= last:
        return FALL
    spring = _in_season(table()["spring"], last, last)
    return WINTER if day < spring else SUMMER


def only_winter(made_from: date, made_to: date, settings: Settings) -> bool:
    """Tell whether all of a window lies in one winter: what was made then says nothing of fall."""
    same = rubbing_season(made_from, settings) == rubbing_season(made_to, settings)
    return same and {time_of_year(d, settings) for d in (made_from, made_to)} == {WINTER}


def _making_season(kind: str, day: date, settings: Settings, back: int = 0) -> tuple[date, date]:
    own = table()["season"].get(kind)
    if own is None:
        return rubbing_season(day, settings, back)
    return _season((_month_day(own["from"]), _month_day(own["to"])), day, back)


def _season(
    ends: tuple[tuple[int, int], tuple[int, int]], day: date, back: int
) -> tuple[date, date]:
    first, last = ends
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


def _by_table(
    kind: str, seen_on: date, state: str | None, species: str | None, settings: Settings
) -> MadeWindow:
    """Give the window of the aging table; that of no look where this look says nothing."""
    when = time_of_year(seen_on, settings)
    for look in (state, None) if state else (None,):
        row = row_of(kind, look or UNLOOKED, species, when, settings)
        if row.get("nothing") or (look and not row):
            continue
        first, last = _row_span(kind, seen_on, row, settings)
        last = min(last, seen_on - timedelta(row.get("days_at_least", 0)))
        # A look that belongs later in the season than the day seen says nothing either.
        if first <= last:
            return _clipped(first, last, seen_on, _basis(kind, state, look, when, settings))
    days = settings.other_sign_days
    return MadeWindow(seen_on - timedelta(days), seen_on, f"the {days} days before")


def _row_span(
    kind: str, seen_on: date, row: Mapping[str, Any], settings: Settings
) -> tuple[date, date]:
    back, many = row.get("seasons_back", 0), row.get("seasons", 1)
    newest = _making_season(kind, seen_on, settings)
    if back:
        ends = (_making_season(kind, seen_on, settings, n) for n in (back, 1))
        first, last = next(ends)[0], next(ends)[1]
    elif "days" in row or not _SPANS & set(row):
        days = row.get("days", settings.other_sign_days)
        first, last = seen_on - timedelta(days), seen_on
        if kind in HARD_ANTLERS:
            first, last = max(first, newest[0]), min(last, newest[1])
    else:
        first = _making_season(kind, seen_on, settings, many - 1)[0]
        first = _in_season(row.get("from"), newest[0], first)
        last = _in_season(row.get("to"), newest[0], newest[1])
    return first, seen_on if row.get("until_seen") else last


def _basis(kind: str, said: str | None, held: str | None, when: str, settings: Settings) -> str:
    """Say in words what a window rests on: the look that was `said`, if the table `held` it."""
    days = row_of(kind, UNLOOKED, None, when, settings).get("days", settings.other_sign_days)
    usual = {"rub": "rubbing season", "scrape": "rubbing season", "shed": "when antlers drop"}
    words = f"looked {held}" if held else usual.get(kind, f"the {days} days before")
    if said == "fresh" and kind in HARD_ANTLERS and when != FALL:
        words += f"; bucks rub with hard antlers, in fall: one of {when} counts as last fall's"
    elif said and not held:
        words = f"{words}; {said} in {when} doesn't tell when it was made"
    if kind == "bed" and when == WINTER and said in (None, "fresh", "snow"):
        words += "; in snow country a winter yard, not where they bed in fall"
    return words


def _in_season(month_day: str | None, first: date, usual: date) -> date:
    """Give the day of a row's `from` or `to` in the season that began on `first`."""
    if month_day is None:
        return usual
    try:
        on = on_day(first.year, _month_day(month_day))
    except (ValueError, AttributeError) as e:
        raise UsageError(
            f"{month_day!r} under [ageing] in logbook.toml is no day such as 09-15", "mend it"
        ) from e
    return on if on >= first else on_day(first.year + 1, _month_day(month_day))


def _month_day(text: str) -> tuple[int, int]:
    month, day = (int(x) for x in text.split("-"))
    return month, day


def _clipped(first: date, last: date, seen_on: date, basis: str) -> MadeWindow:
    last = min(last, seen_on)
    return MadeWindow(min(first, last), last, basis)
