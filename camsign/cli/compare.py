"""Which area to sit?"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from camsign.answers import compare as answers
from camsign.answers.compared import Compare, Compared
from camsign.answers.scope import Scope
from camsign.answers.verdict import NOT_SHOWN, SHORT
from camsign.cli.asked import WITHIN
from camsign.cli.command import Out, command
from camsign.cli.show import Block, listed
from camsign.formats.interval import NOTHING, interval, times
from camsign.logbook.session import Session
from camsign.units import UnitSystem, format_length, per_distance


@command(asks=("areas", "does", *WITHIN), csv=True, several=True)
def compare(session: Session, asked: Scope) -> Out[Compare]:
    """Which area to sit?"""
    answer = answers.compare(session, asked)
    units, reach = session.settings.units, asked.reach_m
    more = [*_table(answer, units, reach, watched=False), *_ties(answer)]
    return Out(answer, _table(answer, units, reach), more)


def _table(
    answer: Compare, units: UnitSystem, reach_m: float, watched: bool = True
) -> Iterator[Block]:
    """Give the table; where nobody watched, no order says anything, so it is left for --why."""
    walk = per_distance(units)
    expected = any(r.evening_walks_per_10_days.value is not None for r in answer.rows)
    columns: dict[str, str | Callable[[Compared], str]] = {"rank": "rank"} if answer.ranked else {}
    columns["area"] = "area"
    if expected:
        out = "evenings in 10 a mature buck comes out"
        columns[out] = lambda r: times(r.evenings_with_one_per_10)
    columns |= {
        "pictured in light, per 10 days": lambda r: interval(r.shooting_light_visits_per_10_days),
        "day / gray": lambda r: f"{r.day} / {r.gray}" if r.visits or r.counts else NOTHING,
        "mature buck beds" if answer.who == "bucks" else "does bed here": (
            lambda r: NO_ONE if _between(r) else SHORT[r.verdict]
        ),
    }
    if answer.who == "bucks":
        columns["mature bucks bedded"] = lambda r: (
            NOTHING
            if r.rivals.value is None
            else f"{'maybe ' * _between(r)}{interval(r.rivals, 0)}"
        )
    columns |= {
        f"sign within {format_length(reach_m, units)}": lambda r: _sign(r, walk),
        "newest sign": lambda r: f"by {r.newest_sign}" if r.newest_sign else NOTHING,
        "seasons of sign": "seasons",
        "nights covered": "nights_watched",
    }  # fmt: skip
    if any(r.counts for r in answer.rows) is watched:
        yield from listed(answer.rows, columns)


NO_ONE = "none stands out"


def _between(r: Compared) -> bool:
    """Whether no single buck likely beds there, but one of them all may have."""
    return r.verdict == NOT_SHOWN and bool(r.rivals.value)


def _ties(answer: Compare) -> Iterator[Block]:
    for r in answer.rows:
        if r.tied_with:
            yield f"  {r.area}: too close to call with {', '.join(r.tied_with)}"


def _sign(r: Compared, walk: tuple[float, str]) -> str:
    walked = r.sign_per_km_walked
    return f"{r.sign}" if walked is None else f"{r.sign}, {walked * walk[0]:.1f} a {walk[1]} walked"
