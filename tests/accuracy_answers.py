"""How often the answers' intervals hold the truth, measured over simulated seasons.

`rows()` gives the tables of docs/accuracy.md. Nominal are 95%. `width` is the mean width of the
intervals; beside the rate stands that of the exact Poisson interval, which forgets that days hang
together.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, fields, replace

import numpy as np
from simulator import Plan, Season, makers_trial, season

from camsign.answers.detections import asked
from camsign.answers.rivals import unidentified_of
from camsign.answers.scope import Scope, scope_of
from camsign.answers.visits import visits
from camsign.answers.when import when
from camsign.stats.estimate import Estimate

SEASONS = 500
# Common plans, and those in which an assumption fails.
PLANS: dict[str, Plan] = {
    "beds from day to day independent": Plan(persistence=0.0),
    "persistence 0.5": Plan(),
    "persistence 0.8": Plan(persistence=0.8),
    "30% unidentified": Plan(unidentified=0.3),
    "50% unidentified": Plan(unidentified=0.5),
    "hidden on half of the days": Plan(hidden=0.5),
    "one night pass a night and buck": Plan(night_passes=1.0),
    "two areas only passed by night, 2 a night and buck": Plan(
        corridors=2, corridor=0.0, night_passes=2.0
    ),
    "two corridors, walked 0.3 a dusk and dawn": Plan(corridors=2, corridor=0.3),
    "two corridors, walked 0.6 a dusk and dawn": Plan(corridors=2, corridor=0.6),
    "half of the directions known, a corridor": Plan(corridors=1, known_direction=0.5),
    "no direction known, a corridor": Plan(corridors=1, known_direction=0.0),
}
BINS = 10
# Said below the tables, in words that hold whatever the numbers are.
BREAKS = (
    "Why the widths: the rate's interval is wider than Poisson's, since days in a row tell less "
    "than separate ones, which Poisson pays for with its misses.",
)
# Properties of the trial on makers for each season: so quick that the deciles can be told apart.
MAKERS = 6


@dataclass
class Held:
    """How many intervals held the truth, of how many, lay below or above it, and how wide."""

    n: int = 0
    held: int = 0
    below: int = 0
    above: int = 0
    width: float = 0.0

    def take(self, interval: Estimate, truth: float) -> None:
        low, high = interval.low or 0.0, np.inf if interval.high is None else interval.high
        self.n += 1
        self.held += low <= truth <= high
        self.below += high < truth
        self.above += truth < low
        self.width += high - low

    @property
    def share(self) -> float:
        return self.held / max(self.n, 1)

    @property
    def mean_width(self) -> float:
        return self.width / max(self.n, 1)


@dataclass
class Tally:
    """What the seasons of one plan gave."""

    rate: Held = field(default_factory=Held)
    poisson: Held = field(default_factory=Held)
    chance: Held = field(default_factory=Held)
    unnamed: Held = field(default_factory=Held)

    def add(self, other: Tally) -> None:
        for f in fields(self):
            mine, theirs = getattr(self, f.name), getattr(other, f.name)
            if isinstance(mine, Held):
                for g in fields(mine):
                    setattr(mine, g.name, getattr(mine, g.name) + getattr(theirs, g.name))
            else:
                setattr(self, f.name, mine + theirs)


def measure(plan: Plan, seeds: Iterable[int]) -> Tally:
    """Ask everything of each season and compare with its truth."""
    found = Tally()
    for seed in seeds:
        one = season(plan, seed, truth_days=2000)
        everything = scope_of(one.session)
        _rates(found, one, everything)
        _chance(found, one, everything, seed)
        _unnamed(found, one, everything, plan.unidentified)
        one.session.con.close()
    return found


def _rates(found: Tally, one: Season, everything: Scope) -> None:
    for row in visits(one.session, replace(everything, buck_ids=tuple(one.bucks))).rows:
        truth = 100 * one.rate[row.buck_id, row.area_id or ""]
        found.rate.take(_estimate(row.per_100_nights), truth)
        found.poisson.take(_estimate(row.per_100_nights_poisson), truth)


def _chance(found: Tally, one: Season, everything: Scope, seed: int) -> None:
    """Ask of two bucks and areas of a season, since each costs as much as all the rates."""
    for step in (0, 1):
        buck, area = one.bucks[(seed + step) % len(one.bucks)], one.areas[seed % len(one.areas)]
        scope = replace(everything, buck_ids=(buck,), area_ids=(area,))
        chance = when(one.session, scope, band=False, test=False).shooting_light_chance
        found.chance.take(_estimate(chance), one.daylight[buck, area])


def _unnamed(found: Tally, one: Season, everything: Scope, truth: float) -> None:
    """Ask of every area which share of the passes before its cameras nobody named."""
    for area in one.areas:
        share = unidentified_of(asked(one.session, replace(everything, area_ids=(area,))))
        if share.n:
            found.unnamed.take(_estimate(share), truth)


def _estimate(figure: object) -> Estimate:
    return Estimate(figure.value, figure.low, figure.high)  # type: ignore[attr-defined]


def measured(name: str, seasons: int, start: int = 10_000) -> Tally:
    """One plan over so many seasons, on all processors."""
    seeds = range(start, start + seasons)
    workers = max(1, min(_processors(), seasons // 20))
    if workers == 1:
        return measure(PLANS[name], seeds)
    found = Tally()
    parts = [seeds[i::workers] for i in range(workers)]
    with ProcessPoolExecutor(workers) as pool:
        for part in pool.map(measure, [PLANS[name]] * workers, parts):
            found.add(part)
    return found


def _processors() -> int:
    """How many this process may use; `taskset` narrows them where there is one."""
    allowed = getattr(os, "sched_getaffinity", None)
    return len(allowed(0)) if allowed else os.cpu_count() or 1


def rows(seasons: int = SEASONS) -> list[str]:
    """The tables as markdown; each plan's row goes to stderr as soon as it is there."""
    found = {}
    for name in PLANS:
        begin = time.monotonic()
        found[name] = measured(name, seasons)
        lines = list(_intervals({name: found[name]}))
        spent = f"{time.monotonic() - begin:.0f} s"
        print(lines[2], spent, sep="\n", file=sys.stderr, flush=True)
    return [
        f"{seasons} simulated seasons of each kind (`tests/simulator.py`): 70 nights, 5 bucks, 4 "
        "areas with 2 cameras each, 3 cameras in 10 die, he slips by on 2 of 10 days in bed, 15% "
        "of events unidentified unless said. Share of 95% intervals that held the truth (mean "
        "width; visits per 100 nights, chance, share).",
        "",
        *_intervals(found),
        "",
        *_makers(MAKERS * seasons),
        "",
        *BREAKS,
    ]


