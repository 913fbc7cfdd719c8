"""Was it right? What `tonight` said of a stand, kept before the sit, beside what happened on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from itertools import pairwise
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from camsign.answers.bucks import bucks_of, mature_of
from camsign.answers.result import Answer, Figure, Watch, figure, reasons
from camsign.answers.scope import Scope
from camsign.arrays import Floats
from camsign.errors import UsageError
from camsign.logbook.edits import SetFields, new_id
from camsign.logbook.moments import as_text, aware
from camsign.logbook.outings import PLAN
from camsign.logbook.session import Session
from camsign.sits.hourwords import Light, light_of_day
from camsign.sits.journal import SitRow, sits, stand_id
from camsign.sits.seen import is_buck
from camsign.sits.sightwords import Seen
from camsign.sits.stands import USUAL_SHOT_M
from camsign.stats.estimate import holding, wilson
from camsign.units import counted
from camsign.zones import zone

if TYPE_CHECKING:
    from camsign.sits.rows import StandRow
    from camsign.sits.tonight import Tonight
    from camsign.sits.weather import Sky

BINS = (0.0, 0.05, 0.1, 0.2, 0.35, 1.0)
CAME, NOT, UNCLEAR = "came", "did not come", "can't tell"
METHOD = (
    "a sit counts where `tonight --sit` was asked before it began; he came if a mature buck was "
    "seen within shooting distance in shooting light and did not spook. Share with Wilson's "
    "interval (1927). All sits together: how many meetings the said chances give, with the central "
    "95% of their sum (Poisson binomial)"
)


@dataclass(frozen=True, slots=True)
class Plan:
    """What was said of a stand for a day's evening or morning; `asked` UTC."""

    stand_id: str
    day: date
    part: str
    asked: datetime
    chance: Figure


class NothingToKeep(UsageError):
    """A stand has no odds that could be kept."""


def keep_plan(
    session: Session, answer: Tonight, sky: Sky, stand: str, asked: datetime | None = None
) -> StandRow:
    """Put what an answer, asked for that wind, says of a stand (by name or id) into the journal,
    before one sits there; `asked` UTC, None for now.

    Raises:
        UsageError: there is no such stand, its sit is over, or it has no odds to keep.
    """
    found = stand_id(session, stand)
    row = next((one for one in answer.stands if one.stand_id == found), None)
    if row is None:
        raise UsageError(f"nothing is said of {stand.strip()!r}", "name one of the stands listed")
    now = asked or datetime.now(UTC)
    if now > row.until:
        raise UsageError(f"the {answer.part} of {answer.day} is over", "ask before you go")
    if row.area is None:
        no = f"there are no odds for {row.stand} that {answer.part}"
        raise NothingToKeep(f"nothing to save: {no}")
    wind = sky.wind(answer.sunrise if answer.part == "morning" else answer.sunset)
    one = row.any_chance
    fields = {
        "stand": found, "day": answer.day.isoformat(), "part": answer.part, "asked": as_text(now),
        "chance": one.value, "low": one.low, "high": one.high, "scent": row.scent,
        "wind_deg": wind and wind.from_deg, "wind_ms": wind and wind.speed_ms,
    }  # fmt: skip
    session.say(
        f"planned to sit {row.stand} on the {answer.part} of {answer.day}",
        [SetFields("plan", new_id(PLAN.letter), fields)],
    )
    return row


def plans(session: Session) -> list[Plan]:
    """Give what was kept, the last said first."""
    rows = session.con.execute(
        "SELECT stand, day, part, asked, chance, low, high FROM plans WHERE gone IS NOT TRUE"
        " AND stand IS NOT NULL AND day IS NOT NULL AND asked IS NOT NULL AND chance IS NOT NULL"
        " ORDER BY asked DESC, plan"
    ).fetchall()
    return [Plan(r[0], r[1], r[2], aware(r[3]), Figure(*r[4:])) for r in rows]


@dataclass(frozen=True, slots=True)
class Bin:
    """Sits whose chance was said to be from `low` to below `high`: `n` of them; the mean of what
    was said; on how many he came, and the share.
    """

    low: float
    high: float
    n: int
    said: float | None
    came: int
    share: Figure


@dataclass(frozen=True, slots=True)
class Review(Answer):
    """The reliability table. `expected`: meetings by what was said; `unclear`: sits on which a buck
    nobody named was in range; `unasked`: sits that nobody asked about beforehand.
    """

    TABLE: ClassVar[str] = "bins"
    ROW: ClassVar[type] = Bin

    said: str
    bins: tuple[Bin, ...]
    sits: int
    came: int
    expected: Figure
    unclear: int
    unasked: int
    watch: Watch
    method: str
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Judge:
    """What is needed to say whether he came."""

    mature: frozenset[str]
    known: frozenset[str]
    shots: dict[str, float]


