"""Where is this buck today, with what odds, and what was last known of him?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import ClassVar

from camsign.answers.bedding import LATELY_DAYS, bedded_lately
from camsign.answers.beds_known import Known, buck_at, known_of
from camsign.answers.bucks import Bucks, bucks_of, ended_days, is_gone
from camsign.answers.odds import about
from camsign.answers.reach import Watching, reach_of, watch_of, watching_of
from camsign.answers.result import (
    ABSENCE,
    Answer,
    Figure,
    Watch,
    listed,
    local_of,
    reasons,
    too_little,
)
from camsign.answers.scope import LATEST, Scope, season_days
from camsign.answers.unsorted import but_unsorted_at, waiting_at
from camsign.arrays import Floats
from camsign.errors import UsageError
from camsign.logbook.database import run_sql
from camsign.logbook.moments import latest_season, season_of, today
from camsign.logbook.session import Session
from camsign.stats.estimate import central
from camsign.units import counted

ELSEWHERE = "none of your areas"
FEW = 0.01
# Chances under this are not worth naming in the sentence; intervals wider than this say nothing.
SLIGHT, ANYTHING = 0.05, 0.6
# Chances this near to the first are no worse than it; our choice.
EVEN = 0.05
UNCOVERED, UNSORTED = "no camera covered it", "pictures not sorted"
NOT_BEDDED, ALL_SEASON = "not seen bedding there", "of his whole season"
METHOD = (
    "the model of where each buck beds (docs/answers/model.md): odds of the day from what was seen "
    "before and after it (forward-backward). After the last day covered they fade toward where he "
    "usually beds, and the interval is over the model's equally likely runs"
)


@dataclass(frozen=True, slots=True)
class Place:
    """An area, or none of them (`area_id` None), and the chance that he beds there on the day.

    `lately`: his share of the last three weeks there; None of none of the areas, and of a day with
    pictures behind it. Its `method` says why there is none, or that it is of the season, for want
    of a later picture there.
    """

    area: str
    area_id: str | None
    chance: Figure
    lately: Figure | None = None


@dataclass(frozen=True, slots=True)
class Where(Answer):
    """The answer: places, the likeliest first. `known_to`: the last day covered by any camera.

    `said`: one sentence; `last_seen`, `last_camera`: his last sure picture up to the day.
    """

    TABLE: ClassVar[str] = "places"
    ROW: ClassVar[type] = Place
    REPEATED: ClassVar[tuple[str, ...]] = ("buck", "day")

    buck: str
    buck_id: str
    day: date
    known_to: date | None
    places: tuple[Place, ...]
    said: str
    last_seen: datetime | None
    last_camera: str | None
    watch: Watch
    method: str
    why: tuple[str, ...]

    @property
    def bedded(self) -> str:
        """What is said without his last picture, for a page that names it already."""
        return self.said.removesuffix(_rests_on(self.last_seen, self.last_camera, self.day))


def where(session: Session, scope: Scope, day: date | None = None) -> Where:
    """Say where the scope's one buck beds on a local day, by default the last one covered.

    Raises:
        UsageError: not exactly one buck.
    """
    bucks = bucks_of(session, scope)
    if len(bucks.ids) != 1:
        raise UsageError("this question is about one buck", "name one")
    season = _season_of(session, scope, day)
    known = known_of(session, season)
    read, found = known.seasons[-1] if known.seasons else (None, None)
    number = buck_at(read, bucks.ids[0]) if read else None
    last = read.first + timedelta(days=read.evidence.days - 1) if read else None
    on = day or last or scope.last
    ended = next(iter(ended_days(session, bucks).values()), None)
    gone = ended is not None and ended <= on
    places: tuple[Place, ...] = ()
    if number is not None and read and found and last and not gone:
        if on <= last:
            row = found.chance[number, max((on - read.first).days, 0)]
            places = _places(known, row, row, row)
        else:
            draws = found.ahead_draws((on - last).days)[:, number]
            places = _places(known, *central(draws))
    if last and on >= last:
        places = _with_lately(session, scope, places, bucks, on, known)
    pictured = run_sql(
        session.con, __file__, "where.sql", tagged=list(bucks.number), last=on
    ).fetchone()
    seen, camera = (local_of(*pictured[:2]), pictured[2]) if pictured else (None, None)
    past = on < today(session.settings.tz)
    cant = None
    if places and not (seen and seen.date() == on):
        cant = _sort_first(session, season, bucks.names[0], on)
        places = () if cant else places
    return Where(
        buck=bucks.names[0],
        buck_id=bucks.ids[0],
        day=on,
        known_to=last,
        places=places,
        said=cant or _untold(session, season, bucks.names[0])
        if not places and not gone
        else _said(bucks.names[0], on, places, ended if gone else None, past)
        + (_rests_on(seen, camera, on) if places else ""),
        last_seen=seen,
        last_camera=camera,
        watch=_watch(known),
        method=METHOD,
        why=_why(on, last, places, _covered(session, scope, known, places, on)),
    )


def _season_of(session: Session, scope: Scope, day: date | None) -> Scope:
    """Give the days of the hunting year of the day, or of the latest one."""
    start = session.settings.season_start
    year = season_of(day, start) if day else latest_season(session)
    if year is None:
        return scope
    first, last = season_days(year, start)
    return replace(scope, first=first, last=min(last, LATEST), season=year, buck_ids=None)


def _places(known: Known, value: Floats, low: Floats, high: Floats) -> tuple[Place, ...]:
    spots = [(s.name, s.id) for s in known.seasons[-1][0].areas] + [(ELSEWHERE, None)]
    exact = value is low
    found = [
        Place(
            name,
            area,
            Figure(float(v), None if exact else float(a), None if exact else float(b)),
        )
        for (name, area), v, a, b in zip(spots, value, low, high, strict=True)
        if v >= FEW
    ]
    return tuple(sorted(found, key=lambda place: -(place.chance.value or 0.0)))


def _with_lately(
    session: Session, scope: Scope, places: tuple[Place, ...], bucks: Bucks, on: date, known: Known
) -> tuple[Place, ...]:
    """Set beside each area's chance his share of the last three weeks there."""
    start = session.settings.season_start
    first, _ = season_days(season_of(on, start), start)
    found = []
    for place in places:
        share = None
        if place.area_id is not None:
            here = replace(scope, first=first, last=on, season=None, area_ids=(place.area_id,))
            watching, season, lately = bedded_lately(session, here, bucks, known)
            mine = next((row for row in lately if row.buck_id == bucks.ids[0]), None)
            if mine is not None:
                whole = any(mine is row for row in season)
                share = replace(mine.share, method=ALL_SEASON if whole else None)
            else:  # not seen there: that is not known to be never
                share = Figure(0.0, 0.0, None, method=_unseen(watching, on))
        found.append(replace(place, lately=share))
    return tuple(found)