def _intervals(found: dict[str, Tally]) -> Iterator[str]:
    yield (
        "| season | visit rate, about or elsewhere | visit rate, Poisson | daylight chance | "
        "passes nobody named |"
    )
    yield "|---" * 5 + "|"
    for name, t in found.items():
        held = (t.rate, t.poisson, t.chance, t.unnamed)
        cells = [f"{h.share:.1%} ({h.mean_width:.3g})" for h in held]
        yield f"| {name} | {' | '.join(cells)} |"


def _makers(properties: int) -> Iterator[str]:
    yield (
        f"Makers of rubs, over {properties} made-up properties of 8 rubs, 12 cameras and 6 bucks, "
        "one of them never named. Farthest off: of deciles with 100 or more, between the mean "
        "probability said and the share that happened."
    )
    yield ""
    yield (
        "| unidentified | log score | of the nearest camera's guess | farthest decile off | "
        "probability said → happened (how many) |"
    )
    yield "|---" * 5 + "|"
    for unidentified in (0.15, 0.30, 0.50):
        trial = makers_trial(range(50_000, 50_000 + properties), unidentified, draws=300)
        bins = decile_table(trial.p, trial.happened)
        worst = max((abs(said - was) for said, was, n in bins if n >= 100), default=np.nan)
        cells = ", ".join(f"{said:.2f} → {was:.2f} ({n})" for said, was, n in bins)
        yield (
            f"| {unidentified:.0%} | {trial.log_score:.3f} | {trial.nearest_log_score:.3f} | "
            f"{worst:.3f} | {cells} |"
        )


def decile_table(p: np.ndarray, happened: np.ndarray) -> list[tuple[float, float, int]]:
    """Mean probability, share that happened, and number, by tenth of probability."""
    tenth = np.clip((p * BINS).astype(int), 0, BINS - 1)
    return [
        (float(p[tenth == k].mean()), float(happened[tenth == k].mean()), int((tenth == k).sum()))
        for k in range(BINS)
        if (tenth == k).any()
    ]
