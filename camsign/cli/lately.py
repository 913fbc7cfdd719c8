"""What is hot up to today?"""

from __future__ import annotations

from datetime import date
from typing import Annotated

import typer

from camsign.answers import lately as answers
from camsign.answers.lately import Lately, LatelyRow
from camsign.answers.scope import Scope
from camsign.cli.asked import WITHIN, Bounds
from camsign.cli.command import Out, command
from camsign.cli.show import listed
from camsign.errors import UsageError
from camsign.formats.interval import NOTHING
from camsign.logbook.session import Session
from camsign.units import parse_day


@command(asks=("areas", *WITHIN), csv=True, several=True)
def lately(
    session: Session,
    asked: Scope,
    bounds: Bounds,
    days: Annotated[
        int | None, typer.Option(min=1, help="How many days back: 10 if you don't say.")
    ] = None,
) -> Out[Lately]:
    """What is hot up to today: fresh sign, and mature bucks in shooting light, newest first."""
    if days is not None and (bounds.get("first") or bounds.get("last_days")):
        raise UsageError("--days doesn't go with --from or --last", "give one of them")
    answer = answers.lately(session, asked, days, _until(bounds))

    def known(row: LatelyRow) -> bool:
        watch = answer.watch[row.area]
        return bool(row.visits or (watch.nights_watched and not watch.much_waits))

    table = listed(answer.rows, {
        "area": "area", "latest": "latest", "sign made in these days": "fresh_sign",
        "bright rubs, made this season": "bright_sign",
        "day / gray": lambda r: f"{r.day} / {r.gray}" if known(r) else NOTHING,
        "bucks": lambda r: ", ".join(r.bucks) or ("none" if known(r) else "can't tell"),
        "nights covered": "nights_watched",
        "not sorted": lambda r: answer.watch[r.area].nights_unsorted,
    })  # fmt: skip
    return Out(answer, [*table, *(f"  {line}" for line in answer.untold if answer.rows)])


def _until(bounds: Bounds) -> date | None:
    """Give the day that was asked for, today's where no days were."""
    if bounds.get("last"):
        return parse_day(str(bounds["last"]))
    asked = any(bounds.get(name) is not None for name in ("season", "first", "phase", "last_days"))
    return None if asked else date.today()  # noqa: DTZ011 - the user's own day is meant
