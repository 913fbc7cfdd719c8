"""SQL of one's own."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

import typer

from camsign.answers.ask import Table as Asked
from camsign.answers.ask import ask
from camsign.cli.command import Out, command
from camsign.cli.show import Block, Table
from camsign.logbook.session import Session

_SHOWN = 100


@command(csv=True)
def sql(
    session: Session,
    question: Annotated[
        str, typer.Argument(help="One SELECT on detections, visits, near, watch, sign, areas.")
    ],
) -> Out[Asked]:
    """Ask your own question in SQL. Nothing can be changed."""
    found = ask(session, question)
    return Out(found, _table(found))


def _table(found: Asked) -> Iterator[Block]:
    yield Table(found.columns, found.rows[:_SHOWN])
    if len(found.rows) > _SHOWN:
        yield f"{len(found.rows) - _SHOWN} more rows; --csv and --json give all."
