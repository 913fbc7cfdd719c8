"""Who likely made a rub or scrape?"""

from __future__ import annotations

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
from camsign.units import upper_first


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
    """Give the odds; what the sign's size says goes for all of an age and is told once below."""
    size = {one.mark for one in answer.marks}
    yield from listed(answer.makers, {
        "buck": "buck", "chance": lambda m: percent(Estimate(m.p, m.low, m.high)),
        "visits": "visits",
        "why": lambda m: "; ".join(
            part for part in m.why.split("; ") if part.partition(": ")[0] not in size
        ),
    })  # fmt: skip
    told = [
        f"{' and '.join(marks)} {'point' if len(marks) > 1 else 'points'} to a {age} buck"
        for age in ("mature", "young")
        if (marks := [one.mark for one in answer.marks if one.points_to == age])
    ]
    if told:
        words = ", but ".join(told)
        yield f"  {upper_first(words)}{': its size says little' if told[1:] else ''}."
