"""What else answers say, held against made-up truth: a table of docs/accuracy.md.

`python tests/accuracy_said.py [seasons]` prints it. Each line is one thing that is said, by itself.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator

import numpy as np
from clock_season import case
from sign_world import Kind, World, invent
from simulator import Plan, Season, season
from test_sign_radiants import found_in, rubs_of, walked_both_ways
from test_stats_activity import share_held
from wild_seasons import Wild, wild_season

from camsign.answers.scope import scope_of
from camsign.answers.visits import visits
from camsign.answers.when import when
from camsign.clock.audit import audit
from camsign.clock.verdicts import RIGHT, UNCLEAR
from camsign.stats.order import giving_way
from camsign.stats.shrunk import effect_within, shrunk_chances

JUDGING = 95_000
FEW, OFTEN = 10, 20
Line = tuple[str, str, str]


def lines(n: int) -> Iterator[Line]:
    """Give what is said, what of it was tried, and what came out."""
    yield from _shares_and_trends(n)
    yield from _hours(n)
    yield from _phases(50 * n)
    yield from _bands(15 * n)
    yield from _giving_way(50 * n)
    yield from _late_switches(20 * n)
    yield from _no_beds(5 * n)


def _shares_and_trends(n: int) -> Iterator[Line]:
    for words, deaths in (("cameras that all live", 0.0), ("six cameras in ten die", 0.6)):
        trends, shares = [], []
        for seed in range(JUDGING, JUDGING + n):
            one = season(Plan(failures=deaths), seed, truth_days=2000)
            for row in visits(one.session, scope_of(one.session)).rows:
                if row.trend.value is not None:
                    trends.append((row.trend.low or 0) <= 1 <= (row.trend.high or np.inf))
                truth = one.lit.get((row.buck_id, row.area_id or ""))
                if row.visits >= FEW and truth is not None:
                    light = row.shooting_light
                    shares.append((light.low or 0) <= truth <= (light.high or 1))
            one.session.con.close()
        tried = f"bucks that changed nothing, {words}"
        yield "second half of the days against the first", tried, f"holds 1 in {_of(trends)}"
        tried = f"{FEW} visits or more, {words}"
        yield "share of visits in shooting light", tried, f"holds the truth in {_of(shares)}"


def _hours(n: int) -> Iterator[Line]:
    """His best hour: whether it may be hunted, what sitting it is worth, and its chance."""
    legal, named, usual, best, evening = [], [], [], [], []
    for seed in range(JUDGING, JUDGING + n):
        one = wild_season(Wild(ahead=10), seed)
        for area in one.drawn:
            buck = max(one.bucks, key=lambda b: one.bedded(b, area))
            if one.bedded(buck, area) < OFTEN:
                continue
            asked = when(one.session, scope_of(one.session, [buck], [area]), band=False, test=False)
            worth = [
                one.expected_within(area, s.anchor, s.from_minutes, s.to_minutes)
                for s in asked.best_spans
            ]
            if asked.best_spans:
                legal.append(_within_light(asked.best_spans[0]))
                named.append(worth[0])
                usual.append(float(np.mean(worth)))
                best.append(max(worth))
                evening.append(one.expected_within(area, "sunset", -240, 30))
        one.session.con.close()
    what, tried = "his best hour", f"areas where one buck bedded {OFTEN} days or more"
    yield what, tried, f"lies within shooting light in {_of(legal)}"
    meets = [f"{np.mean(x):.2f}" for x in (named, usual, best, evening)]
    yield (
        what,
        "mature bucks expected in ten days: that hour, any hour, the best, all evening",
        (", ".join(meets)),
    )
    yield from _first_hours(n)


def _within_light(span: object) -> bool:
    if span.anchor == "sunrise":  # type: ignore[attr-defined]
        return span.from_minutes >= -30  # type: ignore[attr-defined, no-any-return]
    return span.to_minutes <= 30  # type: ignore[attr-defined, no-any-return]


def _first_hours(n: int) -> Iterator[Line]:
    said, true = [], []
    for seed in range(JUDGING, JUDGING + n):
        one = season(Plan(failures=0.0), seed, truth_days=2000)
        for buck in one.bucks[:2]:
            for area in one.areas[:2]:
                scope = scope_of(one.session, [buck], [area])
                spans = when(one.session, scope, band=False, test=False).best_spans
                if spans and spans[0].days >= 3:
                    first = spans[0]
                    said.append(first.chance)
                    true.append(_true_chance(one, buck, area, first))
        one.session.con.close()
    held = [(c.low or 0) <= t <= (c.high or 1) for c, t in zip(said, true, strict=True)]
    mean = float(np.mean([c.value or 0 for c in said]))
    yield (
        "the chance of his best hour",
        f"{len(said)} bucks and areas, seen in it on three days or more",
        f"{mean:.3f} said, {np.mean(true):.3f} true; holds the truth in {_of(held)}",
    )


def _true_chance(one: Season, buck: str, area: str, span: object) -> float:
    played = one.played[buck, area]
    since = played.since_rise if span.anchor == "sunrise" else played.since_set  # type: ignore[attr-defined]
    hit = (since >= span.from_minutes) & (since < span.to_minutes)  # type: ignore[attr-defined]
    return len(set(played.day[hit].tolist())) / played.days


def _phases(n: int) -> Iterator[Line]:
    truth, part = np.array([0.02, 0.02, 0.4]), np.repeat(range(3), 40)
    for words, keeps in (("days apart", 0.0), ("days in spells", 0.5)):
        rng, said, held = np.random.default_rng(JUDGING), [], []
        for _ in range(n):
            days = _days(rng, truth[part], keeps)
            seen = [int(days[part == i].sum()) for i in range(3)]
            found = [
                x.estimate() for x in shrunk_chances(seen, [40] * 3, effect_within(days, part))
            ]
            said.append([x.value or 0 for x in found])
            held += [(x.low or 0) <= t <= (x.high or 1) for x, t in zip(found, truth, strict=True)]
        means = ", ".join(f"{x:.2f}" for x in np.mean(said, axis=0))
        yield (
            "chances of three phases, 0.02, 0.02 and 0.40",
            f"{n} seasons of 120 days, {words}",
            f"{means}; holds the truth in {_of(held)}",
        )


def _days(rng: np.random.Generator, chance: np.ndarray, keeps: float) -> np.ndarray:
    """Days of 0 and 1 with these chances; about, and so pictured half of the time, in spells."""
    about = rng.random(len(chance)) < 2 * chance
    for day in range(1, len(chance)):
        if chance[day] == chance[day - 1] and rng.random() < keeps:
            about[day] = about[day - 1]
    return (about & (rng.random(len(chance)) < 0.5)).astype(int)


def _bands(n: int) -> Iterator[Line]:
    for visited in (8, 40, 100):
        tried = f"{n} curves of {visited} visits"
        yield "the band of his hours", tried, f"holds {share_held(visited, n, 91):.0%} of points"


def _giving_way(n: int) -> Iterator[Line]:
    what = "one gives way to the other"
    for words, hours, keeps in (
        ("same hours, days apart", (17.0, 17.0), 0.0),
        ("one at 5 PM, one at 8", (17.0, 20.0), 0.0),
        ("one at 5 PM, one at 8, days in spells", (17.0, 20.0), 0.6),
    ):
        rng, said = np.random.default_rng(JUDGING), []
        for _ in range(n):
            took = [np.flatnonzero(_days(rng, np.full(90, 0.3), keeps)) for _ in hours]
            first, second = (
                24.0 * days + hour + rng.normal(0, 0.5, len(days))
                for days, hour in zip(took, hours, strict=True)
            )
            p = giving_way(first, second).p
            said += [] if p is None else [p <= 0.05]
        yield what, f"two who don't mind each other, {words}", f"said of {_of(said)}"


def _late_switches(n: int) -> Iterator[Line]:
    """A clock an hour off behind a time change, of which few pictures lie behind it."""
    rng, right, told = np.random.default_rng(JUDGING), [], 0
    for _ in range(n):
        one = case(rng, "switch", frames=600, before=(0.9, 0.97))
        finding = audit(one.read)[0]
        told += finding.verdict != UNCLEAR
        right.append(finding.verdict == RIGHT)
    yield (
        "a clock is right",
        f"not set at a time change, 3 to 10% of its days behind it; {told} with a verdict",
        f"said of {_of(right)}",
    )


def _no_beds(n: int) -> Iterator[Line]:
    kinds = {
        "a hub of trails, walked both ways": lambda rng: walked_both_ways(rng, around=False),
        "a food plot, rubbed around": lambda rng: walked_both_ways(rng, around=True),
        "three trails of 600 m, walked both ways": _trails,
        "60 scattered rubs a km²": _scattered,
    }
    for words, made in kinds.items():
        false = []
        for seed in range(n):
            _, found = found_in(rubs_of(made(np.random.default_rng([seed, JUDGING]))))
            false.append(bool(found))
        yield "a bed by its rubs", f"properties without one: {words}", f"said of {_of(false)}"


def _scattered(rng: np.random.Generator) -> World:
    return invent(rng, Kind(beds=(0, 0), edge=False))


def _trails(rng: np.random.Generator) -> World:
    parts = []
    for _ in range(3):
        line, n = rng.uniform(0, np.pi), 25
        middle, along = rng.uniform(-300, 300, 2), rng.uniform(-300, 300, n)
        across = rng.normal(0, 6, n)
        travel = line + rng.vonmises(0, 8, n) + np.pi * (rng.random(n) < 0.5)
        parts.append(
            (
                middle[0] + along * np.sin(line) + across * np.cos(line),
                middle[1] + along * np.cos(line) - across * np.sin(line),
                travel % (2 * np.pi),
            )
        )
    return World(*(np.concatenate(x) for x in zip(*parts, strict=True)), [])


def _of(hits: Iterable[bool]) -> str:
    some = list(hits)
    return f"{np.mean(some):.1%} of {len(some)}" if some else "none"


def rows(n: int = 20) -> list[str]:
    """Give the section: the table, by `n` seasons of each kind and more of what is quicker."""
    about = (
        f"{n} seasons of each kind (`tests/simulator.py` and `tests/wild_seasons.py`, seeds from "
        f"{JUDGING}), more of what is quicker made; nothing was set on them. Intervals are 95%."
    )
    table = [f"| {' | '.join(line)} |" for line in lines(n)]
    return [about, "", "| what is said | tried on | came out |", "|---|---|---|", *table]


if __name__ == "__main__":
    for row in rows(int(sys.argv[1]) if len(sys.argv) > 1 else 20):
        print(row)
