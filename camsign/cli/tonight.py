"""Where to sit tonight, on which wind, by which way in."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, datetime
from pathlib import Path
from typing import Annotated

import typer

from camsign.cli.asked import length
from camsign.cli.command import Out, command
from camsign.cli.show import Block, bearing, listed
from camsign.formats.interval import CANNOT_TELL, NOTHING
from camsign.logbook.folder import Folder
from camsign.logbook.moments import today
from camsign.logbook.session import Session
from camsign.logbook.settings import Settings
from camsign.sits.planning import next_day
from camsign.sits.review import NothingToKeep, keep_plan
from camsign.sits.rows import StandRow
from camsign.sits.tonight import Tonight, best_of
from camsign.sits.tonight import tonight as answer_of
from camsign.sits.weather import Sky, kept_sky, sky_of_file, typed_sky
from camsign.sits.words import clock, odds, range_in_words, scent_words
from camsign.units import counted, parse_day, upper_first

_MPH, _KMH = 0.44704, 1 / 3.6


@command(csv=True)
def tonight(
    book: Folder,
    session: Session,
    why: bool,
    wind: Annotated[
        str | None, typer.Option(metavar="FROM", help="Where the wind comes from: NW, 315, calm.")
    ] = None,
    mph: Annotated[float | None, typer.Option(min=0, help="Its speed in miles an hour.")] = None,
    kmh: Annotated[
        float | None, typer.Option(min=0, help="Its speed in kilometers an hour.")
    ] = None,
    cloud: Annotated[
        int | None, typer.Option(min=0, max=100, help="How much of the sky is cloudy, in percent.")
    ] = None,
    hours: Annotated[
        Path | None, typer.Option(help="A wind file with the hours of the sit.")
    ] = None,
    on: Annotated[
        str | None,
        typer.Option(
            metavar="DAY", help="The day; without it today, or tomorrow once that sit is over."
        ),
    ] = None,
    morning: Annotated[bool, typer.Option(help="Plan a morning sit, not an evening one.")] = False,
    buck: Annotated[list[str] | None, typer.Option(help="Only this buck; repeat for more.")] = None,
    shot: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="How far you shoot, such as 30yd.")
    ] = None,
    sit: Annotated[
        str | None,
        typer.Option(
            metavar="STAND", help="You'll sit here: save the odds, so `review` can check them."
        ),
    ] = None,
) -> Out[Tonight]:
    """Which stand tonight, on which wind, by which way in, and the chance that he comes."""
    day = parse_day(on) if on else next_day(book.settings, morning)
    speed = mph * _MPH if mph is not None else kmh * _KMH if kmh is not None else None
    sky, troubles = _sky(book, wind, speed, cloud, hours, day)
    shot_m = length(session, shot) if shot else None
    answer = answer_of(session, day, sky, morning, buck, shot_m)
    kept = [_keep(session, answer, sky, sit)] if sit else []
    over = not on and day > today(book.settings.tz)
    ahead = [f"Today's {answer.part} is over. This is for tomorrow, {day}."] if over else []
    told = [*ahead, *_told(answer, book.settings), *kept]
    return Out(answer, told, _others(answer), troubles)


def _keep(session: Session, answer: Tonight, sky: Sky, stand: str) -> str:
    try:
        row = keep_plan(session, answer, sky, stand)
    except NothingToKeep as e:  # the answer says why, and is worth printing
        return f"{upper_first(str(e))}."
    return f"Saved for review: you sit {row.stand} that {answer.part}."


def _sky(
    book: Folder,
    wind: str | None,
    speed: float | None,
    cloud: int | None,
    hours: Path | None,
    day: date,
) -> tuple[Sky, list[str]]:
    """The wind that was typed, else that of a file, else that kept in the logbook."""
    if wind is not None or speed is not None:
        return typed_sky(wind, speed, None if cloud is None else cloud / 100), []
    if hours is None:
        return kept_sky(book, day), []
    sky, troubles = sky_of_file(book, hours, day)
    return sky, list(troubles)


def _told(answer: Tonight, settings: Settings) -> Iterator[Block]:
    columns: dict[str, str | Callable[[StandRow], str]] = {
        "stand": "stand",
        "chance": lambda r: CANNOT_TELL if r.area is None else odds(r.any_chance.value),
        "could be": lambda r: NOTHING if r.area is None else range_in_words(r.any_chance),
        "scent": lambda r: scent_words(r.scent, r.scent_chance) or CANNOT_TELL,
        "way in": _way_in,
        "be in by": lambda r: clock(r.be_in_by, settings),
        "he comes": lambda r: _hour(r.comes_at, settings) + _from(r),
        "thermals": lambda r: _thermals(r, settings),
        "left alone": lambda r: _alone(r.days_undisturbed),
        "too close to call with": lambda r: ", ".join(r.tied_with),
    }  # fmt: skip
    if not any(row.air_turns_at for row in answer.stands):
        del columns["thermals"]  # it would be empty, and the table too wide
    yield from listed(answer.stands, columns)
    top = best_of(answer.stands)
    yield from _reasons(top) if top is not None else ()
    yield from (f"{upper_first(line)}." for line in answer.cautions)


def _others(answer: Tonight) -> Iterator[Block]:
    top = best_of(answer.stands)
    for row in (row for row in answer.stands if row is not top):
        yield from _reasons(row)


def _reasons(row: StandRow) -> Iterator[Block]:
    if row.why:
        yield f"{row.stand}"
    yield from (f"  {line}" for line in row.why)


def _way_in(row: StandRow) -> str:
    scent = scent_words(row.way_in_scent, row.way_in_scent_chance)
    return "none drawn" if row.way_in is None else f"{row.way_in}: scent {scent or CANNOT_TELL}"


def _hour(when: datetime | None, settings: Settings) -> str:
    return NOTHING if when is None else clock(when, settings)


def _thermals(row: StandRow, settings: Settings) -> str:
    """Say which way slope air goes and from when, a time only where it turns while one sits."""
    first, *turns = row.air or (None,)
    if first is None or (first.goes == "wind" and not turns):
        return NOTHING
    if not turns:
        return f"{first.goes} all sit"
    now = [] if first.goes == "wind" else [f"{first.goes} at first"]
    # Air that turns is still for a while in between: only an end that lasts is told.
    ends = [one for one in turns if one.goes != "wind" or one is turns[-1]]
    goes = {"wind": "none"}
    told = [f"{goes.get(one.goes, one.goes)} from {clock(one.at, settings)}" for one in ends]
    return ", ".join([*now, *told])


def _from(row: StandRow) -> str:
    if row.comes_at is None or row.comes_going_deg is None:
        return ""
    return f" from {bearing((row.comes_going_deg + 180) % 360)}"


def _alone(days: int | None) -> str:
    """How long a stand and its bed were left alone, to the day."""
    return CANNOT_TELL if days is None else counted(days, "day") if days else "not today"
