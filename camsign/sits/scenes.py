"""One stand planned and played: each area and buck near enough, by every way, the best way in.

All that no wind changes is set once (`Setting`); turning the wind plays it anew.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

import numpy as np

from camsign.answers.ways import UNKNOWN_WEIGHT
from camsign.errors import UsageError
from camsign.geo import distance_to_area
from camsign.ground.horizon import seen_from
from camsign.logbook.session import Session
from camsign.sits.evenings import Air, Drawn, Played, Walk, Way, drawn, in_reach, played
from camsign.sits.habits import Habits, KnownWay
from camsign.sits.plane import Plane
from camsign.sits.planning import Day, Moment, Outing, airs_of, outing_of, walk_in
from camsign.sits.stands import StandPlace, WayIn, stepped, ways_in
from camsign.sits.terrain import Terrain
from camsign.sits.weather import Sky

SEED = 20
# A bedded deer's eyes above the ground, and how far off it notices somebody walking in the woods
# [m]; ways in whose chances differ by less than this share are as good; no source.
BEDDED_EYE_M, NOTICES_M, ALIKE = 0.8, 250.0, 0.1
# Within 100 yards of a bed he hears or sees you come; common practice, no source [m].
CLOSE_M, _CLOSE_STEP_M = 91.44, 5.0

Draws = dict[tuple[str, str], tuple[tuple[KnownWay, Drawn], ...]]
"""By (area, buck) his ways out, each with its drawn evenings."""


@dataclass(frozen=True, slots=True)
class Close:
    """A bedding area within CLOSE_M: how far its edge is [m], and whether that is from the walk in
    (`walking`) or from the stand.
    """

    area: str
    meters: float
    walking: bool


@dataclass(frozen=True, slots=True)
class Entry:
    """A way in (None: none is drawn), its moments, the evenings of a sit that begins with it.

    `seen`: by area, how much of the way in near its bed the bed looks onto, 0 to 1.
    """

    way: WayIn | None
    moments: tuple[Moment, ...]
    draws: Draws
    seen: dict[str, float]
    close: Close | None


@dataclass(frozen=True, slots=True)
class Setting:
    """One stand before any wind is known."""

    place: StandPlace
    outing: Outing
    entries: tuple[Entry, ...]
    dawn: datetime


@dataclass(frozen=True, slots=True)
class Scene:
    """One stand, played: by area the ways with their evenings, best way in chosen.

    `airs`: at each step of the sit. `dawn_deg`: where the wind came from when he lay down [deg],
    None where that is not known.
    """

    place: StandPlace
    outing: Outing
    airs: tuple[Air, ...]
    way_in: WayIn | None
    played: dict[tuple[str, str], tuple[tuple[KnownWay, Played], ...]]
    dawn_deg: float | None
    seen: dict[str, float]
    close: Close | None


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
    entries = []
    ways: list[WayIn | None] = [*ways_in(session, plane, place.stand)]
    for way in ways or [None]:
        walk: Walk | None = None
        moments: tuple[Moment, ...] = ()
        if way is not None:
            walk, moments = walk_in(way, outing.be_in_by, sun, plane, terrain, beds)
        # In the dark before a morning no bed looks onto it.
        seen = {} if morning else _sights(way, habits, terrain)
        entries.append(Entry(way, moments, _draws(place, outing, walk, habits), seen,
                             close_to(place, way, habits, plane)))  # fmt: skip
    return Setting(place, outing, tuple(entries), sun.sunrise)


def _draws(place: StandPlace, outing: Outing, walk: Walk | None, habits: Habits) -> Draws:
    """Evenings by (area, buck), for the areas near enough that he can come by."""
    found: Draws = {}
    for odds in habits.odds:
        bed = habits.areas[odds.area_id].bed
        if not in_reach(bed, place.stand):
            continue
        hours = habits.hours[odds.buck_id]
        unseen = habits.unseen.get(odds.area_id, UNKNOWN_WEIGHT)
        unknown = KnownWay(Way(bed.x, bed.y, None), unseen)
        found[odds.area_id, odds.buck_id] = tuple(
            (known, drawn(SEED + i, bed, known.way, hours, place.stand, outing.sit, walk))
            for i, known in enumerate((*habits.ways[odds.area_id], unknown))
        )
    return found


def scene_of(setting: Setting, habits: Habits, sky: Sky, day: date) -> Scene:
    """Play a stand's evenings in a wind with each way in; keep the way in that spoils least.

    Raises:
        UsageError: no wind is known for the hours of the sit.
    """
    airs = airs_of(sky, setting.outing.moments)
    if airs is None:
        raise UsageError(
            f"what's the wind on {day}?", "Add it, such as --wind NW --mph 6, or --hours FILE"
        )
    # A typed wind is the sit's: only of a morning's is it also that of dawn.
    known = setting.outing.sit.morning or not sky.typed
    dawn = sky.wind(setting.dawn) if known else None
    dawn_deg = dawn.from_deg if dawn else None
    return _best_way([_scene(setting, airs, one, sky, dawn_deg) for one in setting.entries], habits)


def _scene(
    setting: Setting, airs: tuple[Air, ...], entry: Entry, sky: Sky, dawn_deg: float | None
) -> Scene:
    walk_airs = airs_of(sky, entry.moments) if entry.way is not None else None
    found = {
        key: tuple((known, played(draws, airs, walk_airs)) for known, draws in ways)
        for key, ways in entry.draws.items()
    }
    return Scene(
        setting.place, setting.outing, airs, entry.way, found, dawn_deg, entry.seen, entry.close
    )


def close_to(place: StandPlace, way: WayIn | None, habits: Habits, plane: Plane) -> Close | None:
    """The bedding area whose edge the stand or the walk in comes nearest, if that is close."""
    path = np.array([[place.stand.x, place.stand.y]])
    if way is not None:
        path = np.vstack([path, stepped(way.points, _CLOSE_STEP_M)])
    lat, lon = plane.lat_lon(path).T
    found = []
    for area in habits.areas.values():
        off = distance_to_area(area.outline, lat, lon)
        # A walk in that ends at the stand is no nearer than it but for the width of the steps.
        walking = float(off.min()) < float(off[0]) - _CLOSE_STEP_M
        found.append(Close(area.name, float(off.min() if walking else off[0]), walking))
    nearest = min(found, key=lambda one: one.meters, default=None)
    return nearest if nearest is not None and nearest.meters <= CLOSE_M else None


def _sights(way: WayIn | None, habits: Habits, terrain: Terrain | None) -> dict[str, float]:
    """How much of a way in each bed looks onto over the ground.

    Areas whose bed is nowhere near the way are left out, and all where the ground is unknown.
    """
    if way is None or terrain is None:
        return {}
    points = way.points
    found = {}
    for area_id, area in habits.areas.items():
        off = np.hypot(points[:, 0] - area.bed.x, points[:, 1] - area.bed.y)
        close = points[off <= area.bed.radius + NOTICES_M]
        if len(close):
            seen = seen_from(terrain.grid, (area.bed.x, area.bed.y), close, BEDDED_EYE_M)
            found[area_id] = float(seen.mean())
    return found


def _best_way(tried: list[Scene], habits: Habits) -> Scene:
    """The way in that spoils least; of those about as good, the one the beds see least of."""
    meets = [_sum_of_meets(scene, habits) for scene in tried]
    good = [one for one, n in zip(tried, meets, strict=True) if n >= (1 - ALIKE) * max(meets)]
    if len(good) == 1:
        return good[0]
    return min(good, key=lambda one: (sum(one.seen.values()), -_sum_of_meets(one, habits)))


def _sum_of_meets(scene: Scene, habits: Habits) -> float:
    total = 0.0
    for odds in habits.odds:
        for known, one in scene.played.get((odds.area_id, odds.buck_id), ()):
            total += (odds.chance.value or 0) * known.n * one.meets
    return total
