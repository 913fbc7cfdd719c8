"""When is a buck near an area, by the sun?"""

from __future__ import annotations

from collections.abc import Iterator

from camsign.answers import when as answers
from camsign.answers.scope import Scope
from camsign.answers.when import When
from camsign.cli.asked import WITHIN
from camsign.cli.command import Out, command
from camsign.cli.show import Block, Table, lengths, listed
from camsign.formats.days import from_sun
from camsign.formats.interval import percent
from camsign.logbook.session import Session
from camsign.units import UnitSystem, counted

_SPANS = 4
# Of fewer visits no share is given; our choice.
FEW = 5


@command(asks=("buck", "area", *WITHIN), csv=True, several=True)
def when(session: Session, asked: Scope) -> Out[When]:
    """What time of day is he near an area, by sunrise and sunset?"""
    answer = answers.when(session, asked)
    return Out(answer, _tables(answer), _more(answer, session.settings.units))


def _tables(answer: When) -> Iterator[Block]:
    if answer.visits:
        yield (
            f"{counted(answer.day, 'visit')} by day, {answer.gray} in gray light, "
            f"{answer.dark} in the dark; {_in_light(answer)}."
        )
    if answer.last_seen:
        waits = answer.watch.much_waits
        ago = f", {answer.ago}" if answer.ago and not waits else ""
        later = "; not all later pictures are sorted" if waits else ""
        yield f"Last seen there {answer.last_seen:%Y-%m-%d %H:%M}{ago}{later}."
    if answer.pictured:
        yield from _odds(answer)


def _in_light(answer: When) -> str:
    """Give the share in shooting light; of few visits none, for it would say nothing."""
    if len(answer.visits) < FEW:
        return "too few to say more"
    return f"in shooting light: {percent(answer.shooting_light)}"


def _odds(answer: When) -> Iterator[Block]:
    """Give his odds by part of the season and by hour, and how they did."""
    if not answer.by_part:
        return
    test = answer.back_test
    if test:
        yield test.in_words(answer.shooting_light_chance.value)
    for word, parts in (("phase", answer.by_part), ("month", answer.by_month)):
        if parts != answer.by_month or word == "month":
            # Odds only of what was checked and did better than his average.
            told = bool(test and test.better and parts == answer.by_part)
            rows = [(p.dated, p.days, p.seen, *[percent(p.chance)] * told) for p in parts if p.days]
            heads = (
                word,
                "whole days covered",
                "in shooting light",
                *["chance on a day"] * told,
            )
            yield Table(heads, rows)
    spans = [(s.in_words(), s.days, percent(s.chance)) for s in answer.best_spans[:_SPANS]]
    if any(s.days for s in answer.best_spans):  # of no visit no hour is the best
        yield Table(("best hours", "days with a visit", "chance on a day"), spans)


def _more(answer: When, units: UnitSystem) -> Iterator[Block]:
    """Give every visit, and how often what was said came true."""
    if not answer.pictured:
        yield from _odds(answer)
    yield from listed(answer.visits, {
        "when": "local", "camera": "camera", "light": "light_said",
        "from sunrise": lambda v: from_sun(v.minutes_from_sunrise),
        "from sunset": lambda v: from_sun(v.minutes_from_sunset),
        "from the edge": lambda v: lengths(units, v.distance_m),
    })  # fmt: skip
    checked = answer.back_test.calibration if answer.back_test else ()
    if checked:
        yield "How our past forecasts came out:"
    for one in checked:
        yield f"  when we said {one.forecast:.0%}, it happened {percent(one.happened)}"
