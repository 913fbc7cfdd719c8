"""Who likely made a rub or scrape?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

import typer

from camsign.answers import makers as answers
from camsign.answers.makers import Makers
from camsign.answers.scope import Scope
from camsign.cli.command import Out, command
from camsign.cli.show import Block, Table
from camsign.formats.interval import percent
from camsign.logbook.session import Session
from camsign.stats.estimate import Estimate


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
    head = ("buck", "chance", "visits", "why")
    rows = [(m.buck, percent(Estimate(m.p, m.low, m.high)), m.visits, m.why) for m in answer.makers]
    if rows:
        yield Table(head, rows)
