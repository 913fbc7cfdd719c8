"""Where do I sit? Stands ranked by the chance of a mature buck in range in shooting light, with the
scent, the way in, and when to be there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import ClassVar

import numpy as np

from camsign.answers.result import SPARE, Answer, Watch, listed, reasons
from camsign.errors import UsageError
from camsign.logbook.session import Session
from camsign.sits.habits import Habits, habits_of
from camsign.sits.intrusions import Intrusion, intrusions_of, last_disturbed
from camsign.sits.plane import Plane, plane_of
from camsign.sits.planning import Day, day_of, span_of
from camsign.sits.rows import Judged, StandRow, judged, old_pictures
from camsign.sits.scenes import Scene, Setting, scene_of, setting_of
from camsign.sits.stands import stands_of
from camsign.sits.terrain import Terrain, terrain_of
from camsign.sits.verdict import (
    RISK,
    clean_words,
    close_told,
    close_words,
    headline,
    rivals_of,
    who_of,
    wind_of,
)
from camsign.sits.weather import Sky
from camsign.units import UnitSystem

# Two stands are told apart when one is better in this share of draws.
APART = 0.9
METHOD = (
    "600 evenings played for each stand and way: he leaves the bed at his usual hours, walks his "
    "way give or take 18 degrees, and you see him if he comes within shooting distance in shooting "
    "light before your scent reaches him. Scent spreads by Turner's stability classes (1964) and "
    "NRC Guide 1.23; the wind may be off by 25 degrees. The chance that he beds there today and "
    "the shares of his ways are drawn from what the pictures leave open; the interval is 95% of "
    "those draws. Then the chance is moved to how often such chances came true on made-up seasons "
    "(Cox's recalibration, 1958; its doubt is in the interval)"
)
CAUTIONS = (
    "wear a full-body harness on a lifeline from the ground up, and tell someone where you sit",
    "shooting light is figured by your settings, not the law: check this year's rules",
)


@dataclass(frozen=True, slots=True)
class Tonight(Answer):
    """The answer: `said`; stands, best first; `stay_out` if none is worth it. `headline`: the first
    sentence of `said`; `rivals`: its last, of stands as good.
    """

    TABLE: ClassVar[str] = "stands"
    ROW: ClassVar[type] = StandRow
    REPEATED: ClassVar[tuple[str, ...]] = ("day", "part")

    day: date
    part: str
    sunrise: datetime
    sunset: datetime
    said: str
    stay_out: bool
    stands: tuple[StandRow, ...]
    cautions: tuple[str, ...]
    watch: Watch
    method: str
    why: tuple[str, ...]
    headline: str = field(default="", metadata=SPARE)
    rivals: str = field(default="", metadata=SPARE)


def tonight(
    session: Session,
    day: date,
    sky: Sky,
    morning: bool = False,
    bucks: Sequence[str] | None = None,
    shot_m: float | None = None,
) -> Tonight:
    """Rank the stands for a local day's evening, or morning, in the wind of its hours.

    `bucks`: names or ids, None for all mature ones. `shot_m`: how far one shoots [m], None for what
    was said of each stand.

    Raises:
        UsageError: no home, no stand, no bedding area, no sun that day, or no wind for its hours.
    """
    known = known_of(session, day, morning, bucks, shot_m)
    return answer_of(known, scenes_of(known, sky))


@dataclass(frozen=True, slots=True)
class Known:
    """All that an answer for a day rests on but the wind; made once, asked for many winds.
    `named`: the bucks were asked for by name.
    """

    sun: Day
    morning: bool
    habits: Habits
    terrain: Terrain | None
    plane: Plane
    settings: tuple[Setting, ...]
    intrusions: tuple[Intrusion, ...]
    named: bool = False
    units: UnitSystem = "imperial"


def known_of(
    session: Session,
    day: date,
    morning: bool = False,
    bucks: Sequence[str] | None = None,
    shot_m: float | None = None,
    ground: bool = True,
) -> Known:
    """Gather what is known for a local day; arguments and errors as `tonight`, wind apart.

    `ground`: with slope winds and shade; who comes past does not hang on them.
    """
    terrain = terrain_of(session.folder) if ground else None
    plane = terrain.plane if terrain is not None else plane_of(session)
    sun = day_of(plane, day, session.settings.tz)
    places = stands_of(session, plane, shot_m)
    habits = habits_of(session, plane, day, morning, bucks, [p.stand for p in places])
    if not places:
        raise UsageError(
            "you have no stands yet",
            'draw one on the map, or: camsign place add stand "Ledge Pine" --at LAT,LON',
        )
    if not habits.areas:
        raise UsageError(
            "you have no bedding areas yet", "draw one on the map, or: camsign area add"
        )
    light = session.settings.light_before_min, session.settings.light_after_min
    span = span_of(morning, list(habits.hours.values()), light)
    settings = tuple(
        setting_of(session, place, habits, sun, morning, span, plane, terrain) for place in places
    )
    going_in = intrusions_of(session, plane)
    named, units = bucks is not None, session.settings.units
    return Known(sun, morning, habits, terrain, plane, settings, going_in, named, units)


def scenes_of(known: Known, sky: Sky) -> tuple[Scene, ...]:
    """Play every stand in a wind. Raises UsageError where none is known for its hours."""
    return tuple(scene_of(one, known.habits, sky, known.sun.day) for one in known.settings)


def answer_of(known: Known, scenes: Sequence[Scene]) -> Tonight:
    """Rank played stands and say which it is."""
    told = [_left_alone(judged(scene, known.habits), scene, known) for scene in scenes]
    rows = tuple(
        replace(row, why=reasons(close_words(row, known.units), *row.why)) for row in _ranked(told)
    )
    top = rows[0].stand_id if rows else None
    airs = next((scene.airs for scene in scenes if scene.place.place_id == top), ())
    calm = all(air.scent.toward_deg is None for scene in scenes for air in scene.airs)
    answer, waits = _answer(known, rows, calm, wind_of(airs)), known.habits.sort_first
    besides = f"{answer.rivals}{waits}".strip() if answer.headline else ""
    return replace(answer, said=f"{answer.said}{waits}", rivals=besides)


# What somebody did there, by the words of intrusions.sql.
_WHAT = {
    "sit": "a sit", "walk": "a walk", "camera hung": "a camera hung",
    "camera taken down": "a camera taken down", "card pulled": "a card pulled",
    "sign logged": "sign",
}  # fmt: skip

_YOU = {
    "sit": "you sat", "walk": "you walked", "camera hung": "you hung a camera",
    "camera taken down": "you took down a camera", "card pulled": "you pulled a card",
    "sign logged": "you logged sign",
}  # fmt: skip


def _left_alone(one: Judged, scene: Scene, known: Known) -> Judged:
    """Say how long the stand and its bed have been left alone."""
    stand, begin = scene.place.stand, one.row.be_in_by
    by_stand = last_disturbed(known.intrusions, [(stand.x, stand.y, 0.0)], begin)
    last = by_stand
    if one.row.area_id is not None:
        bed = known.habits.areas[one.row.area_id].bed
        places = [(stand.x, stand.y, 0.0), (bed.x, bed.y, bed.radius)]
        last = last_disturbed(known.intrusions, places, begin)
    if last is None:
        return one
    here = by_stand is not None and (by_stand.day, by_stand.what) == (last.day, last.what)
    place = f"this {'stand' if here else 'bed'}"
    row = replace(one.row, why=(*one.row.why, _trip_words(last, place, known.sun.day)))
    if last.until is None:
        row = replace(row, disturbed_on=last.day, days_undisturbed=(known.sun.day - last.day).days)
    return replace(one, row=row)


def _trip_words(last: Intrusion, place: str, day: date) -> str:
    if last.until is not None:
        return (
            f"can't tell since when {place} has been left alone: a card nearby was pulled "
            f"{last.when_words(day)}"
        )
    if last.day == day:
        return f"{_YOU[last.what]} near {place} that day"
    return f"last time you logged anything near {place}: {last.day} ({_WHAT[last.what]})"


# --- the answer ----------------------------------------------------------------------------------


def _ranked(judged: list[Judged]) -> tuple[StandRow, ...]:
    """The stand to sit first, then the others by their chance."""
    order = sorted(judged, key=lambda one: -(one.row.any_chance.value or 0.0))
    rows = []
    for one in order:
        tied = tuple(
            other.row.stand for other in order
            if other is not one and holds(one.row) and holds(other.row)
            and 1 - APART < float(np.mean(one.draws > other.draws)) < APART
        )  # fmt: skip
        rows.append(replace(one.row, tied_with=tied))
    return best_first(rows)


def best_first(by_chance: Sequence[StandRow]) -> tuple[StandRow, ...]:
    """Rank stands, given by their chance: the one to sit comes first, the others keep order."""
    top = _picked(by_chance)
    rows = by_chance if top is None else [top, *(row for row in by_chance if row is not top)]
    return tuple(replace(row, rank=i) for i, row in enumerate(rows, 1))


# Under this nobody should go in for it; common practice, no source.
NO_CHANCE = 0.02
# Of stands too close to call, those with this part of the best chance are as good; our choice.
ALIKE = 2 / 3
TRIED = (
    "these odds were tuned on made-up seasons, none of them real: go by the order of the stands "
    "more than by their odds"
)


def _answer(known: Known, rows: tuple[StandRow, ...], calm: bool, wind: str) -> Tonight:
    sun, habits = known.sun, known.habits
    who = who_of(habits.odds, known.named)
    top = best_of(rows)
    stay_out = top is None or (top.any_chance.value or 0) < NO_CHANCE
    sits = "" if top is None or stay_out else headline(top, wind, who)
    rivals = rivals_of(top, rows) if top is not None and sits else ""
    days = max(habits.watched.values(), default=0)
    watch = Watch((), 0, days, habits.first, habits.last)
    return Tonight(
        day=sun.day,
        part="morning" if known.morning else "evening",
        sunrise=sun.sunrise,
        sunset=sun.sunset,
        said=_nobody(habits) if not any(row.area is not None for row in rows)
        else f"{sits} {clean_words(top)}{close_told(top, known.units)}{rivals}"
        if top is not None and sits
        else _stay_out(top, calm),
        stay_out=stay_out,
        stands=rows,
        cautions=CAUTIONS,
        watch=watch,
        method=METHOD,
        why=reasons(
            None if known.terrain is not None else
            "no elevation file loaded, so slope winds and shade aren't counted",
            TRIED if any(row.any_chance.value for row in rows) else None,
            _going_by(habits),
            "ground without a camera is not ground without deer",
            old_pictures(habits.stale)
            if habits.stale and not habits.odds and not habits.to_sort else None,
        ),
        headline=sits,
        rivals=rivals.strip(),
    )  # fmt: skip


def _going_by(habits: Habits) -> str | None:
    """Say what the odds of his bed rest on."""
    if not habits.odds:
        return None
    return (
        "where each buck beds is figured for this day alone, from his latest days covered and his "
        "habits"
    )


def best_of(rows: Sequence[StandRow]) -> StandRow | None:
    """The stand to sit: the first, unless every one is blown."""
    return rows[0] if rows and holds(rows[0]) else None


def _picked(by_chance: Sequence[StandRow]) -> StandRow | None:
    """The first that blows nothing; of those alike, the cleaner walk in."""
    holding = [row for row in by_chance if holds(row)]
    if not holding:
        return None
    first = holding[0]
    least = ALIKE * (first.any_chance.value or 0.0)
    alike = [
        row for row in holding[1:]
        if row.stand in first.tied_with and (row.any_chance.value or 0.0) >= least
    ]  # fmt: skip
    return min([first, *alike], key=lambda row: (RISK[row.way_in_scent], RISK[row.scent]))


def holds(row: StandRow) -> bool:
    """Whether neither the stand's scent nor the walk in blows it."""
    return row.scent != "blown" and row.way_in_scent != "blown"


def _nobody(habits: Habits) -> str:
    day = habits.stale
    if day is None:
        who, ages = habits.ageless, "Tag your bucks on Sort, and set their ages on Bucks"
        if who:
            ages = f"{listed(who)} {'has' if len(who) == 1 else 'have'} no age yet: set it on Bucks"
        return (
            f"Can't call it: no mature buck is known to bed near your stands this season. {ages}."
        )
    last = f"Can't call it: your newest tagged picture is from {day}"
    if habits.to_sort is not None:
        return f"{last}, but this season has pictures up to {habits.to_sort}. Sort them."
    return f"{last}, an earlier season. Load this season's cards."


def _stay_out(top: StandRow | None, calm: bool) -> str:
    if top is None and calm:
        return "Stay out: with no wind your scent spreads every way, from every stand."
    if top is None:
        return "Stay out: on this wind your scent gets there before he does, from every stand."
    return "Stay out: no stand gives a real chance on this wind."
