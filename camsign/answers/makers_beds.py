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
from camsign.geo import area_center, distance_bearing
from camsign.logbook.moments import season_of
from camsign.logbook.session import Session
from camsign.logbook.shapes import to_area
from camsign.sign.origin_likelihood import Law, density_at
from camsign.stats.beds import Beds
from camsign.stats.estimate import spread_of
from camsign.stats.origin import nearness_to_bed

# A bed farther off than this is not spoken of [m]; its weight is small by then.
SPOKEN_OF_M = 250.0
# How bucks leave a bed, as rub bearings have it; where in its area it lies is known so well [m].
LEAVING = Law(inward=0.3, fix_m=60.0)


@dataclass(frozen=True, slots=True, eq=False)
class BedsAround:
    """What the model says of the days in which a sign was made.

    `days`: how many of them it covers. `counted` (draws, bucks, areas): days in bed in equally
    likely courses. `meters` (areas): from the sign to the edge, inf where not near. `leaving`
    (areas): how many times likelier it is that who leaves the area was headed so than that anybody
    was. `areas`: names. `seasons`: what the model rests on, and what it says.
    """

    days: int
    counted: Ints
    meters: Floats
    leaving: Floats
    areas: tuple[str, ...]
    seasons: tuple[tuple[BedsInput, Beds], ...] = ()

    def shares(self) -> Floats | None:
        """Give the share of days that each buck bedded around it, by distance and heading."""
        if not self.days:
            return None
        found: Floats = self.counted @ (nearness_to_bed(self.meters) * self.leaving) / self.days
        return found

    def days_in_bed(self, buck: str, deployment: str, visits: Sequence[date]) -> float:
        """Say how many of a buck's visits to a camera, given by their days, are of days on which
        he bedded within its reach: so many are to be expected."""
        found = 0.0
        for read, beds in self.seasons:
            at = buck_at(read, buck)
            if at is None or deployment not in read.reach.deployments:
                continue
            near = read.reached[list(read.reach.deployments).index(deployment)]
            day = (np.array(visits, "datetime64[D]") - np.datetime64(read.first)).astype(int)
            day = day[(day >= 0) & (day < read.evidence.days)]
            found += float(beds.chance[at, day, :-1][:, near].sum())
        return min(found, float(len(visits)))

    def in_words(self, buck: int) -> str | None:
        """Say where near it a buck bedded most; None unless he did so on a day at least."""
        near = [a for a, meters in enumerate(self.meters) if meters <= SPOKEN_OF_M]
        if not self.days or not near:
            return None
        most = max(near, key=lambda a: float(self.counted[:, buck, a].mean()))
        found = spread_of(self.counted[:, buck, most], most=self.days)
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
        none = np.zeros(0)
        return BedsAround(0, np.zeros((1, len(bucks), 0), dtype=int), none, none, ())
    spots = seasons[0][0].areas
    meters = np.array([away.get(spot.id, np.inf) for spot in spots])
    # Seasons differ in how many draws they needed; each is spread over all.
    most = np.arange(max(len(counts) for _, counts in found))
    counted = np.sum([one[most * len(one) // len(most)] for _, one in found], axis=0)
    leaving = _leaving(session, sign, [spot.id for spot in spots])
    names = tuple(spot.name for spot in spots)
    return BedsAround(days, counted, meters, leaving, names, seasons)


def _leaving(session: Session, sign: str, areas: Sequence[str]) -> Floats:
    """Say how well the way a rub's maker was headed fits leaving each area; 1 where untold."""
    row = session.con.execute(
        "SELECT lat, lon, travel_deg FROM made_windows WHERE sign = ? AND kind = 'rub'"
        " AND travel_deg IS NOT NULL ORDER BY seen_on DESC, sighting DESC LIMIT 1",
        [sign],
    ).fetchone()
    if row is None or not areas:
        return np.ones(len(areas))
    shapes = dict(session.con.execute("SELECT area_id, shape FROM areas_now").fetchall())
    centers = np.array([area_center(to_area(shapes[area])) for area in areas])
    meters, outward = distance_bearing(centers[:, 0], centers[:, 1], row[0], row[1])
    off = np.cos(np.radians(row[2] - np.nan_to_num(outward)))
    return density_at(np.maximum(meters, 1.0), off, LEAVING)


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
