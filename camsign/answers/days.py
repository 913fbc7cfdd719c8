"""Local days one after the other: what happened on each, and the parts of a season they fall in."""

from __future__ import annotations

from calendar import month_name
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import numpy as np

from camsign.answers.reach import Watching
from camsign.answers.scope import days_of
from camsign.arrays import Times
from camsign.errors import UsageError
from camsign.logbook.settings import Settings
from camsign.stats.spells import UNWATCHED

Split = Literal["month", "phase"]


@dataclass(frozen=True, slots=True)
class SeasonPart:
    """A named part of the days asked for; `first` and `last` are local days, both within."""

    name: str
    first: date
    last: date


def daily(watching: Watching, days: Times, part: SeasonPart | None = None) -> list[int]:
    """Count events by day from the first day watched to the last, UNWATCHED between and outside.

    Args:
        watching: the days watched, at both their ends.
        days: the day of each event (datetime64[D]); those on days not watched fall out.
        part: days outside of it become UNWATCHED.
    """
    if not len(watching.days):
        return []
    first, last = watching.days[0], watching.days[-1]
    counts = np.full((last - first).astype(int) + 1, UNWATCHED)
    counts[(watching.days - first).astype(int)] = 0
    at = (days - first).astype(int)
    at = at[(at >= 0) & (at < len(counts))]
    np.add.at(counts, at[counts[at] != UNWATCHED], 1)
    if part is not None:
        from_part = (np.datetime64(part.first) - first).astype(int)
        behind = (np.datetime64(part.last) - first).astype(int) + 1
        counts[: max(from_part, 0)] = UNWATCHED
        counts[max(behind, 0) :] = UNWATCHED
    return [int(n) for n in counts]


def parts_of(settings: Settings, first: date, last: date, split: Split) -> list[SeasonPart]:
    """Cut days into months, or into the phases that logbook.toml names.

    A phase stands there as `[phases]`, a line each: `"rut" = ["11-05", "11-24"]`; it may run
    over the turn of the year, and recurs in every season of the days.

    Raises:
        UsageError: phases are asked for and none are named.
    """
    if split == "month":
        return months(first, last)
    named = settings.phases
    if not named:
        raise UsageError(
            "logbook.toml names no phases",
            'add a table [phases] with lines such as "rut" = ["11-05", "11-24"]',
        )
    years = range(first.year - 1, last.year + 1)
    found = [(name, *days_of(phase, year)) for name, phase in named.items() for year in years]
    clipped = [SeasonPart(name, max(a, first), min(b, last)) for name, a, b in found]
    return sorted((p for p in clipped if p.first <= p.last), key=lambda p: p.first)


def months(first: date, last: date) -> list[SeasonPart]:
    """Cut days into calendar months, those at the ends cut off there."""
    found, begin = [], first
    while begin <= last:
        following = date(begin.year + begin.month // 12, begin.month % 12 + 1, 1)
        name = f"{month_name[begin.month]} {begin.year}"
        found.append(SeasonPart(name, begin, min(following - timedelta(days=1), last)))
        begin = following
    return found