def _unseen(watching: Watching, on: date) -> str:
    """Say of a place where he was not seen bedding whether anybody looked, lately if so."""
    lately = watching.within(on - timedelta(days=LATELY_DAYS - 1), on)
    for one in (lately, watching):
        if one.summary().waiting:
            return UNSORTED
        if len(one.nights) or len(one.days):
            return NOT_BEDDED
    return UNCOVERED


def _sort_first(session: Session, scope: Scope, buck: str, on: date) -> str | None:
    """Say that nobody can tell where most nights of the last weeks wait to be sorted."""
    first = on - timedelta(days=LATELY_DAYS - 1)
    watch = watch_of(session, replace(scope, first=first, last=on, season=None))
    waits = waiting_at(watch, "in the last three weeks")
    cant = f"Can't tell where {buck} bedded on {on}"
    return waits and f"{cant}: {waits}."


def _covered(
    session: Session, scope: Scope, known: Known, places: tuple[Place, ...], day: date
) -> dict[str | None, list[str]]:
    """Name the areas of which cameras tell something that day (None), and the others with their
    odds by why not; the likeliest first.
    """
    if not places:
        return {}
    odds = {p.area_id: f" ({odds_short(p.chance.value or 0.0)})" for p in places}
    names = {area.id: area.name for area in known.seasons[-1][0].areas}
    on = replace(scope, first=day, last=day, season=None, area_ids=tuple(names))
    reach = reach_of(session, on)
    watches = zip(reach.spots, watching_of(session, on, reach), strict=True)
    one_of = {spot.id: one for spot, one in watches}
    found: dict[str | None, list[str]] = {}
    for area in dict.fromkeys([*(p.area_id for p in places if p.area_id in names), *names]):
        one = one_of.get(area or "")
        lit = one is not None and (len(one.nights) or len(one.days))
        why = None if lit else UNSORTED if one is not None and len(one.unsorted) else UNCOVERED
        found.setdefault(why, []).append(names[area] + ("" if lit else odds.get(area, "")))
    return found


def _said(buck: str, day: date, places: tuple[Place, ...], ended: date | None, past: bool) -> str:
    if ended is not None:
        return f"{is_gone(buck, ended)}."
    first, chance = places[0], places[0].chance
    odds, beds = odds_in_words(chance.value or 0.0), "bedded" if past else "beds"
    if chance.low is not None and chance.high is not None and chance.high - chance.low > ANYTHING:
        spread = f"could be anywhere from {100 * chance.low:.0f} to {chance.high:.0%}"
        return (
            f"Can't say where {buck} {beds} on {day}. Best guess: {_at(first)}, {odds}; {spread}."
        )
    even = [p for p in places if (chance.value or 0.0) - (p.chance.value or 0.0) < EVEN]
    behind = max(len(even), 1)
    more = [
        f"{_at(p)}, {odds_in_words(p.chance.value or 0.0)}"
        for p in places[behind : max(behind, 3)]
        if _told(p)
    ]
    rest = f". Else {', or '.join(more)}" if more else ""
    if len(even) > 1 and _told(first):
        either = " or ".join(f"{_at(p)} ({p.chance.value or 0.0:.0%})" for p in even)
        return f"Where {buck} {beds} on {day} is a toss-up: {either}{rest}."
    return f"On {day} {buck} most likely {beds} {_at(first)}: {odds}{rest}."


