"""How well makers of rubs are told, over wild seasons: a table of docs/accuracy.md.

`python tests/accuracy_makers.py [seasons] [first seed]` prints it. Against two simple guesses: the
shares of visits at the nearest camera with any, and all bucks alike.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np
from accuracy_answers import decile_table
from wild_seasons import Season, Wild, wild_season

from camsign.answers.makers import Makers, makers
from camsign.answers.scope import Scope, scope_of

# Judged is from here on; seeds below 72000 were for tuning, some above it were judged before.
JUDGING = 83_000
_COMMON = {"strangers": 1, "young": 2, "trail_rubs": 2.0, "measured": 0.5}
PLANS: dict[str, Wild] = {
    "as told above": Wild(**_COMMON),  # type: ignore[arg-type]
    "bucks that stay long": Wild(keeps=0.9, **_COMMON),  # type: ignore[arg-type]
    "50% without a name": Wild(unidentified=0.5, **_COMMON),  # type: ignore[arg-type]
    "hidden on 40% of days": Wild(hidden=0.4, **_COMMON),  # type: ignore[arg-type]
}
GROUPS = ("bed", "trail", "away")
# Farther than this from the edge of every bed no rub is made for it [m].
AWAY_M = 120.0


@dataclass
class Told:
    """Log scores of each rub's maker: what was said, the nearest camera's guess, all alike."""

    groups: list[tuple[str, ...]] = field(default_factory=list)
    scores: list[tuple[float, float, float]] = field(default_factory=list)
    p: list[float] = field(default_factory=list)
    happened: list[bool] = field(default_factory=list)

    def mean(self, group: str | None = None) -> tuple[float, float, float]:
        """Give the mean log scores, of one group of rubs or of all."""
        of = zip(self.scores, self.groups, strict=True)
        rows = [s for s, groups in of if group is None or group in groups]
        said, nearest, alike = np.mean(rows, axis=0)
        return float(said), float(nearest), float(alike)


def measure(plan: Wild, seeds: Iterable[int]) -> Told:
    """Ask of every rub of each season, and compare with who made it."""
    found = Told()
    for seed in seeds:
        one = wild_season(plan, seed)
        everything = scope_of(one.session)
        for rub in one.rubs:
            _one(found, one, everything, rub)
        one.session.con.close()
    return found


def _one(found: Told, one: Season, scope: Scope, rub: str) -> None:
    answer = makers(one.session, scope, rub)
    maker = one.rubs[rub] or None
    p = {m.buck_id: m.p or 0.0 for m in answer.makers}
    nearest = _at_nearest(one, rub, answer)
    guesses = p.get(maker, 0.0), nearest.get(maker, 0.0), 1 / len(p)
    found.scores.append(tuple(np.log(np.maximum(guesses, 1e-6)).tolist()))
    found.groups.append(groups_of(one, rub))
    found.p += list(p.values())
    found.happened += [buck == maker for buck in p]


def groups_of(one: Season, rub: str) -> tuple[str, ...]:
    """Give what it was rubbed for, and whether it lies away from all beds, which anyone can see."""
    near = one.session.con.execute(
        "SELECT count(*) FROM area_signs WHERE sign = ? AND distance_m <= ?"
        " AND list_contains(?, area)",
        [rub, AWAY_M, one.areas[: one.plan.beds]],
    ).fetchone()
    return (one.where_rubbed[rub], *(() if near and near[0] else ("away",)))


def _at_nearest(one: Season, rub: str, answer: Makers) -> dict[str | None, float]:
    """Share out by visits (ends of hours with a picture) at the nearest camera with any."""
    rows = one.session.con.execute(
        "SELECT p.distance_m, d.buck_id, count(DISTINCT date_trunc('hour', d.utc))"
        " FROM sign_pairs p JOIN detections d USING (deployment)"
        " WHERE p.sign = ? AND d.buck_id IS NOT NULL GROUP BY ALL ORDER BY 1",
        [rub],
    ).fetchall()
    count = dict.fromkeys((m.buck_id for m in answer.makers), 0.5)
    for meters, buck, visits in rows:
        if meters == rows[0][0] and buck in count:
            count[buck] += visits
    total = sum(count.values())
    return {buck: n / total for buck, n in count.items()}


def table(seasons: int, first: int = JUDGING, plans: Iterable[str] = PLANS) -> Iterator[str]:
    """Give the table, a line a plan as soon as it is there."""
    yield (
        "| season | rubs | near beds: said, nearest camera, all alike | along trails | away from "
        "beds | all | probability said → happened (how many) |"
    )
    yield "|---" * 7 + "|"
    for name in plans:
        yield row(name, measure(PLANS[name], range(first, first + seasons)))


def row(name: str, told: Told) -> str:
    """Give the line of one plan."""
    means = [told.mean(group) for group in (*GROUPS, None)]
    cells = [", ".join(f"{x:.3f}" for x in three) for three in means]
    bins = decile_table(np.array(told.p), np.array(told.happened))
    deciles = ", ".join(f"{said:.2f} → {was:.2f} ({n})" for said, was, n in bins)
    return f"| {name} | {len(told.scores)} | {' | '.join(cells)} | {deciles} |"


def rows(n: int = 20) -> list[str]:
    """Give the section: the table over `n` seasons of each plan."""
    about = (
        f"{n} seasons of each kind (`tests/wild_seasons.py`, seeds from {JUDGING}), on none of "
        "which it was tuned: the seasons of the table above, with one buck more whom nobody ever "
        "named, two of the six young, rubs around beds (20 to 200 m off) and along what bucks walk "
        "by night and through corridors, half of them measured. Mean log scores of the buck who "
        "made it (0 is perfect, nearer 0 is better); *nearest camera*: shares of visits at the "
        "nearest camera with any. *Near beds* and *along trails* is what they were rubbed for, "
        f"which nobody knows; *away from beds* those over {AWAY_M:.0f} m from every bed's edge."
    )
    return [about, "", *table(n)]


if __name__ == "__main__":
    given = [int(x) for x in sys.argv[1:3]]
    wanted = [n for n in PLANS if any(w in n for w in sys.argv[3:])] or list(PLANS)
    for line in table(given[0] if given else 20, given[1] if len(given) > 1 else JUDGING, wanted):
        print(line, flush=True)
