"""How well beds are found from rub bearings: `python tests/accuracy_sign.py`.

On made-up properties. Prints the tables of docs/sign.md. Nothing here is a test; it takes minutes.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from math import hypot
from unittest.mock import patch

import numpy as np
from sign_world import Kind, World, invent

from camsign.sign import radiants
from camsign.sign.origin_likelihood import Law, Rubs, fitted
from camsign.sign.radiant_region import RadiantRegion, region
from camsign.sign.radiants import Search, chance_of, judged, least_gain

PROPERTIES = 200
CASES = 1000
ONE_BED = Kind(beds=(1, 1), rubs=(10, 40), edge=False, side=800.0)
_KINDS = {
    "reference": Kind(),
    "travel scatters more (kappa 3)": Kind(kappa=3.0),
    "travel scatters less (kappa 8)": Kind(kappa=8.0),
    "a quarter of bearings reversed": Kind(reverse=0.25),
    "200 scattered rubs a km²": Kind(scattered=200.0),
    "rubs along four to seven exits only": Kind(exits=(4, 7)),
    "rubs farther off (mean 90 m)": Kind(distance=90.0),
}
_LAWS = {
    "the defaults": Law(),
    "what likelihood fits (kappa 7, odds 7, length 57 m)": Law(kappa=7.0, odds=7.0, length_m=57.0),
    "kappa 2.5": Law(kappa=2.5),
    "kappa 6": Law(kappa=6.0),
    "odds 1.5": Law(odds=1.5),
    "odds 6": Law(odds=6.0),
    "length 30 m": Law(length_m=30.0),
    "length 70 m": Law(length_m=70.0),
    "inward 0.05": Law(inward=0.05),
    "inward 0.25": Law(inward=0.25),
}

# What a radiant must have before it is reported, and other values of it.
_RULES = {
    "an axis need not be worse (0 for 1)": ("OVER_AXIS", 0.0),
    "an axis must be much worse (3 for 1)": ("OVER_AXIS", 3.0),
    "outward in two sectors (for 3)": ("LEAST_SECTORS", 2),
    "outward in four sectors (for 3)": ("LEAST_SECTORS", 4),
    "one in twenty by chance (for ten)": ("FALSE_SHARE", 0.05),
    "one in five by chance (for ten)": ("FALSE_SHARE", 0.2),
}


@dataclass
class Outcome:
    """What was found on a property. `errors` [m]: of beds with ten or more rubs, inf if missed."""

    errors: list[float]
    few: list[float]
    held: list[bool]
    on_edge: bool
    stray: int


def outcome(world: World, law: Law) -> Outcome:
    """Search one property and compare with what is known of it."""
    rubs = Rubs(world.east, world.north, world.travel)
    search = Search(rubs, law)
    search.run()
    clear = judged(search)
    least = least_gain(clear, chance_of(search))
    kept = [s for s in clear if s.gain >= least]
    suited = fitted(rubs, [(s.east, s.north) for s in kept], law)
    regions = [region(search, s, suited) for s in kept]
    spots = [(s.east, s.north) for s in kept]
    errors, few = [], []
    for east, north, n in world.beds:
        far = min((hypot(x - east, y - north) for x, y in spots), default=float("inf"))
        (errors if n >= 10 else few).append(far)
    stray = [(x, y) for x, y in spots if world.bed_error(x, y)[0] > 75]
    return Outcome(
        errors,
        few,
        _held(world, spots, regions),
        any(world.on_edge(x, y) for x, y in stray),
        sum(not world.on_edge(x, y) for x, y in stray),
    )


def _held(
    world: World, spots: list[tuple[float, float]], regions: list[RadiantRegion]
) -> list[bool]:
    """Whether the region of each radiant that is a bed's holds the bed."""
    held = []
    for (x, y), found in zip(spots, regions, strict=True):
        far, bed = world.bed_error(x, y)
        if far <= 75:
            held.append(_holds(found, *world.beds[bed][:2]))
    return held


