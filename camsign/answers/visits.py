"""How often does a buck visit an area or a camera, and in which light?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import ClassVar

import numpy as np

from camsign.answers.days import SeasonPart, Split, daily, parts_of
from camsign.answers.detections import DOUBTFUL_TIME, SURE, UNIDENTIFIED, Asked, asked
from camsign.answers.reach import By
from camsign.answers.result import (
    ABSENCE,
    FEW_NIGHTS,
    SPARE,
    THIN,
    TOO_EARLY,
    Answer,
    Figure,
    Watch,
    cards_missing,
    figure,
    reasons,
    too_little,
)
from camsign.answers.scope import Scope
from camsign.answers.unsorted import but_unsorted_at, sort_first, unsorted_at, waiting_at
from camsign.formats.interval import CANNOT_TELL, interval
from camsign.logbook.session import Session
from camsign.stats.estimate import median_interval, poisson_rate, wilson
from camsign.stats.spells import UNWATCHED, Posterior, about_rate, ratio
from camsign.units import counted

SPELLS, POISSON = "about or elsewhere by day", "Poisson"
_MOST_NAMED = 4
_NOT_THERE = "no buck with a name was pictured there"
_NOT_TAGGED = "no buck with a name is tagged there yet"
METHOD = (
    "visits: detections of one buck no farther apart than the gap, merged over the cameras in "
    "reach; per_100_nights: long-run rate of a buck who is about for spells of days, by days "
    "watched (Markov-modulated Poisson, grid posterior, median); per_100_nights_poisson: visits "
    "over nights watched, exact interval (Garwood 1936), right only if nights do not hang "
    "together; trend: rate of the later half of the days watched over that of the earlier; "
    "shares in shooting light and by day: Wilson 1927; days between visits: median of spans from "
    "one visit's start to the next, interval from order statistics (David and Nagaraja 2003); 95%"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitRow:
    """One buck at one area or camera. Times are local with offset.

    `visits` counts all, `on_watch` those on nights watched, which alone make the Poisson rate;
    `seen_on_watch`: on how many nights watched he was seen, None if on all of `nights_seen`.
    `per_100_nights` is by whole days watched. `trend`: how many times the earlier half's rate the
    later half's is. `ratio`: the rate over his rate in the question set against this one. `day`,
    `gray`, `dark`: visits by the best light any of their detections had; `shooting_light`: the
    share of day and gray together, `daylight` that of day. `unidentified`: visits there by bucks
    without a sure name, `doubtful_time`: his at an uncertain time; neither is in `visits`.
    `weak_times`: those of `visits` that rest on times that are not the camera's own.
    """

    buck: str
    buck_id: str
    area: str | None = field(default=None, metadata=SPARE)
    area_id: str | None = field(default=None, metadata=SPARE)
    camera: str | None = field(default=None, metadata=SPARE)
    part: str | None = field(default=None, metadata=SPARE)
    visits: int
    nights_seen: int
    nights_watched: int
    on_watch: int
    per_100_nights: Figure
    per_100_nights_poisson: Figure
    trend: Figure
    day: int
    gray: int
    dark: int
    shooting_light: Figure
    ratio: Figure | None = field(default=None, metadata=SPARE)
    daylight: Figure
    days_between_median: Figure
    first_seen: datetime | None
    last_seen: datetime | None
    unidentified: int
    doubtful_time: int
    weak_times: int
    why: tuple[str, ...]
    seen_on_watch: int | None = field(default=None, metadata=SPARE)

    @property
    def trend_said(self) -> str:
        """Whether he came more or less in the second half, with how many times as often."""
        low, high = self.trend.low, self.trend.high
        if low is None or high is None or low <= 1 <= high:
            return CANNOT_TELL
        return f"{'more' if low > 1 else 'less'}: {interval(self.trend)} times as often"

    @property
    def days_said(self) -> str:
        """Say on how many days he was seen, of how many that were covered."""
        return days_seen(self.nights_seen, self.nights_watched, self.seen_on_watch)


@dataclass(frozen=True, slots=True)
class Visits(Answer):
    """One row a buck and spot, most visits first; `watch` by the spot's name.

    `tagged`: what is tagged of the bucks, in words, where it makes no rate yet.
    """

    ROW: ClassVar[type] = VisitRow

    rows: tuple[VisitRow, ...]
    watch: dict[str, Watch]
    method: str
    why: tuple[str, ...]
    tagged: str | None = field(default=None, metadata=SPARE)

    @property
    def said(self) -> str:
        """Say in a sentence who comes most, or that nobody can tell."""
        if self.tagged:
            return f"No rate yet: {self.tagged}."
        if not any(one.nights_watched for one in self.watch.values()):
            return f"Can't tell: {too_little(self.watch.values())}"
        best = max((r for r in self.rows if r.visits), key=lambda r: r.visits, default=None)
        if best is None:
            return self._nobody()
        here = self.watch.get(best.area or best.camera or "")
        if here is not None and here.waiting:
            return self._so_far()
        leaders = dict.fromkeys(r.buck for r in self.rows if r.visits == best.visits)
        if len(leaders) > 1:
            spot = "area" if best.area else "camera"
            many = counted(best.visits, "visit")
            to = f"{many} each to one {spot} by {', '.join(leaders)}"
            return f"Nobody stands out: {to}.{sort_first(self.watch)}"
        where = f"{best.area or best.camera}" + (f" in {best.part}" if best.part else "")
        days = best.days_said
        thin = " That is too few days to go by." if best.nights_watched < FEW_NIGHTS else ""
        alone = all(row.buck == best.buck for row in self.rows)
        often = "was" if len(self.rows) == 1 else "was most often"
        most = f"{best.buck} {often} at {where}" if alone else f"{best.buck} came most"
        to = "" if alone else f" to {where}"
        visits = counted(best.visits, "visit")
        return f"{most}: {visits}{to}, on {days}.{thin}{sort_first(self.watch)}"

    def _so_far(self) -> str:
        """Say what was counted, and why nobody can tell who comes most."""
        seen: dict[str, int] = {}
        for row in self.rows:
            seen[row.buck] = seen.get(row.buck, 0) + row.visits
        most = sorted(seen, key=lambda buck: -seen[buck])[:_MOST_NAMED]
        told = ", ".join(f"{buck} {counted(seen[buck], 'visit')}" for buck in most if seen[buck])
        what = "who comes most" if len(seen) > 1 else f"how often {most[0]} comes"
        return f"Can't tell yet {what}: {waiting_at(self.watch)}. So far: {told}."

    def _nobody(self) -> str:
        unsorted = but_unsorted_at(self.watch)
        if any(watch.waiting for watch in self.watch.values()):
            return f"Can't tell: {unsorted_at(self.watch)}. Sort them first."
        if len(self.rows) == 1:
            (row,) = self.rows
            days = counted(row.nights_watched, "day")
            spot = row.area or row.camera
            return (
                f"{row.buck} was never pictured at {spot} in {days} covered{unsorted}; {ABSENCE}."
            )
        return f"No visit by a buck with a name{unsorted}; {ABSENCE}."


def days_seen(seen: int, watched: int, among: int | None) -> str:
    """Say on how many days (noon to noon) he was pictured; `among`: on how many of them that were
    covered, None for all."""
    if among is None:
        return f"{seen} of {counted(watched, 'day')} covered"
    of = f"of the {watched}" if watched else "of them"
    return f"{counted(seen, 'day')} ({among or 'none'} {of} fully covered)"


@dataclass(frozen=True, slots=True)
class _Bag:
    """One buck at one spot: where his visits stand, and how many are counted apart."""

    spot: int
    buck: int
    where: slice
    unidentified: int
    doubtful: int


def visits(
    session: Session,
    scope: Scope,
    by: By = "area",
    split: Split | None = None,
    against: Scope | None = None,
) -> Visits:
    """Say how often each buck of the scope visited each area, or camera (`by`).

    A buck who was asked for by name has a row at every spot with a camera, without visits too;
    others only where they were seen.

    Args:
        scope: whose visits, where, when.
        by: merged over the cameras of an area, or for each camera.
        split: a row for each month, or for each phase that logbook.toml names.
        against: another question, of the same spots in other days or of one other spot; each row
            then has the `ratio` of its rate to the same buck's there.
    """
    q = asked(session, scope, by)
    others = _rates(asked(session, against, by)) if against else {}
    itself: tuple[str, ...] = ()
    if against and against != scope == replace(against, area_ids=scope.area_ids):
        itself = against.area_ids or ()  # set against other areas, a row of its own has no ratio
    parts = parts_of(session.settings, *_span(q), split) if split else [None]
    rows = []
    for bag in _bags(q):
        for part in parts:
            row = _row(q, bag, part)
            if against:
                own = q.reach.spots[bag.spot].id in itself
                row = replace(row, ratio=_ratio(q, bag, part, {} if own else others))
            rows.append(row)
    watch = q.watch()
    told = any(row.visits for row in rows) and any(w.nights_watched for w in watch.values())
    tagged = None if told else q.tagged()
    none = not rows and not tagged
    return Visits(tuple(rows), watch, METHOD, _why(scope, none, watch), tagged)


def _bags(q: Asked) -> list[_Bag]:
    """Give every buck and spot that has a row, most visits first."""
    found = q.visited.runs()
    wanted = [(s, b) for s, b, apart in found if apart == SURE]
    if q.scope.buck_ids is not None:
        spots = [i for i, one in enumerate(q.watching) if one.cameras]
        bucks = range(len(q.bucks.ids))
        wanted += [(s, b) for s in spots for b in bucks if (s, b, SURE) not in found]

    def many(spot: int, buck: int, apart: int) -> int:
        where = found.get((spot, buck, apart))
        return int(where.stop - where.start) if where else 0

    bags = [
        _Bag(
            s,
            b,
            found.get((s, b, SURE), slice(0, 0)),
            many(s, -1, UNIDENTIFIED) + many(s, b, UNIDENTIFIED),
            many(s, b, DOUBTFUL_TIME),
        )
        for s, b in wanted
    ]
    return sorted(bags, key=lambda bag: bag.where.start - bag.where.stop)


def _row(q: Asked, bag: _Bag, part: SeasonPart | None) -> VisitRow:
    spot, visited, watching = q.reach.spots[bag.spot], q.visited, q.watch_alive(bag.spot, bag.buck)
    at = np.arange(bag.where.start, bag.where.stop)
    if part is not None:
        watching = watching.within(part.first, part.last)
        at = at[(visited.day[at] >= np.datetime64(part.first))
                & (visited.day[at] <= np.datetime64(part.last))]  # fmt: skip
    n, nights, on_watch = len(at), len(watching.nights), int(visited.on_watch[at].sum())
    days = daily(watching, visited.day[at])
    rate, watch = Figure(None, 0.0, None, method=SPELLS), watching.summary()
    told = nights > 0 and not watch.waiting
    if told and any(n != UNWATCHED for n in days):
        rate = figure(about_rate(days).estimate(per=100), method=SPELLS)
    between = np.diff(visited.utc[at]) / np.timedelta64(86_400, "s")
    dark, gray, day = np.bincount(visited.light[at], minlength=3).tolist()
    return VisitRow(
        buck=q.bucks.names[bag.buck],
        buck_id=q.bucks.ids[bag.buck],
        area=spot.name if q.by == "area" else None,
        area_id=spot.id if q.by == "area" else None,
        camera=spot.name if q.by == "camera" else None,
        part=part.name if part else None,
        visits=n,
        nights_seen=len(np.unique(visited.night[at])),
        nights_watched=nights,
        on_watch=on_watch,
        per_100_nights=rate,
        per_100_nights_poisson=figure(
            poisson_rate(on_watch, nights if told else 0, per=100), method=POISSON
        ),
        trend=_trend(days if told else []),
        day=day,
        gray=gray,
        dark=dark,
        shooting_light=figure(wilson(day + gray, n), n=n),
        daylight=figure(wilson(day, n), n=n),
        days_between_median=figure(median_interval(between), n=len(between)),
        first_seen=visited.local_time(at[0]) if n else None,
        last_seen=visited.local_time(at[-1]) if n else None,
        unidentified=bag.unidentified,
        doubtful_time=bag.doubtful,
        weak_times=int(visited.weak[at].sum()),
        why=_row_why(bag, n, n - on_watch, rate.high, watch, q.ended.get(bag.buck)),
        seen_on_watch=None
        if n == on_watch
        else len(np.unique(visited.night[at][visited.on_watch[at]])),
    )


def _trend(days: Sequence[int]) -> Figure:
    """Rate of the later half of the days watched over the earlier; none without two visits."""
    watched = [i for i, n in enumerate(days) if n != UNWATCHED]
    if sum(n for n in days if n > 0) < 2:
        return Figure(None, None, None, n=len(watched))
    middle = watched[len(watched) // 2]
    later, earlier = about_rate(days[middle:]), about_rate(days[:middle])
    return figure(ratio(later, earlier), n=len(watched))


def _rates(q: Asked) -> dict[tuple[str | None, str | None], Posterior]:
    """The other question's rates by spot (None if it has one only) and buck (None: not seen)."""
    one = len(q.reach.spots) == 1
    found: dict[tuple[str | None, str | None], Posterior] = {}
    for spot, watching in zip(q.reach.spots, q.watching, strict=True):
        if len(watching.days):
            found[None if one else spot.id, None] = about_rate(daily(watching, q.visited.day[:0]))
    for bag in _bags(q):
        days = daily(q.watch_alive(bag.spot, bag.buck), q.visited.day[bag.where])
        if days:
            spot_id = None if one else q.reach.spots[bag.spot].id
            found[spot_id, q.bucks.ids[bag.buck]] = about_rate(days)
    return found


