"""What forecasts of a buck at an area are worth, over made-up seasons: a table of docs/accuracy.md.

`python tests/accuracy_when.py [seasons] [first seed]` prints it. Each week is forecast with what
was known a week before, and held against always saying his average, the share of days so far.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np
from wild_seasons import Wild, wild_season

from camsign.answers.chances import BackTest, back_test
from camsign.answers.scope import scope_of
from camsign.answers.when import when

# Seeds below this were for tuning; judged is from here on.
JUDGING = 72_000
WILD: dict[str, Wild] = {
    "as told above": Wild(),
    "bucks that stay long": Wild(keeps=0.9),
    "every buck pushed out once": Wild(pushed=1.0),
    "hidden on 40%": Wild(hidden=0.4),
    "50% without a name": Wild(unidentified=0.5),
}
# Rows of days alone, in which the time of season matters or not; pairs for each season asked for.
ROWS = ("phases all alike", "phases that differ", "a rut of 40% among days of 2%")
PAIRS = 36
# The first day of each phase, and the day behind the last.
PHASES = (0, 5, 34, 52, 65, 85, 121)


@dataclass
class Told:
    """The back-tests of all bucks and areas with any."""

    tests: list[BackTest] = field(default_factory=list)

    def add(self, test: BackTest | None) -> None:
        if test is not None and test.days:
            self.tests.append(test)

    def row(self) -> list[str]:
        """Give the cells of its line."""
        days = np.array([t.days for t in self.tests])
        said, was, brier, plain = np.array(
            [(t.forecast, t.happened, t.brier, t.brier_of_mean) for t in self.tests]
        ).T
        mean = np.average(np.stack([said, was, brier, plain]), axis=1, weights=days)
        other = np.abs(brier - plain) > 1e-12
        claimed, right = int(other.sum()), int((other & (brier < plain)).sum())
        return [
            str(len(days)),
            f"{mean[0]:.1%}",
            f"{mean[1]:.1%}",
            f"{mean[0] / mean[1]:.2f}",
            f"{mean[2]:.4f}, {mean[3]:.4f}",
            f"{1 - claimed / len(days):.0%}",
            f"{claimed}",
            f"{right}" + (f" ({right / claimed:.0%})" if claimed else ""),
        ]


def wild(plan: Wild, seeds: Iterable[int]) -> Told:
    """Ask of every buck and area of each season."""
    found = Told()
    for seed in seeds:
        one = wild_season(plan, seed)
        for buck in one.bucks:
            for area in one.areas:
                scope = scope_of(one.session, [buck], [area])
                found.add(when(one.session, scope, band=False).back_test)
        one.session.con.close()
    return found


def rows_of_days(kind: str, pairs: int, seed: int) -> Told:
    """Forecast rows of days that come in spells within phases, one day in ten not covered."""
    found, last = Told(), PHASES[-1]
    of_day = np.searchsorted(PHASES, np.arange(last), side="right") - 1
    for pair in range(pairs):
        rng = np.random.default_rng([seed, ROWS.index(kind), pair])
        found.add(back_test(_row(kind, rng, of_day), of_day, len(PHASES) - 1))
    return found


def _row(kind: str, rng: np.random.Generator, of_day: np.ndarray) -> list[int]:
    chance = np.full(len(PHASES) - 1, rng.beta(0.6, 4))
    if kind == "phases that differ":
        chance = np.clip(chance * np.exp(rng.normal(0, 1, len(chance)) - 0.5), 0, 0.8)
    elif kind != "phases all alike":
        chance = np.where(np.arange(len(chance)) == 4, 0.4, 0.02)
    about = np.clip(2 * chance, 0.3, 1.0)
    keeps, here = float(rng.choice([0.0, 0.5, 0.75])), bool(rng.random() < about[0])
    days = []
    for part in of_day:
        if rng.random() >= keeps:
            here = bool(rng.random() < about[part])
        days.append(int(here and rng.random() < chance[part] / about[part]))
    return np.where(rng.random(len(days)) < 0.1, -1, days).tolist()  # type: ignore[no-any-return]


def table(seasons: int, first: int = JUDGING) -> Iterator[str]:
    """Give the table, a line a plan as soon as it is there."""
    yield (
        "| season | bucks and areas | said | happened | said / happened | squared error: forecast, "
        "his average | his average alone | by the time of season | better so than his average |"
    )
    yield "|---" * 9 + "|"
    for name, plan in WILD.items():
        told = wild(plan, range(first, first + seasons))
        yield f"| {name} | {' | '.join(told.row())} |"
    for name in ROWS:
        yield f"| {name} | {' | '.join(rows_of_days(name, PAIRS * seasons, first).row())} |"


def rows(n: int = 10) -> list[str]:
    """Give the section: the table over `n` seasons of each kind."""
    about = (
        f"{n} seasons of each of the first five kinds (`tests/wild_seasons.py`, seeds from "
        f"{JUDGING}), every buck at every area, and {PAIRS * n} rows of 121 days in six phases of "
        "each of the last three kinds, on none of which anything was set. Forecast is the chance "
        "of a picture in shooting light on each day of a week, with what was known a week before. "
        "*His average alone*: bucks and areas of which every forecast was the share of days so "
        "far, so no worse. *By the time of season*: those of which some weeks were forecast by "
        "it, since the weeks before showed it better; and for how many of these it was better "
        "over the season."
    )
    return [about, "", *table(n)]


if __name__ == "__main__":
    given = [int(x) for x in sys.argv[1:3]]
    for line in table(given[0] if given else 10, given[1] if len(given) > 1 else JUDGING):
        print(line, flush=True)
