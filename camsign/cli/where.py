"""Where he likely bedded on the last day covered, and the odds."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Annotated

import typer

from camsign.answers import where as answers
from camsign.answers.result import Figure
from camsign.answers.scope import Scope
from camsign.answers.where import Place, Where
from camsign.cli.command import Out, command
from camsign.cli.show import Block, listed
from camsign.formats.interval import NOTHING, percent
from camsign.logbook.session import Session
from camsign.units import parse_day


@command(asks=("buck", "reach"), csv=True)
def where(
    session: Session,
    asked: Scope,
    on: Annotated[
        str | None, typer.Option(metavar="DAY", help="Which day; else the last one covered.")
    ] = None,
) -> Out[Where]:
    """Where he likely bedded on the last day covered, and the odds."""
    answer = answers.where(session, asked, parse_day(on) if on else None)
    return Out(answer, _table(answer, " up to that day" if on else ""))


def _table(answer: Where, until: str = "") -> Iterator[Block]:
    if answer.last_seen is not None and not answer.places:  # else the first line has said it
        at = f"{answer.last_seen:%Y-%m-%d %H:%M}"
        yield f"Last picture{until}: {answer.last_camera}, {at}."
    columns: dict[str, str | Callable[[Place], str]]
    columns = {"area": "area", "chance on this day": lambda p: _chance(p.chance)}
    if any(p.lately is not None for p in answer.places):
        spans = {_span(p.lately) for p in answer.places if p.lately and p.lately.high is not None}
        alone = spans.pop() if len(spans) == 1 else ""
        columns[f"days bedded{alone and f', {alone}'}"] = lambda p: _share(p.lately, not alone)
    yield from listed(answer.places, columns)


def _span(lately: Figure) -> str:
    return "whole season" if lately.method == answers.ALL_SEASON else "last three weeks"


def _share(lately: Figure | None, dated: bool) -> str:
    """Write a share of days, `dated` with which ones; where he was not seen it may not be none."""
    if lately is None:
        return NOTHING
    if lately.high is None:
        return lately.method or NOTHING
    return f"{percent(lately)}{f', {_span(lately)}' if dated else ''}"


def _chance(chance: Figure) -> str:
    """Write a chance that is never quite all."""
    value = chance.value or 0.0
    return answers.odds_short(value) if value > 0.99 else percent(chance)
