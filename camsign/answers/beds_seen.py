"""What was seen of one buck at one area, by days: what anyone can check in the pictures.

How many days show what, and which days speak for a bed and which against, with their pictures.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal

import numpy as np

from camsign.answers.beds_input import APART_M, WINDOW_MIN, BedsInput
from camsign.answers.beds_known import Known, area_at, mask_of
from camsign.answers.bucks import bucks_of
from camsign.answers.result import local_of
from camsign.answers.scope import Scope
from camsign.answers.verdict import DaysSeen, percent
from camsign.arrays import Bools, Times
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session
from camsign.stats.beds_chances import FITS, MISFITS, fit_of
from camsign.stats.beds_evidence import EVENING, LIT, MORNING, UNTOLD

# In the order of the fields of `DaysSeen`: what a day shows, for people; "" says nothing alone.
_SHOWS = ("in at dawn", "out at dusk", "", "", "", "there in full daylight", "", "")
_AGAINST = ("", "", "", "", "", "", "going the wrong way for a bed", "far off in full daylight")
ODDS_FOR = 0.5


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture that speaks: when (local), which camera, which frame (16 hex digits)."""

    local: datetime
    camera: str
    frame: str


@dataclass(frozen=True, slots=True)
class BedDay:
    """One day of one buck at an area: what it shows, whether that speaks for a bed, the odds that
    he bedded here, and the pictures."""

    buck: str
    day: date
    speaks: Literal["for", "against"]
    shows: str
    chance: float
    pictures: tuple[Picture, ...]

    @property
    def shown(self) -> tuple[Picture, ...]:
        """The pictures people are shown: of one camera's in a minute the first."""
        first: dict[tuple[str, str], Picture] = {}
        for one in self.pictures:
            first.setdefault((one.camera, f"{one.local:%H:%M}"), one)
        return tuple(first.values())

    @property
    def odds(self) -> str:
        """The odds that he bedded here, never quite all or none."""
        return percent(self.chance)


def seen_at(known: Known, buck_id: str, area_id: str, wanted: Times) -> DaysSeen:
    """Count the wanted days by what they show of a buck at an area."""
    total = [0] * 8
    for read, _, buck, area in known.of(buck_id, area_id):
        marks, wish = marks_of(read, buck, area), mask_of(read, wanted)
        total = [n + int((days & wish).sum()) for n, days in zip(total, marks, strict=True)]
    return DaysSeen(*total)


def marks_of(read: BedsInput, buck: int, area: int) -> tuple[Bools, ...]:
    """Mark the days of a season, in the order of the fields of `DaysSeen`."""
    e = read.evidence
    mine = (e.looks.buck == buck) & (e.looks.area == area)
    day, end, way = (x[mine] for x in (e.looks.day, e.looks.end, e.looks.way))
    lit, fit = e.looks.half[mine] == LIT, fit_of(way, end)

    def mark(rows: Bools) -> Bools:
        found = np.zeros(e.days, dtype=bool)
        found[day[rows]] = True
        return found

    fits, told = fit == FITS, way != UNTOLD
    mornings, evenings = mark((end == MORNING) & fits), mark((end == EVENING) & fits)
    directed = mark((end == MORNING) & fits & told & lit) & mark(
        (end == EVENING) & fits & told & lit
    )
    inside, far = e.stirred[buck, :, area], e.far[buck, :, area]
    # Not where he was far off by full daylight between: such a day shows no bed.
    shown = (mark(fits & told & lit) & ~far) | inside
    wrong = mark(told & (fit == MISFITS) & lit)
    return mornings, evenings, mornings & evenings, directed, shown, inside, wrong, far


def directions_untold(known: Known, area_id: str, wanted: Times) -> int:
    """Count the ends of days at an area of which nobody told the way."""
    total = 0
    for read, _ in known.seasons:
        area = area_at(read, area_id)
        if area is not None:
            looks = read.evidence.looks
            rows = (looks.area == area) & (looks.way == UNTOLD)
            total += int(mask_of(read, wanted)[looks.day[rows]].sum())
    return total


def bed_days(
    session: Session, scope: Scope, area_id: str, buck_id: str, known: Known, wanted: Times
) -> list[BedDay]:
    """Give those of the wanted days on which a buck's pictures say something of a bed in an area,
    in order: the days that the answer counts.
    """
    bucks = bucks_of(session, scope)
    number = bucks.ids.index(buck_id)
    given = scope.sql() | {"area": area_id, "apart": APART_M, "window": WINDOW_MIN}
    given["tagged"] = [tag for tag, at in bucks.number.items() if at == number]
    pictures: dict[tuple[date, bool], list[Picture]] = {}
    rows = run_sql(session.con, __file__, "beds_days.sql", **given).fetchall()
    for day, utc, local, camera, frame, far in rows:
        one = Picture(local_of(utc, local), camera, frame)
        pictures.setdefault((day, far), []).append(one)
    found: list[BedDay] = []
    for read, beds, buck, area in known.of(buck_id, area_id):
        marks = marks_of(read, buck, area)
        for at in np.flatnonzero(mask_of(read, wanted)).tolist():
            shows, against = (
                [word for word, days in zip(words, marks, strict=True) if word and days[at]]
                for words in (_SHOWS, _AGAINST)
            )
            if not shows and not against:
                continue
            day, chance = read.first + timedelta(days=at), float(beds.chance[buck, at, area])
            seen = pictures.get((day, False), [])
            seen = seen + (pictures.get((day, True), []) if against else [])
            words = ", ".join(dict.fromkeys([*shows, *against]))
            speaks: Literal["for", "against"] = "for" if chance >= ODDS_FOR else "against"
            found.append(BedDay(bucks.names[number], day, speaks, words, chance, tuple(seen)))
    return found
