"""Which of my areas deserves the sits?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any, ClassVar

from camsign.answers.area_sign import AreaSign, area_sign
from camsign.answers.bedded import ends_here
from camsign.answers.days import daily
from camsign.answers.mature import Mature, mature_of
from camsign.answers.reach import Reach, Watching, only, reach_of, watching_of
from camsign.answers.rivals import estimate_of, present_of
from camsign.answers.seen import SURE, Bucks, Seen, bucks_of, seen_of
from camsign.answers.shape import ABSENCE, FEW_NIGHTS, THIN, Answer, Figure, Watch, figure, reasons
from camsign.answers.verdict import area_verdict
from camsign.answers.visited import Visited, visited_of
from camsign.logbook.shapes import to_area
from camsign.stats.spells import Posterior, about_rate, above
from camsign.units import format_size

if TYPE_CHECKING:
    from camsign.answers.scope import Scope
    from camsign.answers.seen import Times
    from camsign.logbook.session import Session
    from camsign.units import UnitSystem

# Two areas are tied unless the one is the better with this probability at least.
SURE_ENOUGH = 0.95
METHOD = (
    "daylight visits of mature bucks per 10 days: long-run rate over days watched, with spells "
    "about and elsewhere (Markov-modulated Poisson, grid posterior, median, 95 %); rank by it; "
    "tied: the better one is so with a probability below 95 %; verdict, rivals and sign as in "
    "bedding and rivals"
)


@dataclass(frozen=True, slots=True)
class Compared:
    """One area. `sign_per_ha`, `sign_per_km_walked`: rubs, beds and scrapes in reach per hectare,
    and per kilometre walked where paths are known; `newest_sign`: the latest day any was made."""

    area: str
    area_id: str
    kind: str | None
    rank: int
    tied_with: tuple[str, ...]
    daylight_visits_per_10_days: Figure
    daylight_visits: int
    verdict: str
    rivals: Figure
    sign_per_ha: float
    sign_per_km_walked: float | None
    newest_sign: date | None
    seasons: int
    nights_watched: int
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Compare(Answer):
    """One row an area, best first; `watch` by the area's name."""

    ROW: ClassVar[type] = Compared

    rows: tuple[Compared, ...]
    watch: dict[str, Watch]
    method: str
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    """What is read once for all areas."""

    session: Session
    scope: Scope
    bucks: Bucks
    mature: Mature
    seen: Seen
    present: set[int]


@dataclass(frozen=True, slots=True, eq=False)
class _Known:
    """What is known of one area before the areas are ranked."""

    row: Compared
    rate: Posterior


def compare(session: Session, scope: Scope) -> Compare:
    """Rank the areas of the scope by what a sit there can expect."""
    reach = reach_of(session, scope)
    bucks = bucks_of(session, scope)
    mature = mature_of(session, scope, bucks)
    watching = watching_of(session, scope, reach)
    seen = seen_of(session, scope, reach, bucks)
    visited = visited_of(seen, reach, watching, scope)
    asked = _Asked(session, scope, bucks, mature, seen, present_of(session, scope, bucks, mature))
    rows = session.con.execute("SELECT area, kind, shape FROM areas").fetchall()
    areas = {area: (kind, shape) for area, kind, shape in rows}
    known = [
        _known(asked, only(reach, i), watch, areas, _light_days(visited, i, mature.bucks))
        for i, watch in enumerate(watching)
    ]
    # What nobody watched comes last, whatever its prior says.
    known.sort(key=lambda k: (k.row.nights_watched == 0, -(k.rate.estimate().value or 0.0)))
    summary = {s.name: w.summary() for s, w in zip(reach.spots, watching, strict=True)}
    return Compare(_ranked(known), summary, METHOD, _why(scope, summary))


def _light_days(visited: Visited, spot: int, mature: frozenset[int]) -> Times:
    """Give the day of each daylight visit of a mature buck at one area."""
    import numpy as np

    his = np.isin(visited.buck, list(mature)) & (visited.apart == SURE)
    days: Times = visited.day[(visited.spot == spot) & his & visited.in_daylight]
    return days


def _known(
    asked: _Asked, reach: Reach, watching: Watching, areas: dict[str, Any], light: Times
) -> _Known:
    session, scope, spot = asked.session, asked.scope, reach.spots[0]
    kind, shape = areas[spot.id]
    area = to_area(shape)
    looks, ends_by = ends_here(session, scope, reach, watching, asked.bucks, asked.seen, area)
    there = set(looks.buck.tolist())
    ends = {b: ends_by(b) for b in there}
    sign = area_sign(session, scope, spot.id, area)
    rate = about_rate(daily(watching, light))
    watch = watching.summary()
    value = figure(rate.estimate(per=10)) if watch.days_watched else Figure(None, 0.0, None)
    row = Compared(
        area=spot.name,
        area_id=spot.id,
        kind=kind,
        rank=0,
        tied_with=(),
        daylight_visits_per_10_days=value,
        daylight_visits=len(light),
        verdict=area_verdict(list(ends.values()), sign, len(watching.days))[0],
        rivals=estimate_of(asked.present, there & asked.mature.bucks, ends.__getitem__, watching),
        sign_per_ha=sign.total / sign.hectares if sign.hectares else 0.0,
        sign_per_km_walked=sign.total / sign.km_walked if sign.km_walked else None,
        newest_sign=sign.newest,
        seasons=sign.seasons,
        nights_watched=watch.nights_watched,
        why=_row_why(len(light), watch, sign, session.settings.units),
    )
    return _Known(row, rate)


def _ranked(known: Sequence[_Known]) -> tuple[Compared, ...]:
    return tuple(
        replace(
            one.row,
            rank=i + 1,
            tied_with=tuple(
                other.row.area for other in known if other is not one and _tied(one, other)
            ),
        )
        for i, one in enumerate(known)
    )


def _tied(one: _Known, other: _Known) -> bool:
    return 1 - SURE_ENOUGH < above(one.rate, other.rate) < SURE_ENOUGH


def _row_why(light: int, watch: Watch, sign: AreaSign, units: UnitSystem) -> tuple[str, ...]:
    few = watch.nights_watched < FEW_NIGHTS
    return reasons(
        f"{THIN}: {watch.in_words()}" if few else watch.in_words(),
        f"{light} daylight visits of mature bucks",
        None if light else ABSENCE,
        f"{sign.total} rubs, beds and scrapes on {format_size(sign.hectares, units)} in reach"
        if sign.total
        else "no sign of these days in reach, or not searched",
    )


def _why(scope: Scope, watch: dict[str, Watch]) -> tuple[str, ...]:
    bare = [name for name, one in watch.items() if not one.nights_watched]
    named = ", ".join(bare[:5]) + (f" and {len(bare) - 5} more" if len(bare) > 5 else "")
    return reasons(
        f"days asked for: {scope.in_words()}",
        f"mature means {scope.mature_age:g} years or older in that season",
        f"not watched at all, so placed last: {named}" if bare else None,
        None if watch else "there is no area yet; add one and hang a camera within reach",
    )
