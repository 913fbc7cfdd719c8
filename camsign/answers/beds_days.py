"""Which days speak for a bed, and which against, with the pictures that anyone can look at."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal

import numpy as np

from camsign.answers.beds_input import APART_M, WINDOW_MIN, BedsInput
from camsign.answers.beds_known import Known, area_at, buck_at, mask_of
from camsign.answers.beds_seen import marks_of
from camsign.answers.detections import bucks_of
from camsign.answers.reach import sql_text
from camsign.answers.result import local_of
from camsign.answers.scope import Scope
from camsign.answers.verdict import percent
from camsign.arrays import Bools, Floats, Times
from camsign.logbook.session import Session

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


def bed_days(
    session: Session, scope: Scope, area_id: str, buck_id: str, known: Known, wanted: Times
) -> tuple[BedDay, ...]:
    """Give those of the wanted days on which a buck's pictures say something of a bed in an area,
    in order: the days that the answer counts.
    """
    bucks = bucks_of(session, scope)
    number = bucks.ids.index(buck_id)
    tagged = [tag for tag, at in bucks.number.items() if at == number]
    given = {
        "area": area_id, "tagged": tagged, "first": scope.first, "last": scope.last,
        "reach": scope.reach_m, "apart": APART_M, "window": WINDOW_MIN,
    }  # fmt: skip
    pictures: dict[tuple[date, bool], list[Picture]] = {}
    rows = session.con.execute(sql_text("beds_days.sql"), given).fetchall()
    for day, utc, local, camera, frame, far in rows:
        one = Picture(local_of(utc, local), camera, frame)
        pictures.setdefault((day, far), []).append(one)
    found: list[BedDay] = []
    for read, beds in known.seasons:
        buck, area = buck_at(read, buck_id), area_at(read, area_id)
        if buck is not None and area is not None:
            chance = beds.chance[buck, :, area]
            name, counted = bucks.names[number], mask_of(read, wanted)
            found += _days(read, buck, area, chance, counted, name, pictures)
    return tuple(found)


def _days(
    read: BedsInput, buck: int, area: int, chance: Floats, counted: Bools, name: str,
    pictures: dict[tuple[date, bool], list[Picture]],
) -> list[BedDay]:  # fmt: skip
    marks = marks_of(read, buck, area)
    found = []
    for at in np.flatnonzero(counted).tolist():
        shows = [word for word, days in zip(_SHOWS, marks, strict=True) if word and days[at]]
        against = [word for word, days in zip(_AGAINST, marks, strict=True) if word and days[at]]
        if not shows and not against:
            continue
        day = read.first + timedelta(days=at)
        seen = pictures.get((day, False), []) + (pictures.get((day, True), []) if against else [])
        speaks: Literal["for", "against"] = "for" if chance[at] >= ODDS_FOR else "against"
        words = ", ".join(dict.fromkeys([*shows, *against]))
        found.append(BedDay(name, day, speaks, words, float(chance[at]), tuple(seen)))
    return found
