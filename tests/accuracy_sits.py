"""Ten evenings a season on made-up properties: following `tonight` against two simpler habits.

The truth is made apart from the program's own player: bucks choose their bed partly by the wind and
keep it for days, leave by ways that bend, and whom scent reaches is gone for the evening. Cameras
hang at three beds of four and see most, not all, of who passes them; cards are pulled once, before
the ten evenings, so nobody knows where he beds that day: the odds fade with each evening.

`python tests/accuracy_sits.py FIRST LAST` fits the two constants of camsign/sits/recalibration.toml
on these seeds (LAST left out) and writes them. The page is made of other seeds, never fitted on.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from unittest.mock import patch

import numpy as np
from answers_world import HOME, TZ, World, at

from camsign.answers.result import Figure
from camsign.logbook.session import Session
from camsign.sits import rows as said_rows
from camsign.sits.recalibration import FILE, LEAST, Recalibration
from camsign.sits.tonight import Tonight, answer_of, best_of, known_of, scenes_of
from camsign.sits.weather import typed_sky
from camsign.sun import sun_days

FIRST, WATCHED, EVENINGS, BEDS, BUCKS = date(2025, 9, 20), 40, 10, 4, 3
# Each evening is lived so many times with its beds and wind as they were: less noise, same mean.
LIVED = 12
SHOT_M, REACH_M, HALF_DEG, STEP = 27.432, 300.0, 30.0, 5.0
BINS = (0.0, 0.03, 0.07, 0.12, 0.2, 1.0)


@dataclass
class Season:
    """The truth of one property and autumn, in meters about home; winds are where it comes from."""

    seed: int
    rng: np.random.Generator
    beds: np.ndarray
    headings: np.ndarray
    shares: np.ndarray
    likes: np.ndarray
    favored: np.ndarray
    leaves: np.ndarray
    stands: list[tuple[int, np.ndarray, np.ndarray]]
    winds: np.ndarray
    speeds: np.ndarray
    where: np.ndarray


def season(seed: int) -> Season:
    """Draw a property: four beds, three ways out of each, two stands by each."""
    rng = np.random.default_rng([61, seed])
    turn = rng.uniform(0, 360) + np.arange(BEDS) * 90 + rng.normal(0, 12, BEDS)
    away = rng.uniform(650, 1000, BEDS)
    beds = np.stack([away * np.sin(np.radians(turn)), away * np.cos(np.radians(turn))], 1)
    headings = (
        rng.uniform(0, 360, (BEDS, 1)) + np.array([0, 110, 230]) + rng.normal(0, 15, (BEDS, 3))
    )
    shares = rng.dirichlet([2, 2, 2], BEDS)
    days = WATCHED + EVENINGS
    winds, speeds = np.empty(days), rng.uniform(2, 5, days)
    for n in range(days):
        keeps = n and rng.random() < 0.5
        winds[n] = winds[n - 1] + rng.normal(0, 25) if keeps else rng.uniform(0, 360)
    one = Season(
        seed, rng, beds, headings % 360, shares, rng.dirichlet([1.0] * BEDS, BUCKS),
        rng.uniform(0, 360, (BUCKS, BEDS)), rng.normal(-6, 20, BUCKS), [], winds % 360, speeds,
        np.empty((BUCKS, days), int),
    )  # fmt: skip
    for bed in range(BEDS):
        for way in rng.permutation(3)[:2]:
            one.stands.append(_stand(one, bed, int(way)))
    for buck in range(BUCKS):
        for n in range(days):
            pull = one.likes[buck] * np.exp(1.0 * np.cos(np.radians(winds[n] - one.favored[buck])))
            odds = np.append(0.8 * pull / pull.sum(), 0.2)
            stays = n and rng.random() < 0.35
            one.where[buck, n] = one.where[buck, n - 1] if stays else rng.choice(BEDS + 1, p=odds)
    return one


def _ahead(deg: float) -> np.ndarray:
    return np.array([np.sin(np.radians(deg)), np.cos(np.radians(deg))])


def _stand(one: Season, bed: int, way: int) -> tuple[int, np.ndarray, np.ndarray]:
    heading = one.headings[bed, way]
    side = _ahead(heading + 90) * one.rng.uniform(-22, 22)
    here = one.beds[bed] + _ahead(heading) * one.rng.uniform(120, 190) + side
    far = here + _ahead(heading + one.rng.uniform(-70, 70)) * 500
    return bed, here, np.stack([far, here])


def logbook(one: Season) -> tuple[Session, list[int], list[int]]:
    """What the hunter has: pictures and rubs up to the last card; with how many by bed."""
    world, rng = World(), one.rng
    ids = [world.buck(f"Buck {n}", 5.5) for n in range(BUCKS)]
    seen, rubs = [0] * BEDS, [0] * BEDS
    last = FIRST + timedelta(days=WATCHED - 1)
    watched = {bed: int(rng.integers(3)) for bed in rng.permutation(BEDS)[:3]}
    hung = {}
    for bed in range(BEDS):
        world.area(f"Bed {bed}", tuple(one.beds[bed]), 60)
        if bed in watched:
            spot = one.beds[bed] + _ahead(one.headings[bed, watched[bed]]) * 110
            hung[bed] = world.camera(f"CAM{bed:02d}", tuple(spot), FIRST, last)
        use = (one.where[:, :WATCHED] == bed).sum()
        for _ in range(rng.poisson(0.4 * use * rng.lognormal(0, 0.5))):
            way = rng.choice(3, p=one.shares[bed])
            spot = one.beds[bed] + _ahead(one.headings[bed, way]) * rng.uniform(70, 190)
            travel = (one.headings[bed, way] + rng.normal(0, 25)) % 360
            world.sign("rub", tuple(spot), last, (FIRST, last), float(travel))
            rubs[bed] += 1
    suns = sun_days(*HOME, FIRST, last, TZ)
    for buck, n in np.ndindex(BUCKS, WATCHED):
        bed = one.where[buck, n]
        if bed not in hung:
            continue
        for sun, out, mean in ((suns.sunrise[n], False, -6), (suns.sunset[n], True, 0)):
            way = rng.choice(3, p=one.shares[bed])
            if way != watched[bed] or rng.random() > 0.75:
                continue
            off = (one.leaves[buck] if out else mean) + rng.normal(0, 35) + (4 if out else -4)
            travel = (one.headings[bed, way] + (0 if out else 180) + rng.normal(0, 15)) % 360
            moment = np.array([sun + np.timedelta64(int(off * 60), "s")])
            world.seen_many(ids[buck], hung[bed], moment, travel_deg=float(travel))
            seen[bed] += 1
    for n, (_, here, path) in enumerate(one.stands):
        lat, lon = at(*here)
        shape = json.dumps({"type": "Point", "coordinates": [lon, lat]})
        world.add("places", place=f"p-{n}", name=f"Stand {n}", kind="stand", shape=shape,
                  shoots_m=SHOT_M)  # fmt: skip
        line = [[lon, lat] for lat, lon in (at(*p) for p in path)]
        shape = json.dumps({"type": "LineString", "coordinates": line})
        world.add("places", place=f"p-w{n}", name=f"Way {n}", kind="way in", shape=shape)
    return world.session(), seen, rubs


def met(one: Season, n: int, stand: int) -> float:
    """How often a buck comes into range in shooting light on the n-th day, not winded before."""
    _, here, path = one.stands[stand]
    lived = [any(_comes(one, [b, n, i], here, path) for b in range(BUCKS)) for i in range(LIVED)]
    return float(np.mean(lived))


def _comes(one: Season, which: list[int], here: np.ndarray, path: np.ndarray) -> bool:
    buck, n, _ = which
    rng = np.random.default_rng([one.seed, *which])
    bed = one.where[buck, n]
    if bed == BEDS:
        return False
    lies = one.beds[bed] + rng.normal(0, 22, 2)
    way = rng.choice(3, p=one.shares[bed])
    first = one.headings[bed, way] + rng.normal(0, 12)
    bends, pace = rng.normal(0, 10), rng.uniform(0.3, 0.9) * 60
    gone = one.leaves[buck] + rng.normal(0, 35)
    wander = rng.normal(0, 12, 80)
    for i in range(6):
        walker = path[0] + (path[1] - path[0]) * (i + 1) / 6
        if _winded(one, n, walker, lies, wander[i]):
            return False
    for i, minute in enumerate(np.arange(-150.0, 31.0, STEP)):
        walked = max(0.0, minute - gone) * pace
        if walked > 600:
            return False
        spot = lies + _ahead(first + bends * min(1, walked / 150)) * walked
        if walked > 0 and np.hypot(*(spot - here)) <= SHOT_M + pace * STEP / 2:
            return _passes(lies, first, bends, here)
        if _winded(one, n, here, spot, wander[10 + i]):
            return False
    return False


def _passes(lies: np.ndarray, first: float, bends: float, here: np.ndarray) -> bool:
    steps = np.arange(0, 600, 5.0)
    spots = [lies + _ahead(first + bends * min(1, s / 150)) * s for s in steps]
    return bool(min(np.hypot(*(p - here)) for p in spots) <= SHOT_M)


def _winded(one: Season, n: int, nose: np.ndarray, deer: np.ndarray, wander: float) -> bool:
    to = deer - nose
    away = float(np.hypot(*to))
    turn = float(np.degrees(np.arctan2(*to)))
    off = abs((turn - (one.winds[n] + wander + 180) + 180) % 360 - 180)
    return away <= REACH_M and off <= HALF_DEG


@dataclass(frozen=True)
class Told:
    """A stand's said chance on one evening of a season, and how often he came."""

    said: Figure
    came: float
    seed: int
    stand: str


