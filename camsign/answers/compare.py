"""Which of my areas deserves the sits?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from camsign.answers.area_sign import AreaSign, area_sign
from camsign.answers.bedding import area_verdict, bedded_bucks
from camsign.answers.beds_known import Known, known_of
from camsign.answers.bucks import ageless_of, mature_of
from camsign.answers.compared import WHOSE, Compare, Compared
from camsign.answers.days import daily
from camsign.answers.detections import DAY, SURE, Asked, asked, unnamed_alone
from camsign.answers.evenings import (
    EVENINGS,
    Evenings,
    Season,
    by_sign,
    evenings_of,
    more_often,
    seasons_of,
)
from camsign.answers.result import (
    ABSENCE,
    TOO_EARLY,
    Figure,
    Watch,
    figure,
    reasons,
)
from camsign.answers.rivals import USERS, beds_of, estimate_of, present_of
from camsign.answers.scope import Scope
from camsign.arrays import Bools, Times
from camsign.geo import Area
from camsign.logbook.session import Session
from camsign.logbook.shapes import to_area
from camsign.stats.estimate import wilson
from camsign.stats.spells import Posterior, about_rate, above
from camsign.units import UnitSystem, counted, format_length, format_size

# Two areas are tied unless the one is the better with this probability at least.
SURE_ENOUGH = 0.95
# Said where rubs move what is expected of ten evenings by so much.
MOVED = 0.2
WINDLESS = "wind isn't counted here; Tonight (camsign tonight) counts it"
METHOD = (
    "rank: mature bucks that leave a bed here, or walk through, in shooting light in the 10 "
    "evenings after the days asked for, if every way were covered: days in bed ahead by the model "
    "of beds times each buck's share of evenings in light, its courses weighed by the rubs of "
    "these days (Gamma-Poisson law, learned over the areas); plus evening pictures in shooting "
    "light of days on which he bedded elsewhere; mean, 95% of how it may turn out; evenings with "
    "one: the chance of at least one of them on each of the ten, summed; tied: the better one is "
    "so with a probability below 95%; visits per 10 days: long-run rate over days watched, with "
    "spells about and elsewhere (Markov-modulated Poisson, grid posterior, median, 95%), visits "
    "without a sure name shared out as the named ones are; does are ranked by its lower end; "
    "verdict, rivals and sign as in bedding and rivals"
)


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
    """What is known of one area before the areas are ranked; `evenings` None for does, and where
    nobody watched or too much waits to be sorted: there nothing `counts`."""

    row: Compared
    rate: Posterior
    evenings: Evenings | None
    counts: bool


def compare(session: Session, scope: Scope) -> Compare:
    """Rank the areas of the scope by what a sit there can expect."""
    q = asked(session, scope)
    mature = mature_of(session, scope, q.bucks)
    present = [q.bucks.ids[b] for b in present_of(session, scope, q.bucks, mature)]
    model = known_of(session, scope, about=scope.area_ids)
    seasons = seasons_of(model, [q.bucks.ids[b] for b in mature.bucks])
    shapes = session.con.execute("SELECT area, kind, shape FROM areas").fetchall()
    areas = {area: (kind, to_area(shape)) for area, kind, shape in shapes}
    alone = unnamed_alone(q.visited, scope.gap_s)
    known = []
    for i, spot in enumerate(q.reach.spots):
        light = _light(q, alone, i, mature.bucks)
        known.append(_known(q, i, *areas[spot.id], light, model, present, seasons))
    known = sorted(_weighed(known), key=_order)
    watch, came = q.watch(), {b for _, b, apart in q.visited.runs() if apart == SURE}
    ageless = ageless_of(q.bucks, mature, came)
    gone = sorted(q.bucks.names[b] for b in came & mature.ended)
    why = _why(scope, watch, ageless, gone)
    return Compare(_ranked(known), watch, METHOD, why, scope.who, ageless or None)


def _order(known: _Known) -> tuple[bool, float]:
    """Rank by what is expected of ten evenings, without a model by as many visits as are sure: few
    days watched leave much open. What nobody watched is last."""
    worth = known.row.evening_walks_per_10_days.value
    return not known.counts, -(known.rate.estimate().low or 0.0 if worth is None else worth)


def _weighed(known: Sequence[_Known]) -> list[_Known]:
    """Let the sign of all areas weigh in, and say what is expected of each."""
    at = [i for i, one in enumerate(known) if one.evenings is not None]
    found = list(known)
    signed = by_sign([one for k in known if (one := k.evenings) is not None])
    for i, evenings in zip(at, signed, strict=True):
        row = replace(
            known[i].row,
            evening_walks_per_10_days=figure(evenings.estimate()),
            evenings_with_one_per_10=figure(evenings.with_any()),
            why=(*_evening_why(evenings), *known[i].row.why),
        )
        found[i] = replace(known[i], row=row, evenings=evenings)
    return found


def _evening_why(evenings: Evenings) -> list[str]:
    bed, through = float(evenings.bed.mean()), float(evenings.through.mean())
    past = f" ({through:.1f} of them walking through)" if through >= 0.05 else ""
    said = [
        "mature bucks coming out of here in shooting light (two on one evening count as 2), "
        f"pictured or not: {bed + through:.1f} in {EVENINGS} evenings{past}"
    ]
    if abs(bed - evenings.told) >= MOVED:
        rubs = counted(evenings.rubs, "fresh rub") if evenings.rubs else "no fresh rubs"
        much = "more" if bed > evenings.told else "less"
        said.append(
            f"{rubs} here, so we expect {much} from those that bed here: {bed:.1f} in {EVENINGS} "
            f"evenings instead of {evenings.told:.1f}"
        )
    return said


def _light(q: Asked, alone: Bools, spot: int, mature: frozenset[int]) -> _Light:
    """Sort the visits of bucks at one area in shooting light; `alone`: those without a name."""
    visited = q.visited
    here = (visited.spot == spot) & visited.shooting
    sure = here & (visited.apart == SURE)
    his = sure & np.isin(visited.buck, list(mature))
    day = int((visited.light[his] == DAY).sum())
    unnamed = int((here & alone).sum())
    return _Light(visited.day[his], day, int(his.sum()) - day, int(sure.sum()), unnamed)


def _known(
    q: Asked, at: int, kind: str | None, area: Area, light: _Light,
    model: Known, present: Sequence[str], seasons: Sequence[Season],
) -> _Known:  # fmt: skip
    session, scope, spot, watching = q.session, q.scope, q.reach.spots[at], q.watching[at]
    found = bedded_bucks(session, scope, spot.id, q.bucks, watching, model)
    bedded = [one for one in found if one.buck_id in present]
    sign = area_sign(session, scope, spot.id, area)
    rate = about_rate(daily(watching, light.days)).times(light.factor())
    watch, unknown = watching.summary(), Figure(None, None, None)
    wanted = model.wanted(watching, scope)
    counts = _counts(watch)
    value = figure(rate.estimate(per=10)) if counts else Figure(None, 0.0, None)
    row = Compared(
        area=spot.name,
        area_id=spot.id,
        kind=kind,
        rank=0,
        tied_with=(),
        evening_walks_per_10_days=unknown,
        evenings_with_one_per_10=unknown,
        shooting_light_visits_per_10_days=value,
        visits=len(light.days),
        day=light.day,
        gray=light.gray,
        identified=figure(wilson(light.named, light.named + light.unnamed)),
        verdict=area_verdict(bedded, sign, len(watching.days) if counts else 0)[0],
        rivals=estimate_of(beds_of(model, present, spot.id, wanted), len(wanted))
        if counts
        else Figure(None, None, None, n=len(present), method=USERS),
        sign_per_ha=sign.total / sign.hectares if sign.hectares else 0.0,
        sign_per_km_walked=sign.total / sign.km_walked if sign.km_walked else None,
        newest_sign=sign.newest,
        seasons=sign.seasons,
        nights_watched=watch.nights_watched,
        why=_row_why(light, watch, sign, scope, session.settings.units),
        sign=sign.total,
    )
    evenings = None
    if scope.who == "bucks" and counts:
        evenings = evenings_of(seasons, spot.id, wanted, sign.rubs, light.factor())
    return _Known(row, rate, evenings, counts)


def _counts(watch: Watch) -> bool:
    """Whether an area can be ranked: somebody watched, and looked at most of the pictures."""
    return bool(watch.days_watched) and not watch.waiting


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
    if not (one.counts and other.counts):
        return False  # nobody looked at one of them: nothing was compared
    if one.evenings is None or other.evenings is None:
        better = above(one.rate, other.rate)
    else:
        better = more_often(one.evenings, other.evenings)
    return 1 - SURE_ENOUGH < better < SURE_ENOUGH


def _row_why(
    light: _Light, watch: Watch, sign: AreaSign, scope: Scope, units: UnitSystem
) -> tuple[str, ...]:
    who, reach = scope.who, format_length(scope.reach_m, units)
    return reasons(
        watch.why(),
        f"pictured in shooting light: {counted(len(light.days), 'visit')} of {WHOSE[who]}, "
        f"{light.day} by day, {light.gray} in gray light"
        if len(light.days)
        else f"no picture of {WHOSE[who]} in shooting light",
        light.unnamed
        and f"{counted(light.unnamed, 'visit')} without a sure name, shared out in the same "
        "proportion as the named ones",
        None if len(light.days) else ABSENCE,
        TOO_EARLY if watch.nights_unsorted and _counts(watch) else None,
        f"rubs, beds and scrapes: {sign.total} within {reach} ({format_size(sign.hectares, units)})"
        if sign.total
        else f"no sign of these days within {reach}, or not searched",
    )


def _why(
    scope: Scope, watch: dict[str, Watch], ageless: Sequence[str], gone: Sequence[str]
) -> tuple[str, ...]:
    bare = [name for name, one in watch.items() if not _counts(one)]
    named = ", ".join(bare[:5]) + (f" and {len(bare) - 5} more" if len(bare) > 5 else "")
    return reasons(
        scope.asked(),
        scope.who == "bucks" and f"mature means {scope.mature_age:g} years or older in that season",
        ageless and f"of no known age and left out: {', '.join(ageless)}",
        gone and f"gone by then and not counted: {', '.join(gone)}",
        scope.who == "bucks" and bool(watch) and WINDLESS,
        0 < len(bare) < len(watch)
        and f"not covered, or hardly any of it sorted, so placed last: {named}",
        None if watch else "there is no area yet; add one and hang a camera by it",
    )
