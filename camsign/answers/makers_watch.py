"""Which cameras could have caught who made a sign: how near, how long, whose card is missing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from camsign.answers.result import Watch
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session
from camsign.units import UnitSystem, counted, format_length


@dataclass(frozen=True, slots=True)
class Hung:
    """A camera that hung near a sign while it was made: distance [m], nights it is known to have
    watched then, sorted or not, and the last night that it watched at all."""

    deployment: str
    camera: str
    meters: float
    nights: int
    last_night: date | None


@dataclass(frozen=True, slots=True)
class Around:
    """The cameras that hung around a sign while it was made, the nearest first.

    `counted`: those within `reach_m` [m] that watched, else all that did, farther off; `watch`:
    theirs. `without_card`: those of which no card covers these days or later ones, only the ones
    within reach where any camera watched.
    """

    hung: tuple[Hung, ...]
    counted: tuple[Hung, ...]
    without_card: tuple[Hung, ...]
    watch: Watch
    reach_m: float

    def in_words(self, units: UnitSystem) -> str | None:
        """Say how many cameras there were, how near and how long; None without any that watched."""
        if not self.counted:
            return None
        near, reach = self.counted[0].meters, format_length(self.reach_m, units)
        cameras = {one.camera for one in self.counted}
        many = counted(len(cameras), "camera")
        nights = counted(self.watch.nights_watched, "night")
        closest = "the closest " if len(cameras) > 1 else ""
        watched = f"{closest}{format_length(near, units)} away; {nights} covered"
        if near <= self.reach_m:
            return f"{many} within {reach}, {watched}{self.watch.but_unsorted}"
        behind = self.watch.but_unsorted
        return f"no camera within {reach} covered that time; {many} farther off, {watched}{behind}"

    def to_load(self, units: UnitSystem) -> str | None:
        """Say which camera's card is missing: the nearest's, and how many others'."""
        if not self.without_card:
            return None
        first, *others = self.without_card
        named = f"{first.camera}, {format_length(first.meters, units)} away"
        if first.last_night:
            return f"{named}: nothing since {first.last_night}. If you have its next card, load it"
        also = f", nor from {counted(len(others), 'other camera')}" if others else ""
        return f"no card from {named}{also}: load {'them' if others else 'it'}"


@dataclass(frozen=True, slots=True)
class VisitedCamera:
    """A camera around a sign: distance [m], nights watched and sorted while it was made, days of
    the visits in that time by buck (None: nobody named him)."""

    deployment: str
    camera: str
    meters: float
    nights: int
    visits: dict[str | None, list[date]]


def visited_around(
    session: Session, sign: str, made: tuple[date, date], gap_s: float
) -> list[VisitedCamera]:
    """Give the cameras around a sign that watched or were visited while it was made, the nearest
    first; a gap of so many seconds parts visits."""
    given = {"sign": sign, "first": made[0], "last": made[1], "gap": gap_s}
    found: dict[str, VisitedCamera] = {}
    rows = run_sql(session.con, __file__, "makers.sql", **given).fetchall()
    for deployment, camera, meters, nights, buck, days in rows:
        one = found.setdefault(deployment, VisitedCamera(deployment, camera, meters, nights, {}))
        if days:
            one.visits[buck] = days
    return list(found.values())


def around_of(session: Session, sign: str, first: date, last: date, reach_m: float) -> Around:
    """Give the cameras around a sign that was made on these local days, both within."""
    given = {"sign": sign, "first": first, "last": last}
    rows = run_sql(session.con, __file__, "makers_cameras.sql", **given).fetchall()
    hung = tuple(Hung(*row) for row in rows)
    watched = tuple(one for one in hung if one.nights)
    near = tuple(one for one in watched if one.meters <= reach_m) or watched
    within = {"deployments": [one.deployment for one in near], "first": first, "last": last}
    row = run_sql(session.con, __file__, "makers_watch.sql", **within).fetchone()
    missing = tuple(
        one for one in hung
        if not one.nights and (one.last_night is None or one.last_night < first)
        and (one.meters <= reach_m or not watched)
    )  # fmt: skip
    cameras = tuple(sorted({one.camera for one in near}))
    return Around(hung, near, missing, Watch(cameras, *(row or (0, 0, None, None))), reach_m)