def _untold(session: Session, scope: Scope, buck: str) -> str:
    """Say why nothing is known of him that season: no watch, nothing sorted, or no picture."""
    watch, cant = watch_of(session, scope), f"Can't tell where {buck} beds"
    if not any(one.nights_watched for one in watch.values()):
        return f"{cant}: {too_little(watch.values())}"
    if waits := waiting_at(watch):
        return f"{cant}: {waits}."
    days = "that season on a day that cameras covered"
    return f"{cant}: no picture of him {days}{but_unsorted_at(watch)}."


def _at(place: Place) -> str:
    return "outside your areas" if place.area_id is None else f"at {place.area}"


def _told(place: Place) -> bool:
    return (place.chance.value or 0.0) >= SLIGHT


def odds_in_words(chance: float) -> str:
    """Write odds as people say them, with the percent behind."""
    if chance > 0.99:
        return odds_short(chance)
    if chance > 0.97:
        return "nearly sure"
    return f"{about(chance)} ({chance:.0%})"


def odds_short(chance: float) -> str:
    """Write a chance that is never quite all."""
    return "over 99%" if chance > 0.99 else f"{chance:.0%}"


def _rests_on(seen: datetime | None, camera: str | None, day: date) -> str:
    """Name the picture of that day that it rests on, else his last one and how old it is."""
    if seen is None:
        return ""
    days = (day - seen.date()).days
    if days <= 0:
        return f" That rests on his picture of that day: {camera}, {seen:%Y-%m-%d %H:%M}."
    ago = "the day before" if days == 1 else f"{days} days before"
    return f" Last picture {ago}: {camera}, {seen:%Y-%m-%d %H:%M}."


def _watch(known: Known) -> Watch:
    if not known.seasons:
        return Watch((), 0, 0, None, None)
    read, _ = known.seasons[-1]
    days = int((read.evidence.watch >= 0).any(axis=1).sum())
    last = read.first + timedelta(days=read.evidence.days - 1)
    return Watch(tuple(sorted(set(read.reach.cameras))), days, days, read.first, last)


def _why(
    day: date,
    last: date | None,
    places: tuple[Place, ...],
    covered: dict[str | None, list[str]],
) -> tuple[str, ...]:
    ahead = (day - last).days if last else 0
    return reasons(
        f"{counted(ahead, 'day')} after the last one that cameras covered: the odds fall back to "
        "where he likes to be, and may be far off"
        if ahead > 0
        else None,
        *(_day_told(covered) if ahead <= 0 else ()),
        _beside(places),
        None if places else ABSENCE,
    )


def _day_told(covered: dict[str | None, list[str]]) -> Iterator[str]:
    """Say which areas cameras covered on the day, and of which the odds are a guess."""
    if lit := covered.get(None):
        yield (
            f"cameras covered {listed(lit)} that day: the odds there rest on what they caught and "
            "what they didn't"
        )
    guess = "that day: a guess from other days and places"
    if dark := covered.get(UNCOVERED):
        yield f"no camera covered {listed(dark)} {guess}"
    if waits := covered.get(UNSORTED):
        yield f"pictures of that day at {listed(waits)} aren't all sorted, so the day isn't counted"


def _beside(places: tuple[Place, ...]) -> str | None:
    """Say that a stand is picked by these odds, and why they aren't how often he bedded there."""
    if not any(p.lately for p in places):
        return None
    same = "Tonight (camsign tonight) goes by the same odds"
    often = _habit(places)
    if often == "lately":  # nowhere worth telling
        return same
    return f"{same}: his latest days count more than how often he bedded there {often}"


def _habit(places: tuple[Place, ...]) -> str:
    """Say how often he bedded at each area: lately, or over his whole season."""
    told = [(p.area, p.lately) for p in places if p.lately and (p.lately.value or 0.0) >= SLIGHT]

    def each(whole: bool) -> str:
        mine = [(area, one) for area, one in told if (one.method == ALL_SEASON) is whole]
        return ", ".join(f"{area} {about(one.value or 0.0, 'day')}" for area, one in mine)

    lately, season = each(False), each(True)
    none = "no picture there in the last three weeks"
    if lately and season:
        return f"lately ({lately}; {none}, so over his whole season: {season})"
    if season:
        return f"over his whole season, because he had {none} ({season})"
    return f"lately ({lately})" if lately else "lately"
