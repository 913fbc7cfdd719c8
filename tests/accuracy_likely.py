"""Whether the odds of who could be in a picture come true, in simulated seasons not fitted to.

Visits are named one after another, as they came; each is asked about with those before it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import simulator
from wild_seasons import Wild, wild_season

from camsign.logbook.session import Session
from camsign.page.likely import likely_bucks

SEASONS: dict[str, Callable[[int], Session]] = {
    "big woods": lambda seed: wild_season(Wild(), seed).session,
    "bedding areas": lambda seed: simulator.season(simulator.Plan(), seed, 200).session,
}
EDGES = (0.0, 0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 1.01)
SKIPPED = 10  # a season's first visits, before which next to nothing is known

# A visit: frames of one camera with no gap of half an hour. Its strip bears its number.
STRIPS = """
ALTER TABLE detections RENAME TO all_detections;
CREATE SCHEMA page;
CREATE TABLE page.strips AS
WITH gaps AS (
    SELECT *, utc - lag(utc) OVER turn > INTERVAL 30 MINUTES AS anew FROM all_detections
    WINDOW turn AS (PARTITION BY camera ORDER BY utc, frame)
)
SELECT frame, camera, deployment, utc, buck_id,
    camera || sum(anew::INT) OVER (PARTITION BY camera ORDER BY utc, frame) AS strip
FROM gaps;
SET VARIABLE until = TIMESTAMP '2000-01-01';
CREATE VIEW detections AS SELECT * FROM all_detections WHERE utc <= getvariable('until');
"""
VISITS = """
SELECT strip, min(buck_id), max(utc) FROM page.strips GROUP BY strip
HAVING count(DISTINCT buck_id) = 1 AND count(buck_id) = count(*) ORDER BY min(utc), strip
"""


@dataclass(frozen=True)
class Asked:
    """One visit: the odds of all bucks, likeliest first, which of them it was, and what so many of
    the visits before had been his."""

    odds: Sequence[float]
    was: int
    share: float


def asked(session: Session) -> Iterator[Asked]:
    """Ask who each visit of a season could be."""
    for statement in STRIPS.split(";\n"):
        session.con.execute(statement)
    (many,) = session.con.execute("SELECT count(*) FROM bucks").fetchone() or (0,)
    before: dict[str, int] = {}
    for n, (strip, buck, until) in enumerate(session.con.execute(VISITS).fetchall()):
        session.con.execute("SET VARIABLE until = ?::TIMESTAMP", [until])
        found = likely_bucks(session, strip, most=many) if n >= SKIPPED else []
        for nth, one in enumerate(found):
            if one.buck_id == buck:
                yield Asked([f.odds for f in found], nth, (before.get(buck, 0) + 1) / (n + many))
        before[buck] = before.get(buck, 0) + 1


HEAD = (
    "seasons", "visits", "bucks", "right first", "first or second", "log score",
    "by shares so far", "all alike",
)  # fmt: skip


def rows(seed: int = 70_000, n: int = 3) -> list[str]:
    """The section as Markdown; n seasons of each kind."""
    found = {
        kind: [one for i in range(n) for one in asked(make(seed + i))]
        for kind, make in SEASONS.items()
    }
    told = (
        "Each named buck's odds in a picture, as the digits on Sort have them, in "
        f"{n} seasons of each of two simulators that nothing was fitted to. Visits are named as "
        "they came, and each is asked about with those before it, from the "
        f"{SKIPPED + 1}th on; which way it went counts where that was told. *Log score*: the mean "
        "logarithm of the odds of the buck that it was; nearer to 0 is better. *By shares so far*: "
        "as many of the visits before were his, one added for each buck."
    )
    lines = [_scored(kind, some) for kind, some in found.items()]
    return [told, "", *_table(HEAD, lines), *_held(found)]


def _scored(kind: str, some: Sequence[Asked]) -> list[str]:
    right = [np.mean([one.was <= most for one in some]) for most in (0, 1)]
    score = np.mean([np.log(one.odds[one.was]) for one in some])
    shares = np.mean([np.log(one.share) for one in some])
    many = len(some[0].odds)
    cells = [f"{right[0]:.0%}", f"{right[1]:.0%}", f"{score:.2f}", f"{shares:.2f}"]
    return [kind, str(len(some)), str(many), *cells, f"{-np.log(many):.2f}"]


def _held(found: dict[str, list[Asked]]) -> list[str]:
    """How often odds came true, by how high they were."""
    lines = []
    for low, high in zip(EDGES, EDGES[1:], strict=False):
        cells = [f"{low:.0%} to {min(high, 1):.0%}"]
        for some in found.values():
            said = [(p, k == one.was) for one in some for k, p in enumerate(one.odds)]
            here = np.array([(p, true) for p, true in said if low <= p < high])
            mean = [f"{x:.0%}" for x in here.mean(axis=0)] if len(here) else ["", ""]
            cells += [*mean, str(len(here))]
        lines.append(cells)
    head = ["odds", *(f"{kind}: {what}" for kind in found for what in ("said", "came true", "of"))]
    return _table(head, lines)


def _table(head: Sequence[str], lines: Sequence[Sequence[str]]) -> list[str]:
    rows = [f"| {' | '.join(line)} |" for line in lines]
    return [f"| {' | '.join(head)} |", "|---" * len(head) + "|", *rows, ""]


if __name__ == "__main__":
    print("\n".join(rows()))