def review(session: Session, scope: Scope) -> Review:
    """Compare what was said with what happened, on the sits of a scope's days."""
    rows = sits(session, scope.first, scope.last)
    judge, kept, tz = _judge(session, scope), plans(session), session.settings.tz
    said: list[float] = []
    came: list[bool] = []
    unclear = unasked = 0
    for row in rows:
        plan = plan_of(row, kept, tz)
        if plan is None:
            unasked += 1
            continue
        happened = outcome(row, judge, _light(session, row.day))
        if happened == UNCLEAR:
            unclear += 1
        else:
            said.append(plan.chance.value or 0.0)
            came.append(happened == CAME)
    days = [row.day for row in rows]
    ends = (min(days), max(days)) if days else (None, None)
    expected = sum_of(said)
    return Review(
        _said(expected, sum(came), len(said)), tuple(bins_of(said, came)), len(said), sum(came),
        expected, unclear, unasked, Watch((), 0, 0, *ends), METHOD,
        reasons(
            scope.asked(),
            _unasked(unasked, len(rows)),
            f"{counted(unclear, 'sit')} with a buck nobody could name in range: left out; say "
            "mature, or his name" if unclear else None,
            None if len(said) >= 20 else "20 sits is about the least that tells you anything",
        ),
    )  # fmt: skip


def _unasked(unasked: int, sits: int) -> str | None:
    if not unasked:
        return None
    if unasked == sits:
        no = "none with odds" if sits > 1 else "without odds"
        return f"{counted(sits, 'sit')}, {no} saved beforehand"
    return f"{unasked} of {counted(sits, 'sit')} without odds saved beforehand"


def plan_of(row: SitRow, kept: Sequence[Plan], tz: str) -> Plan | None:
    """The last thing said of a sit before it began."""
    part = "morning" if row.start.astimezone(zone(tz)).hour < 12 else "evening"
    return next(
        (
            p for p in kept
            if (p.stand_id, p.day, p.part) == (row.stand_id, row.day, part) and p.asked <= row.start
        ),
        None,
    )  # fmt: skip


def outcome(row: SitRow, judge: _Judge, light: Light | None) -> str:
    """Whether a mature buck came into range in shooting light."""
    shot = judge.shots.get(row.stand_id, USUAL_SHOT_M)
    found = {_of_one(one, judge, shot, light) for one in row.seen}
    return next((word for word in (CAME, UNCLEAR) if word in found), NOT)


def _of_one(one: Seen, judge: _Judge, shot: float, light: Light | None) -> str:
    young = one.buck in judge.known and one.buck not in judge.mature
    if not is_buck(one) or young or one.what == "spike" or one.spooked:
        return NOT
    if one.distance_m is not None and one.distance_m > shot:
        return NOT
    if one.at is not None and light is not None and not light.first <= one.at <= light.last:
        return NOT
    sure = one.mature or one.buck in judge.mature
    return CAME if sure and one.distance_m is not None else UNCLEAR


def _judge(session: Session, scope: Scope) -> _Judge:
    bucks = bucks_of(session, scope)
    found = mature_of(session, scope, bucks, living=False)
    aged = set(range(len(bucks.names))) - found.unknown
    shots = session.con.execute(
        "SELECT place, shoots_m FROM places WHERE kind = 'stand' AND shoots_m IS NOT NULL"
    ).fetchall()
    return _Judge(
        frozenset(bucks.names[n] for n in found.bucks),
        frozenset(bucks.names[n] for n in aged),
        dict(shots),
    )


def _light(session: Session, day: date) -> Light | None:
    try:
        return light_of_day(session.settings, day)
    except UsageError:
        return None


def bins_of(said: Sequence[float], came: Sequence[bool]) -> list[Bin]:
    """The reliability table of chances said and what came of them."""
    found = []
    for low, high in pairwise(BINS):
        here = [i for i, p in enumerate(said) if low <= p < high or p == high == 1.0]
        k = sum(came[i] for i in here)
        mean = sum(said[i] for i in here) / len(here) if here else None
        found.append(Bin(low, high, len(here), mean, k, figure(wilson(k, len(here)), len(here))))
    return found


def sum_of(said: Sequence[float]) -> Figure:
    """How many meetings chances give together, and the central 95% of their sum."""
    law: Floats = np.ones(1)
    for p in said:
        law = np.convolve(law, [1 - p, p])
    up_to = np.cumsum(law)
    low = int(np.searchsorted(up_to, 0.025))
    high = int(np.searchsorted(up_to, 0.975))
    return figure(holding(sum(said), low, min(high, len(said))), len(said))


def _said(expected: Figure, came: int, n: int) -> str:
    if not n:
        return (
            "Nothing to check yet: you didn't save the odds before any of your sits. "
            "Next time, before you go: camsign tonight ... --sit STAND"
        )
    low, high = expected.low or 0.0, expected.high or 0.0
    fits = "That fits." if low <= came <= high else (
        "He came less than was said." if came < low else "He came more than was said."
    )  # fmt: skip
    meant = f"{expected.value:.1f} meetings were said ({low:.0f} to {high:.0f})"
    return f"{counted(n, 'sit')}: {meant}, {came} happened. {fits}"