def _holds(region: RadiantRegion, east: float, north: float) -> bool:
    """Whether a point [m] lies inside."""
    turn = np.radians(region.bearing_deg)
    x, y = east - region.east, north - region.north
    along, across = x * np.sin(turn) + y * np.cos(turn), x * np.cos(turn) - y * np.sin(turn)
    return bool((along / region.major_m) ** 2 + (across / region.minor_m) ** 2 <= 1)


Rule = tuple[str, float]


def _job(job: tuple[int, Kind, Law, Rule | None]) -> Outcome:
    seed, kind, law, rule = job
    world = invent(np.random.default_rng(seed), kind)
    if rule is None:
        return outcome(world, law)
    with patch.object(radiants, *rule):
        return outcome(world, law)


def outcomes(
    kind: Kind, law: Law, n: int, seed: int, alone: bool = False, rule: Rule | None = None
) -> list[Outcome]:
    """Search `n` properties, on all processors or `alone` in this process; `rule` replaces one."""
    jobs = [(seed + i, kind, law, rule) for i in range(n)]
    if alone:
        return [_job(job) for job in jobs]
    with ProcessPoolExecutor() as pool:
        return list(pool.map(_job, jobs, chunksize=5))


def _line(name: str, done: list[Outcome]) -> str:
    errors = np.array([e for o in done for e in o.errors])
    few = np.array([e for o in done for e in o.few])
    hit = errors[errors <= 75]
    edges = np.mean([o.on_edge for o in done])
    stray = np.mean([o.stray for o in done])
    cells = (
        name,
        str(len(done)),
        str(len(errors)),
        f"{np.mean(errors <= 30):.1%}",
        f"{np.mean(errors <= 75):.1%}",
        f"{np.median(hit):.0f} m",
        f"{np.mean(few <= 30):.0%}" if len(few) else "–",
        f"{edges:.1%}",
        f"{stray:.2f}",
    )
    return f"| {' | '.join(cells)} |"


_INTRO = (
    "The reference is a square of 1.5 km with 2 to 5 beds of 6 to 40 rubs at 60 m on average, "
    "kappa 5, a tenth of the bearings reversed, places off by 4 m, 60 scattered rubs a km² and one "
    "feeding edge of 250 m rubbed in two opposite directions. How many beds there are is not told."
)
_OTHERS = (
    "Reference properties apart from those above, searched with other constants and other rules:"
)
_HEAD = (
    "| properties | how many | beds with 10+ rubs | within 30 m | within 75 m | median error "
    "| beds with 6–9 rubs within 30 m | edge called bedding | beds that are none, a property |",
    "|---|---|---|---|---|---|---|---|---|",
)


def rows(n: int = PROPERTIES, tell: Callable[[str], object] = lambda _: None) -> list[str]:
    """Give the tables as markdown lines: by property, by constants, coverage."""
    lines: list[str] = []

    def add(some: Iterable[str]) -> None:
        for line in some:
            lines.append(line)
            tell(line)

    add([_INTRO, "", *_HEAD])
    for name, kind in _KINDS.items():
        add([_line(name, outcomes(kind, Law(), n if kind == Kind() else n // 2, 10_000))])
    cases = CASES * n // PROPERTIES
    add(["", f"95% regions, {cases:,} single beds of 10 to 40 rubs for each kappa:", ""])
    add(["| kappa of travel | found | the region held the bed |", "|---|---|---|"])
    for kappa in (3.0, 5.0, 8.0):
        done = outcomes(replace(ONE_BED, kappa=kappa), Law(), cases, 30_000)
        held = [h for o in done for h in o.held]
        add([f"| {kappa:g} | {len(held):,} | {np.mean(held):.1%} |"])
    add(["", _OTHERS, "", *_HEAD])
    for name, law in _LAWS.items():
        add([_line(name, outcomes(Kind(), law, n // 4, 20_000))])
    for name, rule in _RULES.items():
        add([_line(name, outcomes(Kind(), Law(), n // 4, 20_000, rule=rule))])
    return lines


if __name__ == "__main__":
    rows(int(sys.argv[1]) if len(sys.argv) > 1 else PROPERTIES, print)
