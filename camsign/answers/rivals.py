"""How many mature bucks compete for an area, and who gives way to whom?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import combinations
from typing import ClassVar

import numpy as np

from camsign.answers.bedded import no_one
from camsign.answers.beds_known import Known, known_of
from camsign.answers.beds_seen import seen_at
from camsign.answers.bucks import Bucks, Mature, ageless_of, mature_of
from camsign.answers.detections import (
    SURE,
    Asked,
    MergedVisits,
    asked,
    unnamed_alone,
)
from camsign.answers.reach import Watching, by_deployment
from camsign.answers.result import (
    ABSENCE,
    SPARE,
    Answer,
    Figure,
    Watch,
    ageless_came,
    figure,
    listed,
    reasons,
    too_little,
)
from camsign.answers.scope import Scope
from camsign.answers.verdict import CONFIRMED, MAYBE, DaysSeen, verdict_of
from camsign.arrays import Ints, Times
from camsign.errors import UsageError
from camsign.formats.interval import interval, percent
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session
from camsign.stats.counts import chao2, coverage
from camsign.stats.estimate import Estimate, spread_of, wilson
from camsign.stats.order import GivingWay, giving_way, together
from camsign.units import counted, upper_first

# Pairs are formed of the most frequent ones; each pair is a test of its own.
MOST_PAIRED = 6
LEVEL = 0.05
# Pictures at one camera closer than this are one pass [s] (common practice, no source).
PASS_S = 180.0
CANNOT_TELL = "cannot tell"
USERS = "the season's known mature bucks, by the model of where each bedded"
METHOD = (
    f"minimum: mature bucks seen there; estimate: {USERS}; never seen: Chao2, bias-corrected (Chao "
    "1987), coverage 1 - f1/n (Good 1953), weak with few bucks; nights together: hypergeometric "
    "law (Veech 2013); giving way: waits against those with one's days shifted (Lotwick and "
    "Silverman 1982), the level divided by the number of pairs; shares: Wilson 1927; 95%"
)


@dataclass(frozen=True, slots=True)
class KnownRival:
    """A mature buck seen at the area: nights, share of visits in shooting light, first and last."""

    buck: str
    buck_id: str
    nights: int
    visits: int
    shooting_light: Figure
    first_seen: datetime
    last_seen: datetime


@dataclass(frozen=True, slots=True)
class Pair:
    """Two of them. `nights_together` against `by_chance`; waits [h] until the one named is seen
    after the other passed; `verdict` says who gives way, or that it cannot be told."""

    first: str
    second: str
    nights_together: int
    by_chance: Figure
    p_together: float
    hours_until_second: float | None
    hours_until_first: float | None
    p_order: float | None
    verdict: str


@dataclass(frozen=True, slots=True)
class Rivals(Answer):
    """The answer for one area; its table holds the known ones.

    `minimum`: mature bucks seen there at all. `estimate`: of the season's known mature bucks, how
    many bed there on a watched day at least. `with_unseen`: with those that nobody ever saw there.
    `tagged`: what is tagged of the bucks, in words, where it makes no number yet. `ageless`: bucks
    seen there that count for nothing, since nobody gave their age. `likeliest`: the best odds
    that one of them bedded there on a watched day at least, of those pictured as a bed asks for.
    `ended`: who came and had ended by the last of the days.
    """

    TABLE: ClassVar[str] = "known"
    ROW: ClassVar[type] = KnownRival
    REPEATED: ClassVar[tuple[str, ...]] = ("area",)

    area: str
    area_id: str
    known: tuple[KnownRival, ...]
    minimum: int
    estimate: Figure
    with_unseen: Figure
    coverage: float | None
    unidentified: Figure
    pairs: tuple[Pair, ...]
    watch: Watch
    method: str
    why: tuple[str, ...]
    tagged: str | None = field(default=None, metadata=SPARE)
    ageless: tuple[str, ...] | None = field(default=None, metadata=SPARE)
    likeliest: float | None = field(default=None, metadata=SPARE)
    ended: tuple[str, ...] | None = field(default=None, metadata=SPARE)

    @property
    def said(self) -> str:
        """Say in a sentence how many use the area, and how many bed there."""
        came = ageless_came(self.ageless or ())
        also = f" {came}." if came else ""
        if not self.watch.nights_watched and self.tagged:
            return f"Can't tell yet how many use {self.area}: {self.tagged}.{also}"
        if not self.watch.nights_watched:
            return f"Can't tell how many use {self.area}: {too_little([self.watch])}{also}"
        if not self.minimum and (waiting := self.watch.waiting):
            return f"Can't tell yet how many use {self.area}: {waiting}.{also}"
        if not self.minimum and came:
            return f"Can't tell yet how many mature bucks use {self.area}: {came}."
        bedded = _bedded_said(self.estimate, self.minimum, self.likeliest)
        if waiting := self.watch.waiting:
            bedded = f"Can't tell yet how many bed here: {waiting}."
        if not self.minimum:
            living = "living " * bool(self.ended)
            none = f"No {living}mature buck in pictures at {self.area}{self.watch.but_unsorted}"
            none += f"; {listed(self.ended)} came, and ended." if self.ended else "."
            return (
                none
                if self.watch.nights_unsorted and not self.estimate.value
                else (f"{none} {bedded}")
            )
        use = f"At least {counted(self.minimum, 'mature buck')} use{'s' * (self.minimum == 1)}"
        who = f": {listed([k.buck for k in self.known])}" if self.known else ""
        return f"{use} {self.area}{who}. {bedded}{also}"

    def behind(self, bedding: str) -> str:
        """Say it behind what `bedding` said of the area, without what that said already."""
        twice = f" {no_one(self.estimate)}."
        return self.said.replace(twice, "") if twice in bedding else self.said

    @property
    def missed(self) -> str:
        """Say how many the cameras may have missed, and which share of visits has no name."""
        share, more = self.unidentified, self.with_unseen
        nameless = "" if share.value is None else f"{percent(share)} of visits have no name"
        if more.value is not None:
            guess = f"With bucks the cameras missed, maybe {interval(more)}: a weak guess."
            return f"{guess} {nameless}." if nameless else guess
        if not self.watch.nights_watched or self.watch.waiting:
            return ""
        if len(self.known) == 1:
            also = f"; {nameless}" if nameless else ""
            return f"Only one mature buck known here: no telling if there are others{also}."
        if self.known:
            but = f" But {nameless}." if share.value else ""
            return f"You may have them all: each came on several days.{but}"
        also = f": {nameless}" if nameless else ""
        return f"Can't tell how many bucks the cameras missed{also}."


def _bedded_said(bed: Figure, pictured: int, likeliest: float | None) -> str:
    """Say how many bedded there, and why that may be more than were pictured there."""
    if bed.value is None:
        return "Can't tell yet how many bed here."
    more = round(bed.value) - pictured
    slips = f": {more} more than your pictures show" if more > 0 else ""
    many = how_many(bed)
    if not bed.value:
        return f"Probably no mature buck bedded here{many.removeprefix('none')}."
    if likeliest is not None and likeliest < MAYBE:
        return f"{no_one(bed)}."
    if many.isdigit():
        return f"{many} bedded here at least once{slips}."
    told = many if many.startswith(("likely ", "maybe ")) else f"likely {many}"
    return f"{upper_first(told)}, bedded here at least once{slips}."


def how_many(bed: Figure) -> str:
    """Write how many: `2, maybe 3`, or `likely 2, anywhere from 1 to 3`; `maybe` if 0 fits."""
    value, low, high = bed.value or 0, bed.low or 0, bed.high or 0
    many = f"{value:.0f}" if value else "none"
    if low < value:
        return f"{'likely' if low else 'maybe'} {many}, anywhere from {low:.0f} to {high:.0f}"
    if high > value:
        return f"{many}, maybe {'' if high == value + 1 else 'as many as '}{high:.0f}"
    return many


def rivals(session: Session, scope: Scope, pairs: bool = True) -> Rivals:
    """Say how many mature bucks compete for the scope's one area.

    Args:
        scope: one area; `mature_age` says who is mature.
        pairs: also compare the most frequent ones pair by pair (by shifting days, the slow part).

    Raises:
        UsageError: not exactly one area.
    """
    q = asked(session, scope)
    if len(q.reach.spots) != 1:
        raise UsageError("this question is about one area", "name one")
    area, watching, bucks, visited = q.reach.spots[0], q.watching[0], q.bucks, q.visited
    mature = mature_of(session, scope, bucks)
    found = {b: where for (_, b, apart), where in visited.runs().items() if apart == SURE}
    there = [b for b in found if b in mature.bucks]
    there.sort(key=lambda b: found[b].start - found[b].stop)
    nights = [len(np.unique(visited.night[found[b]])) for b in there]
    tagged = None if len(watching.nights) else q.tagged()
    present = present_of(session, scope, bucks, mature) | set(there)
    known = known_of(session, scope, about=[area.id])
    ageless = ageless_of(bucks, mature, found)
    gone = sorted(bucks.names[b] for b in found if b in mature.ended)
    ids = [bucks.ids[b] for b in present]
    wanted = known.wanted(watching, scope)
    beds = beds_of(known, ids, area.id, wanted)
    return Rivals(
        area=area.name,
        area_id=area.id,
        known=tuple(_known(visited, bucks, b, found[b]) for b in there),
        minimum=len(there),
        estimate=estimate_of(beds, len(wanted)),
        with_unseen=_with_unseen(nights, len(watching.nights)),
        coverage=coverage(nights),
        unidentified=unidentified_of(q),
        pairs=_pairs(visited, bucks, there, found, watching) if pairs else (),
        watch=watching.summary(),
        method=METHOD,
        why=_why(scope, ageless, gone, len(there) or tagged, watching),
        tagged=tagged,
        ageless=ageless or None,
        ended=tuple(gone) or None,
        likeliest=_likeliest(beds, len(wanted)),
    )


def unidentified_of(q: Asked) -> Figure:
    """Say how many of the passes before single cameras nobody named.

    Merged over cameras, named passes are taken together with each other but not with the unnamed
    one between them, which made the share too high. Merged over the gap that parts visits, what
    nobody named at a corridor passed for a part of another buck's visit, which made it too low.
    """
    scope = replace(q.scope, gap_s=min(q.scope.gap_s, PASS_S))
    cameras = by_deployment(q.reach)
    watching = (q.watching[0],) * len(cameras.spots)
    passes = replace(q, scope=scope, reach=cameras, watching=watching).visited
    unnamed = int(unnamed_alone(passes, scope.gap_s).sum())
    total = unnamed + int((passes.apart == SURE).sum())
    return figure(wilson(unnamed, total), n=total)


def _known(visited: MergedVisits, bucks: Bucks, buck: int, where: slice) -> KnownRival:
    n = where.stop - where.start
    light = int(visited.shooting[where].sum())
    return KnownRival(
        buck=bucks.names[buck],
        buck_id=bucks.ids[buck],
        nights=len(np.unique(visited.night[where])),
        visits=n,
        shooting_light=figure(wilson(light, n), n=n),
        first_seen=visited.local_time(where.start),
        last_seen=visited.local_time(where.stop - 1),
    )


def present_of(session: Session, scope: Scope, bucks: Bucks, mature: Mature) -> set[int]:
    """Give the mature bucks that were seen anywhere in these days."""
    rows = run_sql(session.con, __file__, "present.sql", **scope.sql()).fetchall()
    return {bucks.number[buck] for (buck,) in rows if buck in bucks.number} & mature.bucks


def beds_of(
    known: Known, buck_ids: Sequence[str], area_id: str, wanted: Times
) -> list[tuple[DaysSeen, Ints]]:
    """Give of each buck what was seen of him at an area, and his days bedded there by draw."""
    return [(seen_at(known, b, area_id, wanted), known.days(b, area_id, wanted)) for b in buck_ids]


def estimate_of(beds: Sequence[tuple[DaysSeen, Ints]], covered: int) -> Figure:
    """Say how many of these bucks bedded in an area on a day covered at least.

    At least those of whom `bedding` says that they bed there. Where nobody watched, or none of
    them is known, there is no number.
    """
    many = len(beds)
    if not covered or not many:
        return Figure(None, None, None, n=many, method=USERS)
    found = spread_of(sum(days > 0 for _, days in beds), most=many)
    sure = sum(verdict_of(seen, days, covered) == CONFIRMED for seen, days in beds)
    value, low, high = (float(max(x or 0.0, sure)) for x in (found.value, found.low, found.high))
    return figure(Estimate(float(round(value)), low, high), n=many, method=USERS)


def _likeliest(beds: Sequence[tuple[DaysSeen, Ints]], covered: int) -> float | None:
    """Give the odds of the likeliest: whom no picture shows there at dawn, at dusk or by day has
    none, as in `bedding`."""
    if not covered or not beds:
        return None
    return max((float((days > 0).mean()) for seen, days in beds if seen.there), default=0.0)


def _with_unseen(nights: Sequence[int], watched: int) -> Figure:
    """Guess how many with those never seen: without a buck seen on one night only, just a floor."""
    found = chao2(nights, watched)
    if not watched or found.low == found.high:
        return Figure(None, found.low if watched else None, None, method="Chao2, weak")
    return figure(found, method="Chao2, weak")


def _pairs(
    visited: MergedVisits,
    bucks: Bucks,
    there: Sequence[int],
    found: Mapping[int, slice],
    watching: Watching,
) -> tuple[Pair, ...]:
    couples = list(combinations(there[:MOST_PAIRED], 2))
    nights = {b: np.intersect1d(visited.night[found[b]], watching.nights) for b in there}
    hours = {b: visited.utc[found[b]].astype("datetime64[s]").astype(float) / 3600 for b in there}
    pairs = []
    for a, b in couples:
        both = len(np.intersect1d(nights[a], nights[b]))
        by_chance, p = together(len(nights[a]), len(nights[b]), both, len(watching.nights))
        order = giving_way(hours[a], hours[b])
        pairs.append(
            Pair(
                first=bucks.names[a],
                second=bucks.names[b],
                nights_together=both,
                by_chance=figure(by_chance),
                p_together=p,
                hours_until_second=order.after_first,
                hours_until_first=order.after_second,
                p_order=order.p,
                verdict=_gives_way(order, bucks, a, b, len(couples)),
            )
        )
    return tuple(pairs)


def _gives_way(order: GivingWay, bucks: Bucks, a: int, b: int, tests: int) -> str:
    if order.p is None or order.p > LEVEL / tests:
        return CANNOT_TELL
    gives, other = (b, a) if order.second_gives_way else (a, b)
    return f"{bucks.names[gives]} gives way to {bucks.names[other]}"


def _why(
    scope: Scope,
    ageless: Sequence[str],
    gone: Sequence[str],
    some: int | str | None,
    watching: Watching,
) -> tuple[str, ...]:
    ifs = " on the nights that are sorted" if len(watching.unsorted) else ""
    return reasons(
        scope.asked(),
        watching.summary().why(),
        f"mature means {scope.mature_age:g} years or older in that season",
        ageless and f"of no known age and left out: {', '.join(ageless)}",
        gone and f"gone by then and not counted: {', '.join(gone)}",
        None if some or ageless else f"no mature buck was seen there{ifs}; {ABSENCE}",
    )
