"""From a played stand to its row: chances with intervals, scent, way in, times, reasons."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

import numpy as np

from camsign.air.spread import word_for
from camsign.answers.odds import about
from camsign.answers.result import Figure, reasons
from camsign.answers.ways import ways_in_words
from camsign.arrays import Floats
from camsign.formats.interval import Interval
from camsign.sits.evenings import Played, in_reach
from camsign.sits.habits import BedArea, Habits, KnownWay, Odds
from camsign.sits.plane import seed_at
from camsign.sits.recalibration import LEAST, kept, recalibrated
from camsign.sits.scenes import SEED, Scene
from camsign.sits.words import CERTAIN, SLIGHT, odds
from camsign.stats.estimate import central
from camsign.units import counted

DRAWS = 400


@dataclass(frozen=True, slots=True)
class AirTurn:
    """From `at` (UTC) on it `goes` downhill or uphill, or wind: the wind is stronger than the slope
    air."""

    at: datetime
    goes: str


@dataclass(frozen=True, slots=True)
class StandRow:
    """One stand. Chances 0 to 1 that a named buck, or any of those asked for, comes into range in
    shooting light before he winds you; times UTC.

    `scent`: clean, risky or blown, by `scent_chance`, the chance that scent from the stand reaches
    the bed or him on his way. `way_in_scent`, `way_in_scent_chance`: the same for the walk in, None
    without a way in. All four are None where nobody is known to bed near: whom it would reach is
    not known.
    `comes_going_deg`: his heading as he comes [deg]. `tied_with`: stands too close to call.
    `disturbed_on`: the last day somebody was near it or the bed, None if not known.
    `way_in_seen`: how much of the way in near the bed it looks onto over the ground, 0 to 1, None
    if not known. `close_area`: the bedding area within 100 yards of the stand or, `close_walking`,
    of the walk in; `close_m`: how far its edge is [m]; None: there is none. `air`: which way
    the air goes at the start of the sit, and each turn of it while one sits.
    """

    rank: int
    stand: str
    stand_id: str
    area: str | None
    area_id: str | None
    buck: str | None
    chance: Figure
    any_chance: Figure
    scent: str | None
    scent_chance: float | None
    way_in: str | None
    way_in_scent: str | None
    be_in_by: datetime
    until: datetime
    comes_at: datetime | None
    comes_going_deg: float | None
    air_turns_at: datetime | None
    shade_at: datetime | None
    tied_with: tuple[str, ...]
    why: tuple[str, ...]
    disturbed_on: date | None = None
    days_undisturbed: int | None = None
    way_in_seen: float | None = None
    way_in_scent_chance: float | None = None
    air: tuple[AirTurn, ...] = ()
    close_area: str | None = None
    close_m: float | None = None
    close_walking: bool = False


@dataclass(frozen=True, slots=True)
class Judged:
    """A row, and the chance that any comes into range by draw."""

    row: StandRow
    draws: Floats


def judged(scene: Scene, habits: Habits) -> Judged:
    """The chances of one stand over draws of what the pictures leave open."""
    by_buck: dict[str, Floats] = {}
    best: tuple[float, Odds] | None = None
    for i, one in enumerate(habits.odds):
        ways = scene.played.get((one.area_id, one.buck_id))
        if ways is None:
            continue
        rng = np.random.default_rng([SEED, i])
        moved = habits.wind_factor(one, scene.dawn_deg)
        there = np.minimum(1.0, bed_draws(rng, one.chance) * moved)
        shares = rng.dirichlet([max(known.n, 0.05) for known, _ in ways], DRAWS)
        met = there * (shares @ np.array([played.meets for _, played in ways]))
        by_buck[one.buck_id] = np.minimum(1.0, by_buck.get(one.buck_id, 0.0) + met)
        mean = float(met.mean())
        if best is None or mean > best[0]:
            best = (mean, one)
    chosen = best[1] if best is not None else None
    mine = by_buck[chosen.buck_id] if chosen is not None else None
    place = seed_at(scene.place.lat, scene.place.lon)
    own = np.random.default_rng([SEED, *place]).normal(0, 1, DRAWS)
    played = 1 - np.prod([1 - p for p in by_buck.values()], axis=0)
    mine, anyone = _said(mine, played, own)
    row = _told(scene, habits, chosen, mine, anyone)
    more = _moved_words(float(np.mean(played)), row.any_chance.value or 0.0, len(by_buck))
    return Judged(replace(row, why=(*row.why, *more)) if chosen else row, anyone)


def _said(mine: Floats | None, anyone: Floats | float, own: Floats) -> tuple[Floats | None, Floats]:
    """What is said of the played chances of one buck and of any: his keeps its part of it."""
    if mine is None:
        return None, np.zeros(DRAWS)
    part = np.minimum(1.0, (mine + LEAST) / (anyone + LEAST))
    said = recalibrated(np.asarray(anyone), kept(), own)
    return part * said, said


def bed_draws(rng: np.random.Generator, chance: Interval) -> Floats:
    """Draws of a chance from the Beta law whose mean and 95% interval come nearest to it."""
    mean = min(max(chance.value or 0.0, 1e-4), 1 - 1e-4)
    low, high = chance.low or 0.0, 1.0 if chance.high is None else chance.high
    spread = max((high - low) / 3.92, 1e-4)
    weight = max(mean * (1 - mean) / spread**2 - 1, 1.0)
    return np.asarray(rng.beta(mean * weight, (1 - mean) * weight, DRAWS))


def _figure(draws: Floats | None) -> Figure:
    if draws is None:
        return Figure(0.0, 0.0, None)
    mean, low, high = central(draws)
    return Figure(float(mean), float(low), float(high))


def _told(
    scene: Scene, habits: Habits, chosen: Odds | None, mine: Floats | None, anyone: Floats
) -> StandRow:
    ways = scene.played.get((chosen.area_id, chosen.buck_id), ()) if chosen is not None else ()
    winded = _weighted(ways, lambda one: max(one.bed_winded, one.way_winded))
    walking = _weighted(ways, lambda one: max(one.walk_winded, one.crosses / 2))
    main = max(ways, key=lambda pair: pair[0].n * pair[1].passes, default=None)
    comes = main[1].minute if main else None
    going = main[0].way.heading_deg if main and comes is not None else None
    if going is not None and scene.outing.sit.morning:  # in to the bed, not out of it
        going = (going + 180) % 360
    after = None if comes is None else timedelta(minutes=comes - scene.outing.sit.arrive)
    area = habits.areas[chosen.area_id] if chosen is not None else None
    steps = list(zip(scene.outing.moments, scene.airs, strict=True))
    return StandRow(
        rank=0,
        stand=scene.place.name,
        stand_id=scene.place.place_id,
        area=area.name if area else None,
        area_id=area.area_id if area else None,
        buck=chosen.buck if chosen else None,
        chance=_figure(mine),
        any_chance=_figure(anyone),
        scent=word_for(winded) if chosen else None,
        scent_chance=winded if chosen else None,
        way_in=scene.way_in.name if scene.way_in else None,
        way_in_scent=word_for(walking) if scene.way_in and chosen else None,
        be_in_by=scene.outing.be_in_by,
        until=scene.outing.until,
        comes_at=None if after is None else scene.outing.be_in_by + after,
        comes_going_deg=None if going is None else going % 360,
        air_turns_at=next((m.when for m, a in steps if a.slope_share >= 0.5), None),
        shade_at=next((m.when for m, _ in steps if m.shade), None),
        tied_with=(),
        way_in_seen=scene.seen.get(area.area_id) if area else None,
        way_in_scent_chance=walking if scene.way_in and chosen else None,
        air=_air(scene),
        close_area=scene.close.area if scene.close else None,
        close_m=scene.close.meters if scene.close else None,
        close_walking=scene.close is not None and scene.close.walking,
        why=(
            *(
                _row_why(scene, area, chosen.buck, ways, walking, _long_dark(area, habits))
                if area and chosen
                else _nobody_near(habits)
            ),
            *_wind_why(scene, habits, chosen),
            *_unwatched(scene, habits),
        ),
    )


def _air(scene: Scene) -> tuple[AirTurn, ...]:
    found: list[AirTurn] = []
    for moment, air in zip(scene.outing.moments, scene.airs, strict=True):
        slides = "downhill" if moment.shade else "uphill"
        goes = slides if air.slope_share >= 0.5 else "wind"
        if not found or found[-1].goes != goes:
            found.append(AirTurn(moment.when, goes))
    return tuple(found)


def _unwatched(scene: Scene, habits: Habits) -> tuple[str, ...]:
    """Beds near the stand that no camera watched this season: unknown, which is not empty."""
    dark = [
        area.name for area in habits.areas.values()
        if habits.odds and habits.stale is None and not habits.watched.get(area.area_id, 1)
        and in_reach(area.bed, scene.place.stand)
    ]  # fmt: skip
    return (
        f"no camera covered {', '.join(dark)}, so we guess it's used as much as your other beds",
    ) if dark else ()  # fmt: skip


# With no night covered for so many days, his bed of this day is a guess; our choice.
_OLD_DAYS = 14


def _long_dark(area: BedArea, habits: Habits) -> str | None:
    """Say of a bed how long no night there has been covered, where that is long."""
    last = habits.covered_to.get(area.area_id)
    days = (habits.last - last).days if last else 0
    if days < _OLD_DAYS:
        return None
    return (
        f"the last night covered at {area.name} is {last}, {days} days before: the odds that he "
        "beds there now are a guess from older days"
    )


def _wind_why(scene: Scene, habits: Habits, chosen: Odds | None) -> tuple[str, ...]:
    moved = 1.0 if chosen is None else habits.wind_factor(chosen, scene.dawn_deg)
    if chosen is None or moved == 1.0:
        return ()
    much, least = ("more", "at least") if moved > 1 else ("less", "at most")
    return (
        f"on this wind he beds there {much} often: {least} {moved:.1f} times as often as usual",
    )


def _weighted(ways: Sequence[tuple[KnownWay, Played]], what: Callable[[Played], float]) -> float:
    total = sum(known.n for known, _ in ways)
    return sum(known.n * what(played) for known, played in ways) / total if total else 0.0


def _row_why(
    scene: Scene,
    area: BedArea,
    buck: str,
    ways: Sequence[tuple[KnownWay, Played]],
    walking: float,
    dark: str | None,
) -> tuple[str, ...]:
    bed = _weighted(ways, lambda one: one.bed_winded)
    path = _weighted(ways, lambda one: one.way_winded)
    dry = _weighted(ways, lambda one: one.passes)
    total = sum(known.n for known, _ in ways)
    *seen, (_, unseen) = [(known.past, known.n / total) for known, _ in ways]
    goes, way = ("goes in", "in to") if scene.outing.sit.morning else ("comes out", "out of")
    return reasons(
        dark,
        f"a buck bedded at {area.name} {goes} {ways_in_words(seen, unseen)} (bucks taken together, "
        "this season)" if seen else
        f"nobody knows the way {way} {area.name} yet: any side is as likely",
        f"if {buck} beds there, he comes into range {_in_ten(dry)} (wind not counted)",
        f"your scent reaches the bed {_in_ten(bed)}" if bed >= 0.1 else None,
        f"your scent reaches him before he's in range {_in_ten(path)}" if path >= 0.1 else None,
        f"walking in ruins it {_in_ten(walking)}" if walking >= 0.1 else None,
        _sight(scene.seen.get(area.area_id)),
        None
        if scene.place.shot_known else
        "figured for a 30-yard shot: set your own range on the stand, on the Map",
        f"the way in crosses {', '.join(scene.way_in.water)}: know how to get over in the dark"
        if scene.way_in and scene.way_in.water else None,
        None if scene.way_in else "no way in is drawn to it, so the walk in is not judged",
    )  # fmt: skip


# Played and told chances within this factor need no word; our choice.
ALIKE = 1.5


def _moved_words(played: float, told: float, bucks: int) -> tuple[str, ...]:
    """Say what the parts above make, where recalibration moved it far."""
    if not told or 1 / ALIKE <= played / told <= ALIKE:
        return ()
    with_it = "the wind" if bucks == 1 else "the wind and every buck"
    often = "more" if told > played else "less"
    return (
        f"multiplied out, with {with_it}, that's {odds(played)}; on made-up seasons such odds came "
        f"true {often} often, so we say {odds(told).removeprefix('about ')}",
    )


def _nobody_near(habits: Habits) -> tuple[str, ...]:
    """Say that nobody is known to bed near this stand, where it is not so of all of them."""
    if not habits.odds:
        return ()
    return ("no mature buck is known to bed near this stand",)


def _sight(seen: float | None) -> str | None:
    """Whether the bed looks onto the way in; nothing where the way stays far from it."""
    if seen is None:
        return None
    if seen < 0.05:
        return "the ground hides the way in from the bed"
    parts = max(1, round(10 * seen))
    return f"the bed looks onto {parts} parts in 10 of the way in near it, trees aside"


def old_pictures(day: date) -> str:
    """What to do where all pictures are of an earlier season."""
    return f"load this season's cards, or ask about a day you have pictures for, such as {day}"


def chances(chance: float | None) -> str:
    """A chance in a sentence: `about 1 chance in 6`."""
    if chance is None or chance < SLIGHT:
        return "almost no chance"
    return CERTAIN if chance >= 0.95 else about(chance, "chance")


def _in_ten(share: float) -> str:
    tenths = round(10 * share)
    if tenths == 0:
        return "1 time in 20 or less"
    return "nearly every time" if tenths == 10 else f"about {counted(tenths, 'time')} in 10"
