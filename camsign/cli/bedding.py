"""Is an area used as a bed, by whom, and which way in and out?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Annotated

import typer

from camsign.answers import bedding as answers
from camsign.answers.area_sign import AreaSign
from camsign.answers.bedding import BeddedBuck, Bedding
from camsign.answers.beds_days import BedDay
from camsign.answers.beds_input import APART_M
from camsign.answers.scope import Scope
from camsign.answers.ways import Way
from camsign.cli.asked import WITHIN, length
from camsign.cli.command import Out, command
from camsign.cli.show import Block, Table
from camsign.formats.days import People
from camsign.formats.interval import NOTHING, interval
from camsign.logbook.session import Session
from camsign.units import UnitSystem, counted, format_bearing, per_distance


@command(asks=("any_area", "bucks", *WITHIN), csv=True, several=True)
def bedding(
    session: Session,
    asked: Scope,
    why: bool,
    apart: Annotated[
        str | None,
        typer.Option(
            metavar="LENGTH", help="A daylight picture this far away counts against a bed here."
        ),
    ] = None,
) -> Out[Bedding]:
    """Is an area used as a bed, by whom, on how many days, which way in and out?"""
    far = length(session, apart) if apart else APART_M
    answer = answers.bedding(session, asked, far, days=why)
    shown = answers.oldest_first(answer.bucks, asked.mature_age)
    return Out(answer, _table(answer, shown), _more(answer, session.settings.units), of=answer.area)


def _table(answer: Bedding, shown: Iterable[BeddedBuck]) -> Iterator[Block]:
    head = (
        "buck (age)",
        "verdict",
        "mornings in",
        "evenings out",
        "both, same day",
        "days bedded",
        "far off by day",
    )
    rows = [
        (
            b.named,
            b.verdict,
            b.mornings,
            b.evenings,
            b.directed_days,
            f"{interval(b.days_bedded, 0)} of {answer.days_watched}",
            b.contradicting_days,
        )
        for b in shown
    ]
    if rows:
        yield Table(head, rows)
    for way in answer.ways.morning:
        yield f"  in by morning past {_way(way)}"
    for way in answer.ways.evening:
        yield f"  out by evening past {_way(way)}"


def _more(answer: Bedding, units: UnitSystem) -> Iterator[Block]:
    """Say why for each buck, what the sign says, what is counted apart, and the days."""
    for b in answer.bucks:
        yield f"  {b.buck}: {b.verdict}; {'; '.join(b.why)}"
    yield from _sign(answer.sign, units)
    if answer.unidentified:
        yield f"  counted apart: {answer.unidentified} detections of bucks without a sure name"
    if answer.unknown_travel:
        yield f"  counted apart: {answer.unknown_travel} detections with unknown travel"
    yield from (_day(day, People(units)) for day in answer.days or ())


def _day(day: BedDay, people: People) -> str:
    pictures = ", ".join(f"{p.camera} {people.clock(p.local)} ({p.frame[:12]})" for p in day.shown)
    return (
        f"  {day.buck} {day.day}, {day.speaks}: {day.shows}; {day.odds} that he bedded "
        f"here; {pictures}"
    )


def _way(way: Way) -> str:
    e = way.bearing_deg
    going = NOTHING if e.value is None else format_bearing(e.value, e.low, e.high)
    return f"{way.camera}: going {going} from {counted(way.n, 'pass')}"


def _sign(sign: AreaSign, units: UnitSystem) -> Iterator[Block]:
    kinds = ((sign.rubs, "rub"), (sign.beds, "bed"), (sign.scrapes, "scrape"))
    yield (
        f"  sign in reach: {', '.join(counted(n, word) for n, word in kinds)}; rubs head out in "
        f"{sign.sectors_out} of 8 directions, inward in {sign.sectors_in}; sign of "
        f"{counted(sign.seasons, 'season')}"
    )
    apart = ((sign.doe_beds, "doe bed"), (sign.winter_beds, "winter bed"))
    if any(n for n, _ in apart):
        told = " and ".join(counted(n, word) for n, word in apart if n)
        yield f"  left out: {told}; they say nothing of where a buck beds in fall"
    if sign.density_ratio.value is not None:
        yield (
            f"  rubs per area: {interval(sign.density_ratio)} times the surroundings, if both were "
            "searched alike"
        )
    if sign.per_km_ratio is not None:
        long, word = per_distance(units)
        yield (
            f"  rubs per distance walked: {interval(sign.per_km_ratio)} times the surroundings "
            f"({(sign.km_walked or 0.0) / long:.1f} {word}s walked in reach)"
        )
