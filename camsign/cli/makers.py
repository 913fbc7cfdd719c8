"""Who likely made a rub or scrape?"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Annotated

import typer

from camsign.answers import makers as answers
from camsign.answers.makers import Makers
from camsign.answers.scope import Scope
from camsign.cli.command import Out, command
from camsign.cli.show import Block, listed
from camsign.formats.interval import percent
from camsign.logbook.session import Session
from camsign.stats.estimate import Estimate

_SIZE = re.compile(
    r"(?P<mark>.+): (?P<more>more|less) likely from an? (?P<age>mature|young) buck like him"
)
_OTHER = {"mature": "young", "young": "mature"}


@command(asks=("bucks", "gap", "mature"), csv=True)
def makers(
    session: Session,
    asked: Scope,
    sign: Annotated[
        str, typer.Argument(help="A sign's id, or its beginning; `camsign sign list` has them.")
    ],
) -> Out[Makers]:
    """Who likely made this rub or scrape?"""
    answer = answers.makers(session, asked, sign)
    return Out(answer, _table(answer))


def _table(answer: Makers) -> Iterator[Block]:
    yield from listed(answer.makers, {
        "buck": "buck", "chance": lambda m: percent(Estimate(m.p, m.low, m.high)),
        "visits": "visits", "why": lambda m: _own(m.why),
    })  # fmt: skip
    for age in ("mature", "young"):
        marks = dict.fromkeys(mark for m in answer.makers for mark in _marks(m.why, age))
        if marks:
            told = " and ".join(marks)
            points = "point" if len(marks) > 1 else "points"
            yield f"  {told[:1].upper()}{told[1:]} {points} to a {age} buck."


def _own(why: str) -> str:
    """What sets one buck apart: what a rub's size says goes for all and is told once below."""
    return "; ".join(part for part in why.split("; ") if not _SIZE.fullmatch(part))


def _marks(why: str, age: str) -> Iterator[str]:
    """The marks of a rub's size that point to a buck of this age, by one buck's reasons."""
    for part in why.split("; "):
        if found := _SIZE.fullmatch(part):
            his = found["age"] if found["more"] == "more" else _OTHER[found["age"]]
            if his == age:
                yield found["mark"]
