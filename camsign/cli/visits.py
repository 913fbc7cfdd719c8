"""How often is each buck there, and in which light?"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Annotated

import typer

from camsign.answers import visits as answers
from camsign.answers.scope import Scope, against
from camsign.answers.visits import VisitRow, Visits
from camsign.cli.asked import WITHIN
from camsign.cli.command import Out, command
from camsign.cli.show import Block, listed
from camsign.errors import UsageError
from camsign.formats.interval import interval, percent, rate
from camsign.logbook.session import Session
from camsign.units import counted

HALVES = "2nd half vs. 1st half"


@command(asks=("named", "bucks", "areas", "does", *WITHIN), csv=True, several=True)
def visits(
    session: Session,
    asked: Scope,
    by: Annotated[str, typer.Option(help="area or camera.")] = "area",
    split: Annotated[
        str | None, typer.Option(help="month, or phase (of your season, in logbook.toml).")
    ] = None,
    other: Annotated[
        str | None,
        typer.Option(
            "--against",
            metavar="WHAT",
            help="Compare with another area, a hunting year, earlier (all seasons before), or "
            "DAY..DAY: a ratio of rates.",
        ),
    ] = None,
) -> Out[Visits]:
    """How often is each buck there, and in which light?"""
    if by not in ("area", "camera"):
        raise UsageError(f"there are no visits by {by!r}", "say --by area or --by camera")
    if split not in (None, "month", "phase"):
        raise UsageError(f"visits are not split by {split!r}", "say --split month or phase")
    answer = answers.visits(
        session,
        asked,
        "camera" if by == "camera" else "area",
        "month" if split == "month" else "phase" if split else None,
        against(session, asked, other) if other else None,
    )
    return Out(answer, _table(answer, by, split, other), _watched(answer))


def _table(answer: Visits, by: str, split: str | None, other: str | None) -> Iterator[Block]:
    parted = any(r.part for r in answer.rows)
    columns: dict[str, str | Callable[[VisitRow], str]] = {
        "buck": "buck", by: by, split or "part": "part", "visits": "visits",
        "on days": _on_days, "days covered": "nights_watched",
        "visits per 100 days, long run": lambda r: rate(r.per_100_nights, r.visits),
        "day / gray / dark": lambda r: f"{r.day} / {r.gray} / {r.dark}",
        "in shooting light": lambda r: percent(r.shooting_light),
        "usual days between": lambda r: interval(r.days_between_median),
        HALVES: "trend_said",
        "ratio": lambda r: interval(r.ratio),
    }  # fmt: skip
    left_out = {HALVES if parted else (split or "part"), "" if other else "ratio"}
    yield from listed(answer.rows, {k: of for k, of in columns.items() if k not in left_out})
    if long := next((r for r in answer.rows if r.visits > 1), None):
        sums = f"{long.visits} ÷ {long.nights_watched}"
        yield f"Long run: bucks come in streaks; this is what to expect over time, not just {sums}."
        yield "Days run noon to noon, so that no night is split in two."
    if other:
        yield f"ratio: how many times the rate of {other}"


def _on_days(row: VisitRow) -> str:
    """Give the days he was seen on, and whether they are among the days covered."""
    if row.seen_on_watch is None:
        return str(row.nights_seen)
    return f"{row.nights_seen} ({row.seen_on_watch or 'none'} fully covered)"


def _watched(answer: Visits) -> Iterator[Block]:
    """Say how long each spot was covered, and what is counted apart there."""
    for name, watch in answer.watch.items():
        yield f"  {name}: {watch.in_words()}{_apart(answer.rows, name)}"
    for r in answer.rows:
        if not r.visits:
            yield f"  {r.buck}, {r.part or r.area or r.camera}: {'; '.join(r.why)}"


def _apart(rows: tuple[VisitRow, ...], spot: str) -> str:
    here = [r for r in rows if spot in (r.area, r.camera)]
    unnamed = max((r.unidentified for r in here), default=0)
    doubtful = len({r.buck_id for r in here if r.doubtful_time})
    words = f"; {counted(unnamed, 'visit')} by bucks without a sure name" if unnamed else ""
    words += f"; {counted(doubtful, 'buck')} also at doubtful times" if doubtful else ""
    return f"{words}, counted apart" if words else ""
