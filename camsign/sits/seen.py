"""What the sits saw: every sit, and how many deer and bucks an hour on stand, with interval.

Kept apart from the cameras' watch: an hour on a stand is not a night of a camera.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from typing import ClassVar

from camsign.answers.result import Answer, Figure, Watch, figure, reasons
from camsign.logbook.session import Session
from camsign.sits.journal import SitRow, sits
from camsign.sits.sightwords import Seen
from camsign.sits.words import hours_words
from camsign.stats.estimate import poisson_rate
from camsign.tags.vocabulary import subject_of_word
from camsign.units import counted

FEWEST_HOURS = 10.0
METHOD = (
    "animals seen over hours on stand, with the exact Poisson interval (Garwood 1936); a group "
    "counts by its animals, so the interval is too narrow where they come together; an animal you "
    "spooked counts as one of those you saw of its kind on that sit"
)


@dataclass(frozen=True, slots=True)
class Sits(Answer):
    """The journal: sits newest first; `hours` on stand; deer, bucks and mature bucks an hour."""

    TABLE: ClassVar[str] = "sits"
    ROW: ClassVar[type] = SitRow

    said: str
    sits: tuple[SitRow, ...]
    hours: float
    deer_an_hour: Figure
    bucks_an_hour: Figure
    watch: Watch
    method: str
    why: tuple[str, ...]


def sits_of(session: Session, first: date | None = None, last: date | None = None) -> Sits:
    """Give the sits from a local day to another, and what they saw an hour."""
    rows = sits(session, first, last)
    hours = sum(row.hours for row in rows)
    deer = _count(rows, is_deer)
    bucks = _count(rows, is_buck)
    days = [row.day for row in rows]
    ends = (min(days), max(days)) if days else (None, None)
    return Sits(
        said=_said(rows, hours, deer, bucks),
        sits=tuple(rows),
        hours=hours,
        deer_an_hour=figure(poisson_rate(deer, hours), deer),
        bucks_an_hour=figure(poisson_rate(bucks, hours), bucks),
        watch=Watch((), 0, 0, *ends),
        method=METHOD,
        why=reasons(
            None
            if hours >= FEWEST_HOURS
            else "ten hours on stand is about the least that tells you anything",
            "not seeing him doesn't mean he's gone: you see only what walks by",
        ),
    )


def is_deer(one: Seen) -> bool:
    """Whether what was seen is a deer."""
    subject = subject_of_word(one.what)
    return one.buck is not None or (subject is not None and subject.species == "deer")


def is_buck(one: Seen) -> bool:
    """Whether what was seen is a buck, named or not; button bucks and fawns are none."""
    subject = subject_of_word(one.what)
    male = subject is not None and subject.sex == "male" and subject.species == "deer"
    return one.buck is not None or (male and subject is not None and subject.stage != "juvenile")


def _count(rows: Iterable[SitRow], fits: Callable[[Seen], bool]) -> int:
    """Count animals; one you spooked is one of those you saw: 2 does, and a doe spooked, are 2."""
    total = 0
    for row in rows:
        kinds: dict[tuple[object, ...], list[int]] = {}
        for one in (one for one in row.seen if fits(one)):
            kind = kinds.setdefault((one.what, one.buck, one.points, one.mature), [0, 0])
            kind[one.spooked] += one.count
        total += sum(max(seen, spooked) for seen, spooked in kinds.values())
    return total


def too_short(hours: float) -> str | None:
    """Say so where the hours on stand are too few to give a rate."""
    if hours >= FEWEST_HOURS:
        return None
    long = f"{hours_words(hours)} of {hours_words(FEWEST_HOURS)}"
    return f"Too few hours on stand to give a rate ({long})."


def _said(rows: list[SitRow], hours: float, deer: int, bucks: int) -> str:
    if not rows:
        return "No sit is in the journal yet."
    many = counted(bucks, "buck")
    sat = f"{counted(len(rows), 'sit')}, {hours_words(hours)}"
    return f"{sat}: {deer} deer seen, {many} among them."
