"""Which area to sit?"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from camsign.answers import compare as answers
from camsign.answers.compared import Compare, Compared
from camsign.answers.scope import Scope
from camsign.answers.verdict import NOT_ENOUGH
from camsign.cli.asked import WITHIN
from camsign.cli.command import Out, command
from camsign.cli.show import Block, listed
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
    columns: dict[str, str | Callable[[Compared], str]] = {"rank": "rank"} if answer.ranked else {}
    columns["area"] = "area"
    if expected:
        columns["evenings in 10 with one out"] = lambda r: times(r.evenings_with_one_per_10)
    columns |= {
        "pictured in light, per 10 days": lambda r: interval(r.shooting_light_visits_per_10_days),
        "day / gray": lambda r: f"{r.day} / {r.gray}" if r.visits or r.counts else NOTHING,
        "mature buck beds" if answer.who == "bucks" else "does bed here": (
            lambda r: "can't tell" if r.verdict == NOT_ENOUGH else r.verdict
        ),
    }
    if answer.who == "bucks":
        columns["mature bucks bedded"] = lambda r: (
            NOTHING if r.rivals.value is None else interval(r.rivals, 0)
        )
    columns |= {
        f"sign per {land[1]}": lambda r: _dense(r, land[0], walk),
        "newest sign made by": "newest_sign", "seasons of sign": "seasons",
        "nights covered": "nights_watched",
    }  # fmt: skip
    if any(r.counts for r in answer.rows) is watched:
        yield from listed(answer.rows, columns)


def _ties(answer: Compare) -> Iterator[Block]:
    for r in answer.rows:
        if r.tied_with:
            yield f"  {r.area}: too close to call with {', '.join(r.tied_with)}"


def _dense(r: Compared, land: float, walk: tuple[float, str]) -> str:
    walked, dense = r.sign_per_km_walked, rounded(r.sign_per_ha * land)
    return dense if walked is None else f"{dense}, {walked * walk[0]:.1f} a {walk[1]} walked"
