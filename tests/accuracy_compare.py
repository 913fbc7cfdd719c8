"""Ten evenings sat at the area that `compare` puts first, and at the way `bedding` names first.

Over wild seasons, against simpler habits; what counts is how often mature bucks are expected to
leave the area, or walk through it, in shooting light in the ten evenings behind the season: all its
ways together, or for one stand those that lead past it. `python tests/accuracy_compare.py [seasons]
[first seed]` prints the tables.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np
from accuracy_beds import PLANS as BEDS
from wild_seasons import Season, wild_season

from camsign.answers.bedding import bedding
from camsign.answers.compare import compare
from camsign.answers.compared import Compare, Compared
from camsign.answers.scope import scope_of
from camsign.answers.ways import Ways

EVENINGS = 10
# Constants were set on seeds below this.
JUDGING = 150_000
KINDS = {
    "as told above": {},
    "corridors walked a third as often": {"corridor": 0.1},
    "hidden on 40%": {},
    "50% without a name": {},
    "all of it: 40% hidden, 40% nameless, half told": {"trail_rubs": 4.0},
}
PLANS = {
    name: replace(BEDS.get(name, BEDS["as told above"]), ahead=EVENINGS, **more)
    for name, more in KINDS.items()
}
HABITS = (
    "compare", "by visits in shooting light", "most pictures", "most rubs", "rubs and pictures",
    "any area", "all habits known", "best in hindsight",
)  # fmt: skip


@dataclass
class Met:
    """What the seasons of one plan gave: meetings by habit, and of one stand; and how often."""

    areas: dict[str, list[float]] = field(default_factory=lambda: {h: [] for h in HABITS})
    corridor: list[bool] = field(default_factory=list)
    corridor_best: list[bool] = field(default_factory=list)
    best: list[bool] = field(default_factory=list)
    best_or_tied: list[bool] = field(default_factory=list)
    held: list[bool] = field(default_factory=list)
    said: list[float] = field(default_factory=list)
    true: list[float] = field(default_factory=list)
    apart: list[bool] = field(default_factory=list)
    stands: list[tuple[float, float, float, float]] = field(default_factory=list)


def measure(found: Met, one: Season) -> None:
    """Ask of a season, and look what each choice would have met."""
    scope = scope_of(one.session)
    answer = compare(one.session, scope)
    pictures, rubs = _pictures(one), _rubs(one, answer)
    worth = one.evenings
    by = {row.area_id: row for row in answer.rows}
    likes: dict[str, dict[str, float]] = {
        "compare": {a: -by[a].rank for a in by},
        "by visits in shooting light": {a: _visits(by[a]) for a in by},
        "most pictures": pictures,
        "most rubs": {a: rubs[a] + 1e-6 * pictures[a] for a in by},
        "rubs and pictures": {a: _share(rubs, a) + _share(pictures, a) for a in by},
        "all habits known": one.expected,
        "best in hindsight": worth,
    }
    for habit, liked in likes.items():
        found.areas[habit].append(worth[max(liked, key=lambda a: liked[a])])
    found.areas["any area"].append(float(np.mean(list(worth.values()))))
    first, best = answer.rows[0], max(worth, key=lambda a: worth[a])
    found.corridor.append(first.area_id in one.nobodys)
    found.corridor_best.append(best in one.nobodys)
    found.best.append(first.area_id == best)
    found.best_or_tied.append(first.area_id == best or by[best].area in first.tied_with)
    for row in answer.rows:
        walks = row.evening_walks_per_10_days
        if walks.low is not None and walks.high is not None:
            found.held.append(walks.low <= one.came[row.area_id] <= walks.high)
            found.said.append(walks.value or 0.0)
            found.true.append(worth[row.area_id])
    found.apart += _apart(answer, worth)
    for area in one.areas[: one.plan.beds]:
        found.stands += _stand(
            one, area, bedding(one.session, replace(scope, area_ids=(area,))).ways
        )


def _apart(answer: Compare, worth: dict[str, float]) -> Iterator[bool]:
    """Say of each two areas that are told apart whether the better one stands first."""
    for i, row in enumerate(answer.rows):
        for other in answer.rows[i + 1 :]:
            if other.area not in row.tied_with:
                yield worth[row.area_id] >= worth[other.area_id]


def _visits(row: Compared) -> float:
    return (row.shooting_light_visits_per_10_days.value or 0.0) * (row.visits > 0)


def _share(counts: dict[str, float], area: str) -> float:
    return counts[area] / max(sum(counts.values()), 1)


def _pictures(one: Season) -> dict[str, float]:
    rows = one.session.con.execute(
        "SELECT area, count(*) FROM area_pairs JOIN detections USING (deployment)"
        " WHERE distance_m <= 200 GROUP BY area"
    ).fetchall()
    return {area: float(dict(rows).get(area, 0)) for area in one.areas}


def _rubs(one: Season, answer: Compare) -> dict[str, float]:
    rows = one.session.con.execute(
        "SELECT area, count(DISTINCT sign) FROM area_signs WHERE distance_m <= 200 GROUP BY area"
    ).fetchall()
    return {row.area_id: float(dict(rows).get(row.area_id, 0)) for row in answer.rows}


def _stand(one: Season, area: str, ways: Ways) -> Iterator[tuple[float, float, float, float]]:
    """Give what a stand at the way out named first meets, at that with the most directions, at any
    camera of the area, at the best; where two cameras or more hang there."""
    rows = one.session.con.execute(
        "SELECT camera FROM area_pairs JOIN deployments USING (deployment)"
        " WHERE area = ? AND distance_m <= 200", [area],
    ).fetchall()  # fmt: skip
    there = [one.by_camera[camera] for (camera,) in rows]
    if len(there) > 1 and ways.evening:
        first = one.by_camera[ways.evening[0].camera]
        most = one.by_camera[max(ways.evening, key=lambda way: way.n).camera]
        yield first, most, float(np.mean(there)), max(there)


def rows(n: int = 10, start: int = JUDGING) -> list[str]:
    """Give the section from `n` seasons of each plan."""
    found = {}
    for name, plan in PLANS.items():
        found[name] = Met()
        for seed in range(start, start + n):
            one = wild_season(plan, seed)
            measure(found[name], one)
            one.session.con.close()
        print(name, {h: round(float(np.mean(m)), 2) for h, m in found[name].areas.items()},
              file=sys.stderr, flush=True)  # fmt: skip
    return [about(n, start), "", *_areas(found), "", *_right(found), "", *_stands(found)]


def about(n: int, start: int) -> str:
    """Say what the tables are of."""
    return (
        f"{n} seasons of each kind (`tests/wild_seasons.py`, seeds from {start}), on none of which "
        "anything was set: the seasons of *Where he beds*; mature bucks expected to leave an area "
        "or to walk through it in shooting light in the ten evenings behind the season, every way "
        "covered. *By visits in shooting light* is how areas were ranked before. *All habits "
        "known*: best by each buck's true likings, hours and walks, and by where he bedded on the "
        "last day; nobody does better but by luck. Corridors, where nobody beds, are truly the "
        "best place in a part of these seasons."
    )


def _areas(found: dict[str, Met]) -> Iterator[str]:
    yield f"| season | {' | '.join(HABITS)} |"
    yield "|---" * (len(HABITS) + 1) + "|"
    for name, one in [*found.items(), ("all", _together(found.values()))]:
        cells = [f"{np.mean(one.areas[habit]):.2f}" for habit in HABITS]
        yield f"| {name} | {' | '.join(cells)} |"
    yield ""
    yield f"Compare has so many times as many (95% over seasons of one seed): {_times(found)}."


def _times(found: dict[str, Met]) -> str:
    """Seasons of one seed are alike, so seeds are drawn anew, not seasons."""
    chance = np.random.default_rng(5)
    by_seed = {h: np.array([one.areas[h] for one in found.values()]).sum(axis=0) for h in HABITS}
    pick = chance.integers(0, len(by_seed["compare"]), (4000, len(by_seed["compare"])))
    said = []
    for habit in HABITS[1:5]:
        ours, theirs = by_seed["compare"], by_seed[habit]
        low, high = np.quantile(ours[pick].sum(1) / theirs[pick].sum(1), [0.025, 0.975])
        said.append(f"{habit} {ours.sum() / theirs.sum():.2f} ({low:.2f} to {high:.2f})")
    return ", ".join(said)


def _together(found: Iterable[Met]) -> Met:
    every = Met()
    for one in found:
        for habit in HABITS:
            every.areas[habit] += one.areas[habit]
    return every


def _right(found: dict[str, Met]) -> Iterator[str]:
    yield (
        "| season | the best first | by visits | the best first or too close to call with it | a "
        "corridor or night place first | truly best | told apart in the right order | 95% "
        "interval held what came | said / true |"
    )
    yield "|---" * 9 + "|"
    for name, one in found.items():
        before, best = (np.array(one.areas[h]) for h in (HABITS[1], HABITS[-1]))
        shares = (
            one.best, before == best, one.best_or_tied, one.corridor, one.corridor_best, one.apart,
            one.held,
        )  # fmt: skip
        cells = [f"{np.mean(x):.0%}" for x in shares]
        yield f"| {name} | {' | '.join(cells)} | {np.sum(one.said) / np.sum(one.true):.2f} |"


def _stands(found: dict[str, Met]) -> Iterator[str]:
    yield (
        "One stand at a bed with two cameras or more: mature bucks expected past it in ten "
        "evenings, at the way out that `bedding` names first, at that with the most directions, at "
        "any of the cameras, at the best."
    )
    yield ""
    yield (
        "| season | beds | named first | most directions | any camera | best | named first over "
        "any (95%) |"
    )
    yield "|---" * 7 + "|"
    for name, one in found.items():
        stands = np.array(one.stands)
        chance = np.random.default_rng(6)
        pick = stands[chance.integers(0, len(stands), (4000, len(stands)))].sum(axis=1)
        low, high = np.quantile(pick[:, 0] / pick[:, 2], [0.025, 0.975])
        times = f"{stands[:, 0].sum() / stands[:, 2].sum():.2f} ({low:.2f} to {high:.2f})"
        cells = " | ".join(f"{x:.2f}" for x in stands.mean(axis=0))
        yield f"| {name} | {len(stands)} | {cells} | {times} |"


if __name__ == "__main__":
    given = [int(x) for x in sys.argv[1:3]]
    print("\n".join(rows(*given)))