def trial(seed: int) -> tuple[dict[str, float], list[Told]]:
    """Meetings of ten evenings by each habit, and every stand's said chance with what happened."""
    one = season(seed)
    session, seen, rubs = logbook(one)
    chance = np.random.default_rng([62, seed])
    count = dict.fromkeys(("tonight", "most pictures", "most rubs", "sat"), 0.0)
    said: list[Told] = []
    for n in range(WATCHED, WATCHED + EVENINGS):
        known = known_of(session, FIRST + timedelta(days=n))
        wind = (one.winds[n] + chance.normal(0, 20)) % 360
        sky = typed_sky(f"{wind:.0f}", float(one.speeds[n]), 0.5)
        answer = answer_of(known, scenes_of(known, sky))
        came = [met(one, n, stand) for stand in range(len(one.stands))]
        said += [
            Told(r.any_chance, came[int(r.stand_id[2:])], seed, r.stand_id) for r in answer.stands
        ]
        best = chosen(answer)
        count["tonight"] += 0.0 if best is None else came[best]
        count["sat"] += best is not None
        for name, by in (("most pictures", seen), ("most rubs", rubs)):
            bed = int(np.argmax(by))
            own = [i for i, (b, _, _) in enumerate(one.stands) if b == bed]
            count[name] += came[int(chance.choice(own))]
    session.con.close()
    return count, said


