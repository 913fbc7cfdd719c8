"""How many mature bucks compete at a place, and who gives way?"""

from __future__ import annotations

from collections.abc import Iterator

from camsign.answers import rivals as answers
from camsign.answers.rivals import CANNOT_TELL, Pair, Rivals
from camsign.answers.scope import Scope
from camsign.cli.asked import WITHIN
from camsign.cli.command import Out, command
from camsign.cli.show import Block, listed
from camsign.formats.days import spoken
from camsign.formats.interval import interval, percent
from camsign.logbook.session import Session
from camsign.units import counted


@command(asks=("any_area", *WITHIN), csv=True, several=True)
def rivals(session: Session, asked: Scope) -> Out[Rivals]:
    """How many mature bucks compete there, and who gives way?"""
    answer = answers.rivals(session, asked)
    return Out(answer, _table(answer), _more(answer))


def _table(answer: Rivals) -> Iterator[Block]:
    yield from listed(answer.known, {
        "buck": "buck", "days": "nights", "visits": "visits",
        "in shooting light": lambda k: percent(k.shooting_light),
        "first seen": "first_seen", "last seen": "last_seen",
    })  # fmt: skip
    decided = [pair for pair in answer.pairs if pair.verdict != CANNOT_TELL]
    yield from (f"  {pair.verdict}." for pair in decided)
    if len(decided) < len(answer.pairs):
        others = "the others give" if decided else "anyone gives"
        yield f"  Too few days together to say whether {others} way."


def _more(answer: Rivals) -> Iterator[Block]:
    """Say how many may never have been seen, and what is known of each pair."""
    if answer.missed:
        yield f"  {answer.missed}"
    yield from map(_pair, answer.pairs)


def _pair(pair: Pair) -> str:
    days, waits = counted(pair.nights_together, "day"), ""
    if pair.hours_until_second is not None and pair.hours_until_first is not None:
        waits = (
            f"; {pair.second} is next seen {pair.hours_until_second:.0f} h after {pair.first}, "
            f"{pair.first} {pair.hours_until_first:.0f} h after {pair.second}"
        )
    return (
        f"  {pair.first} and {pair.second}: both there on {days}; by chance alone it would be "
        f"{interval(pair.by_chance)}{waits}. Who gives way: {spoken(pair.verdict)}"
    )