def _ratio(
    q: Asked,
    bag: _Bag,
    part: SeasonPart | None,
    others: dict[tuple[str | None, str | None], Posterior],
) -> Figure:
    buck, spot = q.bucks.ids[bag.buck], q.reach.spots[bag.spot].id
    keys = ((None, buck), (spot, buck), (None, None), (spot, None))
    other = next((others[key] for key in keys if key in others), None)
    days = daily(q.watch_alive(bag.spot, bag.buck), q.visited.day[bag.where], part)
    if other is None or not days:
        return Figure(None, None, None)
    return figure(ratio(about_rate(days), other), method=SPELLS)


def _span(q: Asked) -> tuple[date, date]:
    """Give the days that a split has to cover: those of the scope that were watched or seen."""
    ends = [w.nights[[0, -1]].tolist() for w in q.watching if len(w.nights)]
    days = [day for pair in ends for day in pair] + q.visited.day.tolist()
    return (min(days), max(days)) if days else (q.scope.first, q.scope.first)


def _row_why(
    bag: _Bag, n: int, off: int, high: float | None, watch: Watch, ended: date | None
) -> tuple[str, ...]:
    upper = "" if high is None else f", so any rate up to {high:.1f} per 100 days fits"
    apart, without = "not counted here", counted(bag.unidentified, "visit")
    aside = counted(watch.nights_set_aside, "night")
    return reasons(
        watch.why(),
        None
        if ended is None
        else f"he ended {ended}: nights after that don't count for him"
        if ended > date.min
        else "he is gone, nobody knows since when: no night counts for him",
        None if n else f"no visit seen{upper}; {ABSENCE}",
        off
        and f"{counted(off, 'visit')} on days not covered in full, or not sorted: left out of "
        "the rate",
        bag.unidentified and f"{without} by bucks without a sure name, {apart}",
        bag.doubtful and f"{counted(bag.doubtful, 'visit')} at a doubtful time, {apart}",
        TOO_EARLY if watch.nights_unsorted and high is not None else None,
        watch.nights_set_aside
        and f"on {aside} pictures set aside as likely empty count as looked at",
    )


def _why(scope: Scope, none: bool, watch: dict[str, Watch]) -> tuple[str, ...]:
    thin = [name for name, one in watch.items() if one.nights_watched < FEW_NIGHTS]
    named = ", ".join(thin[:5]) + (f" and {len(thin) - 5} more" if len(thin) > 5 else "")
    waits = any(one.nights_unsorted for one in watch.values())
    return reasons(
        scope.asked(),
        thin and f"{THIN} at {named}: fewer than {FEW_NIGHTS} nights",
        cards_missing(watch),
        bool(watch) and none and f"{_NOT_TAGGED if waits else _NOT_THERE}; {ABSENCE}",
        thin and "more days covered there will firm this up",
    )
