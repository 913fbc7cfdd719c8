"""Where is this buck today, with what odds, and what was last known of him?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import ClassVar

import numpy as np

from camsign.answers.beds_known import Known, buck_at, known_of
from camsign.answers.buck_ends import ended_days
from camsign.answers.detections import Bucks, bucks_of
from camsign.answers.reach import sql_text
from camsign.answers.result import ABSENCE, Answer, Figure, Watch, about, local_of, reasons
from camsign.answers.scope import LATEST, Scope, season_days
from camsign.arrays import Floats
from camsign.errors import UsageError
from camsign.logbook.moments import latest_season, season_of
from camsign.logbook.session import Session
from camsign.units import counted

ELSEWHERE = "none of your areas"
FEW = 0.01
METHOD = (
    "the model of where each buck beds (docs/answers/model.md): forward-backward odds of the day, "
    "and behind the last day covered what his habit of keeping a bed, and his likings, leave of "
    "them; the interval is over the model's equally likely courses, where the day lies ahead"
)


@dataclass(frozen=True, slots=True)
class Place:
    """An area, or none of them (`area_id` None), and the chance that he beds there on the day."""

    area: str
    area_id: str | None
    chance: Figure


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


def where(session: Session, scope: Scope, day: date | None = None) -> Where:
    """Say where the scope's one buck beds on a local day, by default the last one covered.

    Raises:
        UsageError: not exactly one buck.
    """
    bucks = bucks_of(session, scope)
    if len(bucks.ids) != 1:
        raise UsageError("this question is about one buck", "name one")
    known = known_of(session, _season_of(session, scope, day))
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
            places = _places(known, *_spread(draws))
    seen, camera = _last_seen(session, bucks, on)
    return Where(
        buck=bucks.names[0],
        buck_id=bucks.ids[0],
        day=on,
        known_to=last,
        places=places,
        said=_said(bucks.names[0], on, places, ended if gone else None)
        + (_rests_on(seen, camera, on) if places else ""),
        last_seen=seen,
        last_camera=camera,
        watch=_watch(known),
        method=METHOD,
        why=_why(on, last, bool(places)),
    )


def _season_of(session: Session, scope: Scope, day: date | None) -> Scope:
    """Give the days of the hunting year of the day, or of the latest one."""
    start = session.settings.season_start
    year = season_of(day, start) if day else latest_season(session)
    if year is None:
        return scope
    first, last = season_days(year, start)
    return replace(scope, first=first, last=min(last, LATEST), season=year, buck_ids=None)


def _spread(draws: Floats) -> tuple[Floats, Floats, Floats]:
    low, high = np.quantile(draws, [0.025, 0.975], axis=0)
    return draws.mean(axis=0), low, high


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


def _said(buck: str, day: date, places: tuple[Place, ...], ended: date | None) -> str:
    if ended is not None:
        return f"{buck} is gone: he ended {ended}."
    if not places:
        return f"Can't tell: {buck} was not pictured that season on a day that cameras covered."
    first = places[0]
    odds = odds_in_words(first.chance.value or 0.0)
    place = "bedded outside your areas" if first.area_id is None else f"in {first.area}"
    more = [f"{p.area} {odds_in_words(p.chance.value or 0.0)}" for p in places[1:3]]
    rest = f"; then {', '.join(more)}" if more else ""
    return f"{buck} is most likely {place} on {day}: {odds}{rest}."


def odds_in_words(chance: float) -> str:
    """Write odds as people say them, with the percent behind."""
    if chance > 0.99:
        return "over 99%"
    if chance > 0.97:
        return "nearly sure"
    return f"{about(chance)} ({chance:.0%})"


def _rests_on(seen: datetime | None, camera: str | None, day: date) -> str:
    """Name the picture of that day that it rests on; else say for how long he has had none."""
    if seen is None:
        return ""
    days = (day - seen.date()).days
    if days <= 0:
        return f" That rests on his picture of that day: {camera}, {seen:%Y-%m-%d %H:%M}."
    since = "since the day before" if days == 1 else f"for {days} days"
    return f" No picture of him {since}."


def _last_seen(session: Session, bucks: Bucks, day: date) -> tuple[datetime | None, str | None]:
    given = {"tagged": list(bucks.number), "last": day}
    row = session.con.execute(sql_text("where.sql"), given).fetchone()
    return (local_of(row[0], row[1]), row[2]) if row else (None, None)


def _watch(known: Known) -> Watch:
    if not known.seasons:
        return Watch((), 0, 0, None, None)
    read, _ = known.seasons[-1]
    days = int((read.evidence.watch >= 0).any(axis=1).sum())
    last = read.first + timedelta(days=read.evidence.days - 1)
    return Watch(tuple(sorted(set(read.reach.cameras))), days, days, read.first, last)


def _why(day: date, last: date | None, told: bool) -> tuple[str, ...]:
    ahead = (day - last).days if last else 0
    return reasons(
        None if last else "no camera covered a day of that season",
        f"{counted(ahead, 'day')} after the last one covered: the odds fall back to where he "
        "likes to be"
        if ahead > 0
        else None,
        "`camsign tonight` goes by his last three weeks, not by this day: its odds won't match"
        if told
        else None,
        None if told else ABSENCE,
    )
