"""One stand planned and played: each area and buck near enough, by every way, the best way in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from camsign.errors import UsageError
from camsign.sits.evenings import FOLLOWED_M, Played, Way, play
from camsign.sits.habits import BedArea, Habits, KnownWay
from camsign.sits.planning import Day, Plan, plan, walk_in
from camsign.sits.stands import StandPlace, WayIn, ways_in

if TYPE_CHECKING:
    from camsign.logbook.session import Session
    from camsign.sits.airs import Sky
    from camsign.sits.evenings import Sit, Walk
    from camsign.sits.plane import Plane
    from camsign.sits.terrain import Terrain

SEED = 20
# A way nobody has seen is as likely as one picture's worth of the known ones.
UNKNOWN_WEIGHT = 1.0


@dataclass(frozen=True, slots=True)
class Scene:
    """One stand, planned and played: by area the ways with their evenings, best way in chosen."""

    place: StandPlace
    plan: Plan
    way_in: WayIn | None
    played: dict[tuple[str, str], tuple[tuple[KnownWay, Played], ...]]


def scene_of(
    session: Session,
    place: StandPlace,
    habits: Habits,
    sun: Day,
    morning: bool,
    span: tuple[float, float, float],
    sky: Sky,
    plane: Plane,
    terrain: Terrain | None,
) -> Scene:
    """Plan a stand and play its evenings with each way in; keep the way in that spoils least.

    Raises:
        UsageError: no wind is known for the hours of the sit.
    """
    planned = plan(place, sun, morning, span, sky, terrain)
    if planned is None:
        raise UsageError(
            f"no wind is known for {sun.day}", "say it, such as --wind NW --mph 6, or --hours FILE"
        )
    walks: list[tuple[WayIn | None, Walk | None]] = [
        (way, walk_in(way, planned.be_in_by, sun, sky, plane, terrain))
        for way in ways_in(session, plane, place.stand)
    ] or [(None, None)]
    tried = [
        Scene(place, planned, way, _played(place, planned.sit, walk, habits)) for way, walk in walks
    ]
    return max(tried, key=lambda scene: _sum_of_meets(scene, habits))


def _played(
    place: StandPlace, sit: Sit, walk: Walk | None, habits: Habits
) -> dict[tuple[str, str], tuple[tuple[KnownWay, Played], ...]]:
    """Evenings by (area, buck), for the areas near enough that he can come by."""
    found = {}
    for odds in habits.odds:
        area = habits.areas[odds.area_id]
        gap = np.hypot(area.bed.x - place.stand.x, area.bed.y - place.stand.y)
        if gap > area.bed.radius + FOLLOWED_M:
            continue
        hours = habits.hours[odds.buck_id]
        ways = (*habits.ways[odds.area_id], _unknown(area))
        found[odds.area_id, odds.buck_id] = tuple(
            (known, play(SEED + i, area.bed, known.way, hours, place.stand, sit, walk))
            for i, known in enumerate(ways)
        )
    return found


def _unknown(area: BedArea) -> KnownWay:
    return KnownWay(Way(area.bed.x, area.bed.y, None), UNKNOWN_WEIGHT, "a way nobody has seen")


def _sum_of_meets(scene: Scene, habits: Habits) -> float:
    total = 0.0
    for odds in habits.odds:
        for known, played in scene.played.get((odds.area_id, odds.buck_id), ()):
            total += (odds.chance.value or 0) * known.n * played.meets
    return total
