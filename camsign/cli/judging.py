"""The questions that weigh evidence at one place: bedding, rivals, makers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from camsign.cli.bounds import AskedArea, Bounds, Bucks, bounded, length, one_area, scope
from camsign.cli.figures import chance, number, plainly, share, shown
from camsign.cli.opened import logbook
from camsign.cli.show import Csv, Json, say

if TYPE_CHECKING:
    from camsign.answers.area_sign import AreaSign
    from camsign.answers.bedding import Bedding
    from camsign.answers.beds_days import BedDay
    from camsign.answers.makers import Maker
    from camsign.answers.result import Figure
    from camsign.answers.rivals import Pair, Rivals
    from camsign.units import UnitSystem


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    for command in (bedding, where, rivals, makers):
        app.command()(command)


@bounded()
def bedding(
    context: typer.Context,
    bounds: Bounds,
    area: AskedArea = None,
    bucks: Bucks = None,
    apart: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="So far off by daylight contradicts.")
    ] = None,
    why: Annotated[
        bool, typer.Option("--why", help="List the days for and against, with their pictures.")
    ] = False,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Is an area used as a bed, by whom, on how many days, which way in and out?"""
    from camsign.answers import bedding as answers
    from camsign.answers.beds_input import APART_M

    with logbook(context) as session:
        asked = scope(session, bounds, bucks, one_area(session, area))
        far = length(session, apart) if apart else APART_M
        answer, units = answers.bedding(session, asked, far, days=why), session.settings.units
    if not plainly(answer, as_json, as_csv):
        _show_bedding(answer, units)


def _show_bedding(answer: Bedding, units: UnitSystem) -> None:
    say(f"{answer.area}: {answer.said}")
    head = ("buck", "verdict", "mornings", "evenings", "both", "days bedded", "contradicting")
    rows = [
        (
            b.buck,
            b.verdict,
            b.mornings,
            b.evenings,
            b.both,
            number(b.days_bedded, 0),
            b.contradicting_days,
        )
        for b in answer.bucks
    ]
    shown(head, rows, answer)
    for b in answer.bucks:
        say(f"  {b.buck}: {b.verdict}; {'; '.join(b.why)}")
    for name, ways in (
        ("in by morning", answer.ways.morning),
        ("out by evening", answer.ways.evening),
    ):
        for way in ways:
            say(f"  {name} past {way.camera}: going {_way(way.bearing_deg)} (n {way.n})")
    say(*_sign(answer.sign, units))
    apart = [
        f"{n} {what}"
        for n, what in (
            (answer.unidentified, "detections of bucks without a sure name"),
            (answer.unknown_travel, "with unknown travel"),
        )
        if n
    ]
    if apart:
        say(f"  counted apart: {', '.join(apart)}")
    for day in answer.days or ():
        say(_day(day))


def _day(day: BedDay) -> str:
    pictures = ", ".join(f"{p.camera} {p.local:%H:%M} ({p.frame[:12]})" for p in day.pictures)
    return (
        f"  {day.buck} {day.day}, {day.speaks}: {day.shows}; {100 * day.chance:.0f} % that he "
        f"bedded here; {pictures}"
    )


def _walked(km: float | None, units: UnitSystem) -> str:
    from camsign.units import per_distance

    long, word = per_distance(units)
    return f"{(km or 0.0) / long:.1f} {word}s"


def _way(figure: Figure) -> str:
    from camsign.units import format_bearing

    if figure.value is None:
        return "–"
    return format_bearing(figure.value, figure.low, figure.high)


def _sign(sign: AreaSign, units: UnitSystem) -> list[str]:
    from camsign.answers.result import counted

    kinds = ((sign.rubs, "rub"), (sign.beds, "bed"), (sign.scrapes, "scrape"))
    lines = [
        f"  sign in reach: {', '.join(counted(n, word) for n, word in kinds)}; rubs head out in "
        f"{sign.sectors_out} of 8 sectors, inward in {sign.sectors_in}; sign of "
        f"{counted(sign.seasons, 'season')}"
    ]
    apart = ((sign.doe_beds, "doe bed"), (sign.winter_beds, "winter bed"))
    if any(n for n, _ in apart):
        told = " and ".join(counted(n, word) for n, word in apart if n)
        lines.append(f"  left out: {told}; they say nothing of where a buck beds in fall")
    if sign.density_ratio.value is not None:
        lines.append(
            f"  rubs per area: {number(sign.density_ratio)} times the surroundings, if both were "
            "searched alike"
        )
    if sign.per_km_ratio is not None:
        lines.append(
            f"  rubs per distance walked: {number(sign.per_km_ratio)} times the surroundings "
            f"({_walked(sign.km_walked, units)} walked in reach)"
        )
    return lines


