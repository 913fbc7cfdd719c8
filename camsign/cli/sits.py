"""The journal of sits."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Any

import typer

from camsign.answers.result import Figure
from camsign.answers.scope import Scope, season_days
from camsign.cli.command import Out, command
from camsign.cli.show import Block, at, listed
from camsign.cli.things import says
from camsign.derive.opening import refresh
from camsign.formats.interval import CANNOT_TELL, NOTHING, interval, percent
from camsign.logbook.moments import today
from camsign.logbook.outings import SIT
from camsign.logbook.session import Session
from camsign.logbook.settings import Settings
from camsign.sits import pressure as going_in
from camsign.sits.journal import SitRow, SitSaid, add_sit, remove_sit, set_sit
from camsign.sits.pressure import AreaPressure, Pressure
from camsign.sits.review import Review
from camsign.sits.review import review as reviewed
from camsign.sits.seen import Sits, sits_of, too_short
from camsign.sits.words import clock, met_words, wind_words
from camsign.units import counted, parse_day

if TYPE_CHECKING:
    from camsign.sits.hang_next import HangNext

sit_app = typer.Typer(help="The journal of your sits.", no_args_is_help=True)


def _told(done: SitSaid, session: Session, *_: Any) -> str:
    refresh(session)
    span = _hours(done, session.settings)
    mine = next((row for row in sits_of(session).sits if row.sit == done.sit), None)
    seen = "; ".join(met_words(one, session.settings) for one in mine.seen) if mine else ""
    return f"{done.stand}, {done.day}, {span}: {seen or 'nothing seen'} ({done.sit})."


says(sit_app, SIT, "add", add_sit, lambda *done: f"Saved: {_told(*done)}")
says(sit_app, SIT, "set", set_sit, lambda *done: f"Corrected: {_told(*done)}")
says(sit_app, SIT, "remove", remove_sit,
     lambda row, *_: f"Removed the sit at {row.stand} on {row.day}.")  # fmt: skip


@command(sit_app, "list", csv=True)
def list_sits(
    session: Session,
    why: bool,
    season: Annotated[int | None, typer.Option(help="Only this season.")] = None,
) -> Out[Sits]:
    """Your sits, newest first, and deer seen per hour on stand."""
    settings = session.settings
    days = season_days(season, settings.season_start) if season else (None, None)
    answer = sits_of(session, *days)
    return Out(answer, _listed(answer, settings))


@command(sit_app, "pressure", asks=("season", "first", "last", "reach", "mature"), csv=True)
def pressure(session: Session, asked: Scope) -> Out[Pressure]:
    """Who went near each bed last, and whether bucks quit after it."""
    answer = going_in.pressure(session, asked)
    return Out(answer, listed(answer.areas, {
        "area": "area", "last there": lambda r: str(r.last_day or CANNOT_TELL), "what": "last_what",
        "days left alone by the season's end":
            lambda r: CANNOT_TELL if r.days_since is None else str(r.days_since),
        "before": lambda r: f"{r.came_before} of {counted(r.days_before, 'day')}",
        "after": lambda r: f"{r.came_after} of {counted(r.days_after, 'day')}",
        "verdict": lambda r: r.verdict + _ratio(r),
    }))  # fmt: skip


def _ratio(row: AreaPressure) -> str:
    """Say how many times as often they came after, where more or fewer is shown."""
    shown = row.verdict != CANNOT_TELL
    return f": {interval(row.ratio, 2)} times as often" if shown else ""


@command(csv=True)
def hang_next(
    session: Session,
    why: bool,
    on: Annotated[str | None, typer.Option(metavar="DAY", help="Another day than today.")] = None,
    morning: Annotated[bool, typer.Option(help="The ranking of a morning.")] = False,
    days: Annotated[int, typer.Option(help="For how many days it would hang.")] = 10,
) -> Out[HangNext]:
    """Where to hang your next camera: what could change the ranking of your stands."""
    from camsign.sits import hang_next as hanging

    day = parse_day(on) if on else today(session.settings.tz)
    answer = hanging.hang_next(session, day, morning, days)
    table = listed(answer.places, {
        "rank": "rank", "near": "area", "would tell you": "would_tell",
        "where": lambda one: at(one.lat, one.lon),
        "1 extra buck in range per": lambda one:
            f"{one.sits:,} sits" if one.sits else f"over {2 / hanging.LEAST:,.0f} sits",
        "why": lambda one: "; ".join(one.why),
    })  # fmt: skip
    return Out(answer, table) if hanging.worth(answer.places) else Out(answer, [], table)


@command(asks=("season", "first", "last", "mature"), csv=True)
def review(session: Session, asked: Scope) -> Out[Review]:
    """Was `tonight` right? Its odds beside what you saw from the stand."""
    answer = reviewed(session, asked)
    return Out(answer, listed([one for one in answer.bins if one.n], {
        "said": lambda one: f"{100 * one.low:.0f} to {one.high:.0%}", "sits": "n",
        "said on average": lambda one: f"{(one.said or 0):.0%}", "he came": "came",
        "share": lambda one: percent(one.share),
    }))  # fmt: skip


def _listed(answer: Sits, settings: Settings) -> Iterator[Block]:
    if not answer.sits:
        return
    yield from listed(answer.sits, {
        "sit": "sit", "stand": "stand", "day": lambda row: str(row.day),
        "hours": lambda row: _hours(row, settings),
        "wind": lambda row: wind_words(row.wind_deg, row.wind_ms, settings) or NOTHING,
        "saw": lambda row: _met(row, False, settings) or "nothing",
        "spooked": lambda row: _met(row, True, settings) or NOTHING,
    })  # fmt: skip
    if few := too_short(answer.hours):
        yield few
        return
    yield f"Bucks an hour: {_rate(answer.bucks_an_hour)}; deer: {_rate(answer.deer_an_hour)}."


def _rate(one: Figure) -> str:
    return f"{one.value or 0:.2f} ({one.low or 0:.2f} to {one.high or 0:.2f})"


def _hours(row: SitRow | SitSaid, settings: Settings) -> str:
    return " to ".join(clock(when, settings) for when in (row.start, row.stop))


def _met(row: SitRow, spooked: bool, settings: Settings) -> str:
    return "; ".join(met_words(one, settings) for one in row.seen if one.spooked is spooked)
