"""When is this buck near this bedding area?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from math import floor
from typing import ClassVar

import numpy as np

from camsign.answers.bucks import is_gone
from camsign.answers.chances import (
    BackTest,
    PartChance,
    Span,
    back_test,
    best_in_words,
    best_spans,
    part_chances,
    parts_by_day,
)
from camsign.answers.days import SeasonPart, Split, daily, parts_of
from camsign.answers.detections import DAY, LIGHTS, SURE, MergedVisits, asked
from camsign.answers.odds import odds, one_in
from camsign.answers.reach import Reach, Watching
from camsign.answers.result import (
    ABSENCE,
    FEW_NIGHTS,
    SPARE,
    Answer,
    Figure,
    Watch,
    figure,
    listed,
    number,
    reasons,
    too_little,
)
from camsign.answers.scope import Scope
from camsign.arrays import Ints, Times
from camsign.errors import UsageError
from camsign.logbook.moments import aware
from camsign.logbook.session import Session
from camsign.stats.activity import activity_curve, anchored_hours
from camsign.stats.estimate import wilson
from camsign.stats.spells import UNWATCHED, about_chance
from camsign.units import counted, lower_first

FEW_VISITS = 8
METHOD = (
    "visits: detections no farther apart than the gap, merged over the cameras in reach; hours "
    "from that local day's sunrise and sunset at the place; shares by light: Wilson 1927; "
    "activity: a smooth curve around the sun-anchored clock (sunrise 6, sunset 18; Nouvellet et "
    "al. 2012), penalized by a second-order walk with its roughness weighed (seeded draws); "
    "chance of a picture in shooting light on a day: by part of the season, drawn toward the "
    "season's mean (beta-binomial hierarchy), days that hang together within a part counted less "
    "(Rao and Scott 1992), days from midnight to midnight (visits counts them noon to noon); best"
    " hours: the same for each hour of shooting light, drawn toward what its hours have in common;"
    " back-test: forecasts with what was known a week before, his average unless the part"
    " did better by then; 95%"
)


@dataclass(frozen=True, slots=True)
class Visit:
    """One visit, by its first detection; `until` is its last. `light`: the best that any of them
    had, day, gray or dark; `in_daylight`: it was day; `began_light`: that of the first, where it
    was less.

    `minutes_from_sunrise`, `minutes_from_sunset` are from that local day's, negative before it.
    `distance_m`: from the camera to the area's edge, 0 inside.
    """

    utc: datetime
    local: datetime
    until: datetime
    camera: str
    light: str
    in_daylight: bool
    minutes_from_sunrise: float | None
    minutes_from_sunset: float | None
    distance_m: float | None
    frames: int
    began_light: str | None = field(default=None, metadata=SPARE)

    @property
    def light_said(self) -> str:
        """Its light when it began, as its minutes are, and its best: `gray, then day`."""
        return f"{self.began_light}, then {self.light}" if self.began_light else self.light


@dataclass(frozen=True, slots=True)
class HourCount:
    """Visits that began within the hour from `hour` to `hour` + 1 of the anchor."""

    hour: int
    visits: int


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """Share of his activity per hour at a sun-anchored hour (sunrise 6, sunset 18)."""

    hour: float
    share: Figure


@dataclass(frozen=True, slots=True)
class When(Answer):
    """When a buck is near an area; the table holds the visits.

    `shooting_light_chance`: that a day has at least one visit in shooting light, over the season: a
    chance of a picture, since he may be there unseen. `by_part`: the same in each phase, with the
    days it rests on; `by_month` in each month. `days_since_last`: from his last visit
    to the last day watched. `weak_times`: visits at times that are not the camera's
    own. `activity` is empty with fewer than 8 visits. `ended`: the day he ended; later days don't
    count. `tagged`: what is tagged of him, in words,
    where it makes no chance yet.
    """

    TABLE: ClassVar[str] = "visits"
    ROW: ClassVar[type] = Visit
    REPEATED: ClassVar[tuple[str, ...]] = ("buck", "area")

    buck: str
    buck_id: str
    area: str
    area_id: str
    nights_watched: int
    by_hour_from_sunrise: tuple[HourCount, ...]
    by_hour_from_sunset: tuple[HourCount, ...]
    shooting_light: Figure
    day: int
    gray: int
    dark: int
    daylight: Figure
    last_seen: datetime | None
    days_since_last: int | None
    weak_times: int
    shooting_light_chance: Figure
    by_part: tuple[PartChance, ...]
    by_month: tuple[PartChance, ...]
    best_spans: tuple[Span, ...]
    activity: tuple[CurvePoint, ...]
    back_test: BackTest | None
    visits: tuple[Visit, ...]
    watch: Watch
    method: str
    why: tuple[str, ...]
    tagged: str | None = field(default=None, metadata=SPARE)
    ended: date | None = field(default=None, metadata=SPARE)

    @property
    def said(self) -> str:
        """Say in a sentence how likely a picture of him in shooting light is, and the best hour;
        first that he is gone, if he is."""
        if not self.ended:
            return self._said
        return f"{is_gone(self.buck, self.ended)}. Before that: {lower_first(self._said)}"

    @property
    def _said(self) -> str:
        chance, where = self.shooting_light_chance, f"{self.buck} at {self.area}"
        is_there = f"{self.buck} is at {self.area}"
        if chance.value is None and self.tagged:
            return f"Can't tell yet when {is_there}: {self.tagged}."
        if waiting := self.watch.waiting:
            far = f" So far: {counted(len(self.visits), 'visit')}." if self.visits else ""
            return f"Can't tell yet when {is_there}: {waiting}.{far}"
        if chance.value is None:
            return f"Can't tell yet when {is_there}: {too_little([self.watch])}"
        if not self.pictured:
            most = one_in(1.0 if chance.high is None else chance.high, "day")
            many = f"{counted(self.nights_watched, 'day')} covered"
            dark = f" (he came in the dark {counted(self.dark, 'time')})" if self.dark else ""
            waits, bound = self.watch.but_unsorted, f" At most {most}."
            none = f"No picture of {where} in shooting light in {many}{dark}{waits}."
            return none if self.watch.much_waits else f"{none}{bound}"
        one = odds(chance.value, chance.low, chance.high)
        get = "you got" if self.ended else "You'd get"
        said = f"{get} a picture of {where} in shooting light {one}."
        best = best_in_words(self.best_spans)
        return f"{said} Best: {best}." if best else said

    @property
    def pictured(self) -> bool:
        """Whether there is a picture of him in shooting light."""
        return self.day + self.gray > 0

    @property
    def ago(self) -> str:
        """How long ago his last visit was, by the days covered; empty where there is none."""
        since = self.days_since_last
        if since is None:
            return ""
        last = "the last day covered"
        return f"{counted(since, 'day')} before {last}" if since else last


def when(session: Session, scope: Scope, band: bool = True, test: bool = True) -> When:
    """Say when the scope's buck is near the scope's area.

    Args:
        scope: one buck and one area.
        band: also give the activity curve with its band, by resampling.
        test: also back-test the chances over the season.

    Raises:
        UsageError: the scope does not name exactly one buck and one area.
    """
    if len(scope.buck_ids or ()) != 1 or len(scope.area_ids or ()) != 1:
        raise UsageError("this question is about one buck and one area", "name one of each")
    q = asked(session, scope)
    visited, reach, bucks = q.visited, q.reach, q.bucks
    watching = q.watch_alive(0, 0)
    where = visited.runs().get((0, 0, SURE), slice(0, 0))
    seen = tuple(_visit(visited, i, reach) for i in range(where.start, where.stop))
    watch = watching.summary()
    dark, gray, day = np.bincount(visited.light[where], minlength=3).tolist()
    lit = visited.day[where][visited.shooting[where]]
    days = [] if watch.waiting else daily(watching, lit)
    split: Split = "phase" if session.settings.phases else "month"
    parts, of_day = _parts(session, watching, len(days), split)
    months, of_month = _parts(session, watching, len(days), "month")
    tagged, chance = (None if days else q.tagged()), Figure(None, 0.0, 1.0)
    if days:
        chance = figure(about_chance(days).estimate(), n=sum(n != UNWATCHED for n in days))
    return When(
        buck=bucks.names[0],
        buck_id=bucks.ids[0],
        area=reach.spots[0].name,
        area_id=reach.spots[0].id,
        nights_watched=watch.nights_watched,
        by_hour_from_sunrise=_by_hour([v.minutes_from_sunrise for v in seen]),
        by_hour_from_sunset=_by_hour([v.minutes_from_sunset for v in seen]),
        shooting_light=figure(wilson(day + gray, len(seen)), n=len(seen)),
        day=day,
        gray=gray,
        dark=dark,
        daylight=figure(wilson(day, len(seen)), n=len(seen)),
        last_seen=seen[-1].local if seen else None,
        days_since_last=_since(visited.day[where], watching),
        weak_times=int(visited.weak[where].sum()),
        shooting_light_chance=chance,
        by_part=tuple(part_chances(days, parts, of_day)) if days else (),
        by_month=tuple(part_chances(days, months, of_month)) if days else (),
        best_spans=_spans(session, visited, where, watching) if days else (),
        activity=_activity(visited, where) if band else (),
        back_test=back_test(days, of_day, len(parts)) if test and days else None,
        visits=seen,
        watch=watch,
        method=METHOD,
        why=_why(scope, watch, len(seen), tagged, lit[~np.isin(lit, watching.days)]),
        tagged=tagged,
        ended=q.ended.get(0),
    )


def _parts(
    session: Session, watching: Watching, count: int, split: Split
) -> tuple[list[SeasonPart], Ints]:
    """Give the phases, or months, and which of them each day is in."""
    if not count:
        return [], np.zeros(0, dtype=int)
    first, last = watching.days[[0, -1]].tolist()
    parts = parts_of(session.settings, first, last, split)
    return parts, parts_by_day(watching.days[0], count, parts)


def _since(days: Times, watching: Watching) -> int | None:
    if not len(days) or not len(watching.days):
        return None
    return max(int((watching.days[-1] - days[-1]).astype(int)), 0)


def _spans(
    session: Session, visited: MergedVisits, where: slice, watching: Watching
) -> tuple[Span, ...]:
    settings = session.settings
    light = settings.light_before_min, settings.light_after_min
    days = visited.day[where]
    rise, sets = visited.from_sunrise[where], visited.from_sunset[where]
    return tuple(best_spans(rise, sets, light, lambda chosen: daily(watching, days[chosen])))


def _activity(visited: MergedVisits, where: slice) -> tuple[CurvePoint, ...]:
    hours = anchored_hours(visited.from_sunrise[where], visited.from_sunset[where])
    hours = hours[np.isfinite(hours)]
    if len(hours) < FEW_VISITS:
        return ()
    curve = activity_curve(hours)
    points = np.stack([curve.hours, curve.share, curve.low, curve.high], axis=1).tolist()
    return tuple(CurvePoint(hour, Figure(*share)) for hour, *share in points)


def _visit(visited: MergedVisits, i: int, reach: Reach) -> Visit:
    local = visited.local_time(i)
    return Visit(
        utc=aware(visited.utc[i].item()),
        local=local,
        until=aware(visited.until[i].item()).astimezone(local.tzinfo),
        camera=reach.cameras[visited.at[i]],
        light=LIGHTS[int(visited.light[i])],
        in_daylight=bool(visited.light[i] == DAY),
        minutes_from_sunrise=number(visited.from_sunrise[i]),
        minutes_from_sunset=number(visited.from_sunset[i]),
        distance_m=number(visited.distance_m[i]),
        frames=int(visited.frames[i]),
        began_light=LIGHTS[int(began)] if (began := visited.began_light[i]) != visited.light[i]
        else None,
    )  # fmt: skip


def _by_hour(minutes: Sequence[float | None]) -> tuple[HourCount, ...]:
    """Count by whole hours, from the earliest to the latest with a visit, zeros between."""
    counts = Counter(floor(m / 60) for m in minutes if m is not None)
    if not counts:
        return ()
    return tuple(HourCount(h, counts[h]) for h in range(min(counts), max(counts) + 1))


def _why(scope: Scope, watch: Watch, n: int, tagged: str | None, off: Times) -> tuple[str, ...]:
    return reasons(
        scope.asked(),
        watch.why(),
        None if n or tagged else f"no picture of him there on those nights; {ABSENCE}",
        n and counted(n, "visit"),
        _not_counted(off),
        n < FEW_VISITS and f"fewer than {FEW_VISITS} visits: no chart of his hours",
        0 < watch.nights_watched < FEW_NIGHTS and "more days covered will firm this up",
    )


def _not_counted(off: Times) -> str | None:
    """Name the days of pictures in shooting light that no chance counts."""
    days = [day.isoformat() for day in np.unique(off).tolist()]
    if not days:
        return None
    more = [f"{len(days) - 3} more"] if len(days) > 4 else []
    named = listed([*days[:3], *more] if more else days)
    one = len(days) == 1
    part, they = ("that", "it doesn't") if one else ("each", "they don't")
    return (
        f"also pictured in shooting light on {named}, but part of {part} day isn't covered or "
        f"sorted, so {they} count in the odds"
    )
