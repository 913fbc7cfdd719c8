"""Which area to sit?"""

from __future__ import annotations

from collections.abc import Iterator

from camsign.answers import compare as answers
from camsign.answers.compare import Compare, Compared
from camsign.answers.scope import Scope
from camsign.cli.asked import WITHIN
from camsign.cli.command import Out, command
from camsign.cli.show import Block, Table
from camsign.formats.interval import NOTHING, interval, rounded, times
from camsign.logbook.session import Session
from camsign.units import UnitSystem, per_area, per_distance


@command(asks=("areas", "does", *WITHIN), csv=True, several=True)
def compare(session: Session, asked: Scope) -> Out[Compare]:
    """Which area to sit?"""
    answer = answers.compare(session, asked)
    units = session.settings.units
    more = [*_table(answer, units, watched=False), *_ties(answer)]
    return Out(answer, _table(answer, units), more)


def _table(answer: Compare, units: UnitSystem, watched: bool = True) -> Iterator[Block]:
    """Give the table; where nobody watched, no order says anything, so it is left for --why."""
    land, walk = per_area(units), per_distance(units)
    expected = any(r.evening_walks_per_10_days.value is not None for r in answer.rows)
    head = (
        "rank", "area", *(("evenings in 10 with one out",) if expected else ()),
        "pictured in light, per 10 days", "day / gray",
        *(("bedding", "mature bucks bedded") if answer.who == "bucks" else ("does bed here",)),
        f"sign per {land[1]}", "newest sign", "seasons", "nights covered",
    )  # fmt: skip
    if answer.rows and any(r.nights_watched for r in answer.rows) is watched:
        yield Table(head, [_row(r, answer.who, expected, land[0], walk) for r in answer.rows])


def _ties(answer: Compare) -> Iterator[Block]:
    for r in answer.rows:
        if r.tied_with:
            yield f"  {r.area}: too close to call with {', '.join(r.tied_with)}"


def _row(
    r: Compared, who: str, expected: bool, land: float, walk: tuple[float, str]
) -> tuple[object, ...]:
    walked = r.sign_per_km_walked
    return (
        r.rank,
        r.area,
        *((times(r.evenings_with_one_per_10),) if expected else ()),
        interval(r.shooting_light_visits_per_10_days),
        f"{r.day} / {r.gray}",
        r.verdict,
        *(
            (NOTHING if r.rivals.value is None else interval(r.rivals, 0),)
            if who == "bucks"
            else ()
        ),
        rounded(r.sign_per_ha * land)
        + (f", {walked * walk[0]:.1f} a {walk[1]} walked" if walked is not None else ""),
        r.newest_sign,
        r.seasons,
        r.nights_watched,
    )
