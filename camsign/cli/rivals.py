"""How many mature bucks compete at a place, and who gives way?"""

from __future__ import annotations

from collections.abc import Iterator

from camsign.answers import rivals as answers
from camsign.answers.rivals import Pair, Rivals
from camsign.answers.scope import Scope
from camsign.cli.asked import WITHIN
from camsign.cli.command import Out, command
from camsign.cli.show import Block, Table
from camsign.formats.days import spoken
from camsign.formats.interval import interval, percent
from camsign.logbook.session import Session
from camsign.units import counted


@command(asks=("any_area", *WITHIN), csv=True, several=True)
def rivals(session: Session, asked: Scope) -> Out[Rivals]:
    """How many mature bucks compete there, and who gives way?"""
    answer = answers.rivals(session, asked)
    return Out(answer, _table(answer), _unseen(answer))


def _table(answer: Rivals) -> Iterator[Block]:
    head = ("buck", "nights", "visits", "in shooting light", "first seen", "last seen")
    rows = [
        (k.buck, k.nights, k.visits, percent(k.shooting_light), k.first_seen, k.last_seen)
        for k in answer.known
    ]
    if rows:
        yield Table(head, rows)
    yield from map(_pair, answer.pairs)


def _unseen(answer: Rivals) -> Iterator[Block]:
    """Say how many may never have been seen, and how many visits have no name."""
    unseen = answer.with_unseen
    if answer.watch.nights_watched:
        covered = "" if answer.coverage is None else f", coverage {answer.coverage:.0%}"
        nobody = "no buck was seen on one night only, so nothing points to more"
        many = nobody if unseen.value is None else interval(unseen)
        yield f"  with those never seen (weak): {many}{covered}"
    if answer.unidentified.value is not None:
        yield f"  visits by bucks without a sure name: {percent(answer.unidentified)}"


def _pair(pair: Pair) -> str:
    nights, waits = counted(pair.nights_together, "night"), ""
    if pair.hours_until_second is not None and pair.hours_until_first is not None:
        waits = (
            f"; {pair.second} next seen {pair.hours_until_second:.0f} h after {pair.first}, the "
            f"other way round {pair.hours_until_first:.0f} h"
        )
    return (
        f"  {pair.first} and {pair.second}: both there on {nights}, where chance alone gives "
        f"{interval(pair.by_chance)}{waits}. Who gives way: {spoken(pair.verdict)}"
    )