def chosen(answer: Tonight) -> int | None:
    """The stand that is named, None where it says to stay out."""
    if answer.stay_out:
        return None
    best = best_of(answer.stands)
    return int(best.stand_id[2:]) if best else None


# Judged on seeds of their own, on which nothing was tuned or fitted.
FRESH = 2000


def rows(n: int = 40) -> list[str]:
    """The section of the page, from so many seasons."""
    found = [trial(seed) for seed in range(FRESH, FRESH + n)]
    told = [pair for _, said in found for pair in said]
    counts = {k: np.array([c[k] for c, _ in found]) for k in found[0][0]}
    return [*_habits(counts, n), "", *_calibration(told), "", _BREAKS]


def _habits(counts: dict[str, np.ndarray], n: int) -> Iterator[str]:
    yield f"{n} seasons of {EVENINGS} evenings, eight stands each; one evening, one stand."
    yield ""
    yield "| habit | meetings a season | tonight has so many times as many (95% over seasons) |"
    yield "|---|---|---|"
    ours = counts["tonight"]
    yield f"| tonight (sat on {counts['sat'].mean():.1f} of {EVENINGS}) | {ours.mean():.2f} | |"
    for name in ("most pictures", "most rubs"):
        low, high = _ratio(ours, counts[name])
        times = ours.sum() / max(counts[name].sum(), 1)
        mean, span = counts[name].mean(), f"{low:.2f} to {high:.2f}"
        yield f"| the area with the {name} | {mean:.2f} | {times:.2f} ({span}) |"


def _ratio(ours: np.ndarray, theirs: np.ndarray) -> tuple[float, float]:
    pick = np.random.default_rng(3).integers(0, len(ours), (2000, len(ours)))
    many = ours[pick].sum(1) / np.maximum(theirs[pick].sum(1), 1)
    low, high = np.quantile(many, [0.025, 0.975])
    return float(low), float(high)


def _calibration(told: list[Told]) -> Iterator[str]:
    yield (
        "| said, any mature buck | stands and evenings | said on average (its intervals) |"
        " happened (95% over seasons) |"
    )
    yield "|---|---|---|---|"
    p = np.array([one.said.value or 0.0 for one in told])
    for low, high in zip(BINS[:-1], BINS[1:], strict=True):
        here = [one for one, q in zip(told, p, strict=True) if low <= q < high]
        if not here:
            continue
        mean = np.mean(
            [[x or 0.0 for x in (t.said.value, t.said.low, t.said.high)] for t in here], 0
        )
        came, ends = np.mean([one.came for one in here]), _over_seasons(here)
        yield (
            f"| {100 * low:.0f} to {high:.0%} | {len(here)} |"
            f" {mean[0]:.3f} ({mean[1]:.3f} to {mean[2]:.3f}) |"
            f" {came:.3f} ({ends[0]:.3f} to {ends[1]:.3f}) |"
        )


