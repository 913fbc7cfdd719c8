"""Who bedded near a sign while it was made, as the model of beds knows it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from camsign.answers.beds_input import BedsInput
from camsign.answers.beds_known import buck_at, known_of
from camsign.answers.scope import Scope, season_days
from camsign.arrays import Floats, Ints
from camsign.logbook.moments import season_of
from camsign.logbook.session import Session
from camsign.stats.beds import Beds
from camsign.stats.estimate import spread_of
from camsign.stats.origin import nearness_to_bed

# A bed farther off than this is not spoken of [m]; its weight is small by then.
SPOKEN_OF_M = 250.0


@dataclass(frozen=True, slots=True, eq=False)
class BedsAround:
    """What the model says of the days in which a sign was made.

    `days`: how many of them it covers. `counted` (draws, bucks, areas): days in bed in equally
    likely courses. `meters` (areas): from the sign to the edge, inf where not near. `areas`: names.
    """

    days: int
    counted: Ints
    meters: Floats
    areas: tuple[str, ...]

    def shares(self) -> Floats | None:
        """Give the share of days that each buck bedded around it, weighed by distance."""
        if not self.days:
            return None
        found: Floats = self.counted @ nearness_to_bed(self.meters) / self.days
        return found

    def in_words(self, buck: int) -> str | None:
        """Say where near it a buck bedded most; None unless he did so on a day at least."""
        near = [a for a, meters in enumerate(self.meters) if meters <= SPOKEN_OF_M]
        if not self.days or not near:
            return None
        most = max(near, key=lambda a: float(self.counted[:, buck, a].mean()))
        found = spread_of(self.counted[:, buck, most])
        if not found.low:
            return None
        span = f"{round(found.value or 0)} ({found.low:.0f} to {found.high:.0f})"
        return f"bedded at {self.areas[most]} on {span} of {self.days} days"


def beds_around(
    session: Session, scope: Scope, sign: str, window: tuple[date, date], bucks: Sequence[str]
) -> BedsAround:
    """Give the days in bed of these bucks (ids) around a sign while it may have been made.

    Each season is asked about as a whole, so that all its signs share what is computed once.
    """
    start = session.settings.season_start
    asked = replace(
        scope, buck_ids=None, area_ids=None, season=None, first=window[0],
        last=season_days(season_of(window[1], start), start)[1],
    )  # fmt: skip
    rows = session.con.execute("SELECT area, distance_m FROM area_signs WHERE sign = ?", [sign])
    away = dict(rows.fetchall())
    seasons = known_of(session, asked).seasons if away else ()
    found = [_counted(read, beds, window, bucks) for read, beds in seasons]
    days = sum(n for n, _ in found)
    if not days:
        return BedsAround(0, np.zeros((1, len(bucks), 0), dtype=int), np.zeros(0), ())
    spots = seasons[0][0].areas
    meters = np.array([away.get(spot.id, np.inf) for spot in spots])
    counted = np.sum([counts for _, counts in found], axis=0)
    return BedsAround(days, counted, meters, tuple(spot.name for spot in spots))


def _counted(
    read: BedsInput, beds: Beds, window: tuple[date, date], bucks: Sequence[str]
) -> tuple[int, Ints]:
    """Count a season's days within the window, and those each spent in each area, by draw."""
    day = np.datetime64(read.first) + np.arange(read.evidence.days)
    made = (day >= np.datetime64(window[0])) & (day <= np.datetime64(window[1]))
    found = np.zeros((len(beds.draws), len(bucks), read.evidence.areas), dtype=int)
    for i, buck in enumerate(bucks):
        at = buck_at(read, buck)
        if at is not None:
            there = beds.draws[:, at][:, made]
            for area in range(read.evidence.areas):
                found[:, i, area] = (there == area).sum(axis=1)
    return int(made.sum()), found
