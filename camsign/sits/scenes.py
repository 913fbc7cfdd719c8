"""One stand planned and played: each area and buck near enough, by every way, the best way in.

All that no wind changes is set once (`Setting`); turning the wind plays it anew.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from camsign.errors import UsageError
from camsign.sits.evenings import FOLLOWED_M, Drawn, Played, Way, drawn, played
from camsign.sits.habits import BedArea, Habits, KnownWay
from camsign.sits.planning import Approach, Day, Outing, Plan, approach_of, outing_of, plan, walk_in
from camsign.sits.stands import StandPlace, WayIn, ways_in

if TYPE_CHECKING:
    from datetime import date, datetime

    from camsign.logbook.session import Session
    from camsign.sits.airs import Sky
    from camsign.sits.evenings import Sit, Walk
    from camsign.sits.plane import Plane
    from camsign.sits.terrain import Terrain

SEED = 20
# A way nobody has seen is as likely as one picture's worth of the known ones.
UNKNOWN_WEIGHT = 1.0

Draws = dict[tuple[str, str], tuple[tuple[KnownWay, Drawn], ...]]
"""By (area, buck) his ways out, each with its drawn evenings."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A way in (None: none is drawn) and the evenings drawn for a sit that begins with it."""

    approach: Approach | None
    draws: Draws


@dataclass(frozen=True, slots=True)
class Setting:
    """One stand before any wind is known."""

    place: StandPlace
    outing: Outing
    entries: tuple[Entry, ...]
    dawn: datetime


@dataclass(frozen=True, slots=True)
class Scene:
    """One stand, planned and played: by area the ways with their evenings, best way in chosen.

    `dawn_deg`: where the wind came from when he lay down [deg], None where that is not known.
    """

    place: StandPlace
    plan: Plan
    way_in: WayIn | None
    played: dict[tuple[str, str], tuple[tuple[KnownWay, Played], ...]]
    dawn_deg: float | None = None


def setting_of(
    session: Session,
    place: StandPlace,
    habits: Habits,
    sun: Day,
    morning: bool,
    span: tuple[float, float, float],
    plane: Plane,
    terrain: Terrain | None,
) -> Setting:
    """Set a stand up for any wind: its hours, its ways in, and where he is on each evening."""
    outing = outing_of(place, sun, morning, span, terrain)
    beds = [area.bed for area in habits.areas.values()]
    approaches: list[Approach | None] = [
        approach_of(way, outing.be_in_by, sun, plane, terrain, beds)
        for way in ways_in(session, plane, place.stand)
    ] or [None]
    entries = tuple(Entry(one, _draws(place, outing, one, habits)) for one in approaches)
    return Setting(place, outing, entries, sun.sunrise)


def _draws(place: StandPlace, outing: Outing, approach: Approach | None, habits: Habits) -> Draws:
    """Evenings by (area, buck), for the areas near enough that he can come by."""
    found: Draws = {}
    course = approach.course if approach is not None else None
    for odds in habits.odds:
        area = habits.areas[odds.area_id]
        gap = np.hypot(area.bed.x - place.stand.x, area.bed.y - place.stand.y)
        if gap > area.bed.radius + FOLLOWED_M:
            continue
        hours = habits.hours[odds.buck_id]
        ways = (*habits.ways[odds.area_id], _unknown(area))
        found[odds.area_id, odds.buck_id] = tuple(
            (
                known,
                drawn(SEED + i, area.bed, known.way, hours, place.stand, outing.stay, course),
            )
            for i, known in enumerate(ways)
        )
    return found


def scene_of(setting: Setting, habits: Habits, sky: Sky, day: date) -> Scene:
    """Play a stand's evenings in a wind with each way in; keep the way in that spoils least.

    Raises:
        UsageError: no wind is known for the hours of the sit.
    """
    planned = plan(setting.outing, sky)
    if planned is None:
        raise UsageError(
            f"no wind is known for {day}", "say it, such as --wind NW --mph 6, or --hours FILE"
        )
    tried = [_scene(setting.place, planned, entry, sky) for entry in setting.entries]
    best = max(tried, key=lambda scene: _sum_of_meets(scene, habits))
    dawn = sky.wind(setting.dawn)
    return replace(best, dawn_deg=dawn.from_deg if dawn else None)


def _scene(place: StandPlace, planned: Plan, entry: Entry, sky: Sky) -> Scene:
    way = entry.approach
    walk = walk_in(way, sky) if way is not None else None
    found = {key: _play_all(ways, planned.sit, walk) for key, ways in entry.draws.items()}
    return Scene(place, planned, way.way if way is not None else None, found)


def _play_all(
    ways: tuple[tuple[KnownWay, Drawn], ...], sit: Sit, walk: Walk | None
) -> tuple[tuple[KnownWay, Played], ...]:
    return tuple((known, played(draws, sit, walk)) for known, draws in ways)


def _unknown(area: BedArea) -> KnownWay:
    return KnownWay(Way(area.bed.x, area.bed.y, None), UNKNOWN_WEIGHT, "a way nobody has seen")


def _sum_of_meets(scene: Scene, habits: Habits) -> float:
    total = 0.0
    for odds in habits.odds:
        for known, one in scene.played.get((odds.area_id, odds.buck_id), ()):
            total += (odds.chance.value or 0) * known.n * one.meets
    return total
