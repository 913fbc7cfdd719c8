"""Is an area used as a bed, by whom, and which way in and out?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated

import typer

from camsign.answers import bedding as answers
from camsign.answers.area_sign import AreaSign
from camsign.answers.bedded import BeddedBuck, oldest_first
from camsign.answers.bedding import Bedding
from camsign.answers.beds_input import APART_M
from camsign.answers.beds_seen import BedDay
from camsign.answers.scope import Scope
from camsign.answers.verdict import CONFIRMED, MEANINGS, SAID, percent
from camsign.answers.ways import Way
from camsign.cli.asked import WITHIN, length
from camsign.cli.command import Out, command
from camsign.cli.show import Block, bearing, heading, listed
from camsign.formats.days import People
from camsign.formats.interval import interval
from camsign.logbook.session import Session
from camsign.units import (
    UnitSystem,
    counted,
    format_length,
    lower_first,
    numbered,
    per_area,
    per_distance,
)


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
    """Is it a bed, whose, on how many days, and which way in and out?"""
    far = length(session, apart) if apart else APART_M
    answer = answers.bedding(session, asked, far, days=why)
    shown = oldest_first(answer.bucks, asked.mature_age)
    return Out(answer, _table(answer, shown), _more(answer, session, asked.reach_m), of=answer.area)


def _table(answer: Bedding, shown: Sequence[BeddedBuck]) -> Iterator[Block]:
    yield from listed(shown, {
        "buck (age)": "named", "verdict": lambda b: SAID[b.verdict], "mornings": "mornings",
        "evenings": "evenings", "seen going in and coming out": "directed_days",
        "days bedded (dawn and dusk covered)": lambda b:
        f"{interval(b.days_bedded, 0)} of {b.days_bedded.n}",
        "elsewhere that day": "contradicting_days",
    })  # fmt: skip
    if any(b.verdict == CONFIRMED for b in shown):
        yield f"  {SAID[CONFIRMED]}: {MEANINGS[CONFIRMED]}."
    for words, ways in _ways(answer):
        told = "; ".join(
            f"past {w.camera} headed {bearing(w.bearing_deg.value)}, {_times(w.n)}" for w in ways
        )
        yield f"  {words}: {told} (all these bucks counted)."


def _more(answer: Bedding, session: Session, reach_m: float) -> Iterator[Block]:
    """Say why for each buck, what the sign says, what has no name or direction, and the days."""
    units = session.settings.units
    for b in answer.bucks:
        yield f"  {b.buck}: {lower_first(SAID[b.verdict])}; {'; '.join(b.why)}"
    for words, ways in _ways(answer):
        told = "; ".join(f"past {w.camera} {heading(w.bearing_deg)}" for w in ways)
        yield f"  {words}, with the range of headings: {told}"
    yield from _sign(answer.sign, units, format_length(reach_m, units))
    if answer.unidentified:
        many = numbered(answer.unidentified, "more sighting is", "more sightings are")
        yield f"  {many} of bucks without a sure name"
    if answer.unknown_travel:
        many = numbered(answer.unknown_travel, "sighting has", "sightings have")
        yield f"  {many} no direction tagged"
    yield from (_day(day, People(units)) for day in answer.days or ())


def _day(day: BedDay, people: People) -> str:
    pictures = ", ".join(f"{p.camera} {people.clock(p.local)} ({p.frame[:12]})" for p in day.shown)
    here = f"bedded here ({day.odds})"
    where = here if day.speaks == "for" else f"bedded elsewhere ({percent(1 - day.chance)})"
    return f"  {day.buck}, {day.day}: {where}: {day.shows}; {pictures}"


def _ways(answer: Bedding) -> list[tuple[str, tuple[Way, ...]]]:
    """The ways in and the ways out under their words, those that there are."""
    both = (("Going in at dawn", answer.ways.morning), ("Going out at dusk", answer.ways.evening))
    return [(words, ways) for words, ways in both if ways]


def _times(n: int) -> str:
    return "once" if n == 1 else f"{n} times"


def _directions(n: int) -> str:
    return "all 8 directions" if n == 8 else f"{n or 'none'} of the 8 directions"


def _sign(sign: AreaSign, units: UnitSystem, reach: str) -> Iterator[Block]:
    kinds = ((sign.rubs, "rub"), (sign.beds, "bed"), (sign.scrapes, "scrape"))
    yield (
        f"  sign within {reach}: {', '.join(counted(n, word) for n, word in kinds)}, from "
        f"{counted(sign.seasons, 'season')}"
    )
    if sign.rubs:
        out, inward = _directions(sign.sectors_out), _directions(sign.sectors_in)
        looks = ". That's how a bed looks" if sign.outward else ""
        yield f"  rubs lead out of it in {out}, and in from {inward}{looks}"
    apart = ((sign.doe_beds, "doe bed"), (sign.winter_beds, "winter bed"))
    if any(n for n, _ in apart):
        told = " and ".join(counted(n, word) for n, word in apart if n)
        them = "it doesn't" if sign.doe_beds + sign.winter_beds == 1 else "they don't"
        yield f"  not counted: {told}; {them} tell where a buck beds in fall"
    if sign.density_ratio.value is not None:
        yield (
            f"  rubs per {per_area(units)[1]}: {interval(sign.density_ratio)} times as many as in "
            "the woods around, if you searched both alike"
        )
    if sign.per_km_ratio is not None:
        long, word = per_distance(units)
        yield (
            f"  rubs per {word} walked: {interval(sign.per_km_ratio)} times as many as around it "
            f"({(sign.km_walked or 0.0) / long:.1f} {word}s walked there)"
        )