def _over_seasons(here: list[Told]) -> tuple[float, float]:
    """The share that happened, 95% over whole seasons drawn anew."""
    seeds = sorted({one.seed for one in here})
    sums = np.array([[sum(t.came for t in here if t.seed == s), sum(t.seed == s for t in here)]
                     for s in seeds])  # fmt: skip
    many: np.ndarray = sums[
        np.random.default_rng(4).integers(0, len(seeds), (2000, len(seeds)))
    ].sum(1)
    low, high = np.quantile(many[:, 0] / many[:, 1], [0.025, 0.975])
    return float(low), float(high)


AS_PLAYED = Recalibration(0.0, 1.0, ((0.0, 0.0), (0.0, 0.0)), 0.0)


def refit(seeds: range) -> str:
    """Fit intercept and slope on played chances of some seasons: the text of recalibration.toml."""
    with patch.object(said_rows, "kept", lambda: AS_PLAYED):
        found = [trial(seed)[1] for seed in seeds]
    return as_toml(found, seeds)


def as_toml(found: list[list[Told]], seeds: range) -> str:
    """The constants that fit what was told and what came of it, with their doubt over seasons."""
    p = [np.array([t.said.value or 0.0 for t in one]) for one in found]
    came = [np.array([t.came for t in one]) for one in found]
    best = _cox(p, came)
    chance, tried = np.random.default_rng(5), []
    for _ in range(200):
        pick = chance.integers(0, len(found), len(found))
        tried.append(_cox([p[i] for i in pick], [came[i] for i in pick]))
    (a, b), (_, d) = np.cov(np.array(tried).T)
    return f"""\
# Fitted by `python tests/accuracy_sits.py {seeds.start} {seeds.stop}` on {len(found)} made-up
# seasons of {EVENINGS} evenings: logit(came) = intercept + slope * logit(played) by maximum
# likelihood; covariance over 200 bootstraps of whole seasons. docs/accuracy.md judges it on others.
intercept = {best[0]:.3f}
slope = {best[1]:.3f}
covariance = [[{a:.5f}, {b:.5f}], [{b:.5f}, {d:.5f}]]
# How far one stand's own chance lies from that, as a factor (standard deviation of its logarithm):
# what a stand's ten evenings differ by more than chance explains.
apart = {_apart([one for season in found for one in season], best):.2f}
"""


def _apart(told: list[Told], by: np.ndarray) -> float:
    stands: dict[tuple[int, str], list[tuple[float, float]]] = {}
    for one in told:
        held = min(max(one.said.value or 0.0, LEAST), 1 - LEAST)
        said = 1 / (1 + np.exp(-by[0] - by[1] * np.log(held / (1 - held))))
        stands.setdefault((one.seed, one.stand), []).append((said, one.came))
    pairs = np.array(list(stands.values()))
    off = pairs[..., 1] - pairs[..., 0]
    more = (off.mean(1) ** 2).mean() - (off.var(1, ddof=1) / off.shape[1]).mean()
    return float(np.sqrt(np.log1p(max(0.0, more) / (pairs[..., 0].mean(1) ** 2).mean())))


def _cox(played: Sequence[np.ndarray], came: Sequence[np.ndarray]) -> np.ndarray:
    from scipy.optimize import minimize

    held = np.clip(np.concatenate(played), LEAST, 1 - LEAST)
    x, happened = np.log(held) - np.log1p(-held), np.concatenate(came)

    def off(by: np.ndarray) -> float:
        line = by[0] + by[1] * x
        return float(np.mean(np.logaddexp(0, line) - happened * line))

    return np.asarray(minimize(off, (0.0, 1.0), method="BFGS").x)


_BREAKS = (
    "Where it breaks: the odds are set on the same kind of made-up season as they are judged on, "
    "so this shows that they hold there, not in your woods, which are less kind: here are three "
    "ways to a bed, a forecast off by 20 degrees, every bed drawn, every picture named. No winds "
    "were kept, so which wind he beds on played no part."
)


if __name__ == "__main__":
    FILE.write_text(refit(range(int(sys.argv[1]), int(sys.argv[2]))), encoding="utf-8")