@bounded("reach")
def where(
    context: typer.Context,
    bounds: Bounds,
    buck: Annotated[str, typer.Argument(help="A buck's name or id.")],
    on: Annotated[
        str | None, typer.Option(metavar="DAY", help="Which day; else the last one covered.")
    ] = None,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Where is a buck bedded today, with what odds?"""
    from camsign.answers import where as answers
    from camsign.units import parse_day

    with logbook(context) as session:
        day = parse_day(on) if on else None
        answer = answers.where(session, scope(session, bounds, [buck]), day)
    if plainly(answer, as_json, as_csv):
        return
    say(answer.said)
    if answer.last_seen is not None:
        say(f"Last picture: {answer.last_camera}, {answer.last_seen:%Y-%m-%d %H:%M}.")
    shown(("area", "chance"), [(p.area, chance(p.chance)) for p in answer.places], answer)


@bounded()
def rivals(
    context: typer.Context,
    bounds: Bounds,
    area: AskedArea = None,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """How many mature bucks compete there, and who gives way?"""
    from camsign.answers import rivals as answers

    with logbook(context) as session:
        answer = answers.rivals(session, scope(session, bounds, areas=one_area(session, area)))
    if not plainly(answer, as_json, as_csv):
        _show_rivals(answer)


def _show_rivals(answer: Rivals) -> None:
    head = ("buck", "nights", "visits", "in shooting light", "first seen", "last seen")
    rows = [
        (k.buck, k.nights, k.visits, share(k.shooting_light), k.first_seen, k.last_seen)
        for k in answer.known
    ]
    shown(head, rows, answer)
    say(f"Seen there: at least {answer.minimum} mature bucks.")
    if answer.estimate.value is None:
        say("Bedding there: can't tell, no camera covered it in these days.")
    else:
        say(
            f"Bedding there: {number(answer.estimate, 0)} of the {answer.estimate.n} mature bucks "
            "known in these days."
        )
    covered = "" if answer.coverage is None else f", coverage {100 * answer.coverage:.0f} %"
    unseen = answer.with_unseen
    more = "no buck was seen on one night only, so nothing points to more"
    if answer.watch.nights_watched:
        counted = more if unseen.value is None else number(unseen)
        say(f"With those never seen (weak): {counted}{covered}.")
    if answer.unidentified.value is not None:
        say(f"Visits by bucks without a sure name: {share(answer.unidentified)}.")
    for pair in answer.pairs:
        say(_pair(pair))


def _pair(pair: Pair) -> str:
    from camsign.answers.result import counted

    nights, waits = counted(pair.nights_together, "night"), ""
    if pair.hours_until_second is not None and pair.hours_until_first is not None:
        waits = (
            f"; {pair.second} next seen {pair.hours_until_second:.0f} h after {pair.first}, the "
            f"other way round {pair.hours_until_first:.0f} h"
        )
    return (
        f"  {pair.first} and {pair.second}: both there on {nights}, "
        f"{number(pair.by_chance)} by chance{waits}; who gives way: {pair.verdict}"
    )


@bounded("gap", "mature")
def makers(
    context: typer.Context,
    bounds: Bounds,
    sign: Annotated[
        str, typer.Argument(help="A sign's id, or its beginning; `camsign sign list` has them.")
    ],
    bucks: Bucks = None,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Who likely made this rub or scrape?"""
    from camsign.answers import makers as answers

    with logbook(context) as session:
        answer = answers.makers(session, scope(session, bounds, bucks), sign)
    if plainly(answer, as_json, as_csv):
        return
    head = ("buck", "chance", "visits", "why")
    rows = [(m.buck, _odds(m), m.visits, m.why) for m in answer.makers]
    shown(head, rows, answer)
    say(f"{answer.sign}: {answer.verdict}.")


def _odds(maker: Maker) -> str:
    if maker.p is None or maker.low is None or maker.high is None:
        return "–"
    return f"{100 * maker.p:.0f} % ({100 * maker.low:.0f}–{100 * maker.high:.0f})"
