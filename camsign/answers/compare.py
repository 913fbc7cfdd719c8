"""Which of my areas deserves the sits?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any, ClassVar

from camsign.answers.area_sign import AreaSign, area_sign
from camsign.answers.bedding import area_verdict, bedded_bucks
from camsign.answers.beds_known import Known, known_of
from camsign.answers.days import daily
from camsign.answers.detections import (
    DAY,
    SURE,
    Bucks,
    Detections,
    bucks_of,
    detections_of,
)
from camsign.answers.mature import Mature, mature_of
from camsign.answers.merged_visits import MergedVisits, merged_visits, unnamed_alone
from camsign.answers.reach import Reach, Watching, only, reach_of, watching_of
from camsign.answers.result import (
    ABSENCE,
    FEW_NIGHTS,
    THIN,
    TOO_EARLY,
    Answer,
    Figure,
    Watch,
    counted,
    figure,
    reasons,
)
from camsign.answers.rivals import estimate_of, present_of
from camsign.logbook.shapes import to_area
from camsign.stats.shares import wilson
from camsign.stats.spells import Posterior, about_rate, above
from camsign.units import format_size

if TYPE_CHECKING:
    from camsign.answers.detections import Bools, Times
    from camsign.answers.scope import Scope
    from camsign.logbook.session import Session
    from camsign.units import UnitSystem

# Two areas are tied unless the one is the better with this probability at least.
SURE_ENOUGH = 0.95
_WHOSE = {"bucks": "mature bucks", "does": "does and fawns"}
METHOD = (
    "visits of mature bucks in shooting light per 10 days: long-run rate over days watched, with "
    "spells about and elsewhere (Markov-modulated Poisson, grid posterior, median, 95 %), visits "
    "without a sure name shared out as the named ones are; rank by it, areas where none came "
    "behind those where some did; "
    "tied: the better one is so with a probability below 95 %; verdict, rivals and sign as in "
    "bedding and rivals"
)


@dataclass(frozen=True, slots=True)
class Compared:
    """One area.

    `visits`: of mature bucks in shooting light; `identified`: the share of the bucks' visits in
    shooting light there that carry a sure name, by which the rate is raised. `sign_per_ha`,
    `sign_per_km_walked`: rubs, beds and scrapes in reach per hectare, and per kilometer walked
    where paths are known; `newest_sign`: the latest day any was made.
    """

    area: str
    area_id: str
    kind: str | None
    rank: int
    tied_with: tuple[str, ...]
    shooting_light_visits_per_10_days: Figure
    visits: int
    day: int
    gray: int
    identified: Figure
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

    @property
    def said(self) -> str:
        """Say in a sentence which area is best, or that nobody can tell."""
        best = self.rows[0] if self.rows else None
        if not any(one.nights_watched for one in self.watch.values()):
            return f"Can't tell yet: {THIN}. No night was covered and sorted in these days."
        if best is None or not best.visits:
            return "Can't tell yet: no area has a picture in shooting light in these days."
        rate = best.shooting_light_visits_per_10_days.value
        if rate is None:
            return f"Can't tell yet: no day at {best.area} is known to have been watched."
        tied = f", too close to call with {', '.join(best.tied_with)}" if best.tied_with else ""
        return (
            f"{best.area} first{tied}: about {rate:.1f} visits in shooting light in 10 days "
            f"({best.visits} seen: {best.day} by day, {best.gray} in gray light)."
        )


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    """What is read once for all areas."""

    session: Session
    scope: Scope
    bucks: Bucks
    mature: Mature
    seen: Detections
    present: list[str]
    known: Known


@dataclass(frozen=True, slots=True, eq=False)
class _Light:
    """Visits in shooting light at one area: the days of mature bucks', those by day and in gray
    light, and how many visits of all bucks carry a sure name or do not."""

    days: Times
    day: int
    gray: int
    named: int
    unnamed: int

    def factor(self) -> float:
        """How many visits there are to one with a name; few named ones say little of it."""
        return 1 + self.unnamed / (self.named + 1)


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
    seen = detections_of(session, scope, reach, bucks)
    visited = merged_visits(seen, reach, watching, scope)
    alone = unnamed_alone(visited, scope.gap_s)
    present = [bucks.ids[b] for b in present_of(session, scope, bucks, mature)]
    asked = _Asked(session, scope, bucks, mature, seen, present, known_of(session, scope))
    rows = session.con.execute("SELECT area, kind, shape FROM areas").fetchall()
    areas = {area: (kind, shape) for area, kind, shape in rows}
    known = [
        _known(asked, only(reach, i), watch, areas, _light(visited, alone, i, mature.bucks))
        for i, watch in enumerate(watching)
    ]
    known.sort(key=_order)
    summary = {s.name: w.summary() for s, w in zip(reach.spots, watching, strict=True)}
    return Compare(_ranked(known), summary, METHOD, _why(scope, summary))


def _order(known: _Known) -> tuple[bool, bool, float]:
    """Rank by what was measured: what nobody watched is last, and where none came before that.

    Few days watched would else leave so much open that an area outranks one where some came.
    """
    row = known.row
    return row.nights_watched == 0, row.visits == 0, -(known.rate.estimate().value or 0.0)


def _light(visited: MergedVisits, alone: Bools, spot: int, mature: frozenset[int]) -> _Light:
    """Sort the visits of bucks at one area in shooting light; `alone`: those without a name."""
    import numpy as np

    here = (visited.spot == spot) & visited.shooting
    his = here & np.isin(visited.buck, list(mature)) & (visited.apart == SURE)
    day = int((visited.light[his] == DAY).sum())
    named, unnamed = int((here & (visited.apart == SURE)).sum()), int((here & alone).sum())
    return _Light(visited.day[his], day, int(his.sum()) - day, named, unnamed)


def _known(
    asked: _Asked, reach: Reach, watching: Watching, areas: dict[str, Any], light: _Light
) -> _Known:
    session, scope, spot = asked.session, asked.scope, reach.spots[0]
    kind, shape = areas[spot.id]
    area = to_area(shape)
    bedded = bedded_bucks(session, scope, spot.id, asked.bucks, watching, asked.known)
    sign = area_sign(session, scope, spot.id, area)
    rate = about_rate(daily(watching, light.days)).times(light.factor())
    watch = watching.summary()
    value = figure(rate.estimate(per=10)) if watch.days_watched else Figure(None, 0.0, None)
    row = Compared(
        area=spot.name,
        area_id=spot.id,
        kind=kind,
        rank=0,
        tied_with=(),
        shooting_light_visits_per_10_days=value,
        visits=len(light.days),
        day=light.day,
        gray=light.gray,
        identified=figure(wilson(light.named, light.named + light.unnamed)),
        verdict=area_verdict(bedded, sign, len(watching.days))[0],
        rivals=estimate_of(asked.present, spot.id, watching, scope, asked.known),
        sign_per_ha=sign.total / sign.hectares if sign.hectares else 0.0,
        sign_per_km_walked=sign.total / sign.km_walked if sign.km_walked else None,
        newest_sign=sign.newest,
        seasons=sign.seasons,
        nights_watched=watch.nights_watched,
        why=_row_why(light, watch, sign, scope.who, session.settings.units),
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


def _row_why(
    light: _Light, watch: Watch, sign: AreaSign, who: str, units: UnitSystem
) -> tuple[str, ...]:
    few = watch.nights_watched < FEW_NIGHTS
    return reasons(
        f"{THIN}: {watch.in_words()}" if few else watch.in_words(),
        f"{len(light.days)} visits of {_WHOSE[who]} in shooting light: {light.day} by day, "
        f"{light.gray} in gray light",
        f"{counted(light.unnamed, 'visit')} there without a sure name, shared out"
        if light.unnamed
        else None,
        None if len(light.days) else ABSENCE,
        TOO_EARLY if watch.nights_unsorted else None,
        f"{sign.total} rubs, beds and scrapes on {format_size(sign.hectares, units)} in reach"
        if sign.total
        else "no sign of these days in reach, or not searched",
    )


def _why(scope: Scope, watch: dict[str, Watch]) -> tuple[str, ...]:
    bare = [name for name, one in watch.items() if not one.nights_watched]
    named = ", ".join(bare[:5]) + (f" and {len(bare) - 5} more" if len(bare) > 5 else "")
    return reasons(
        f"days asked for: {scope.in_words()}",
        f"mature means {scope.mature_age:g} years or older in that season"
        if scope.who == "bucks"
        else None,
        f"not watched at all, so placed last: {named}" if bare else None,
        None if watch else "there is no area yet; add one and hang a camera within reach",
    )
