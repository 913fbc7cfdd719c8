"""What `tonight` said of the stand one went to, kept in the journal before the sit."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

from camsign.answers.result import Figure
from camsign.errors import UsageError
from camsign.logbook.edits import SetFields, new_id
from camsign.logbook.moments import as_text, aware
from camsign.logbook.outings import PLAN
from camsign.logbook.session import Session
from camsign.sits.journal import stand_id

if TYPE_CHECKING:
    from camsign.sits.rows import StandRow
    from camsign.sits.tonight import Tonight
    from camsign.sits.weather import Sky


@dataclass(frozen=True, slots=True)
class Plan:
    """What was said of a stand for a day's evening or morning; `asked` UTC."""

    stand_id: str
    day: date
    part: str
    asked: datetime
    chance: Figure


def keep_plan(
    session: Session, answer: Tonight, sky: Sky, stand: str, asked: datetime | None = None
) -> StandRow:
    """Put what an answer, asked for that wind, says of a stand (by name or id) into the journal,
    before one sits there; `asked` UTC, None for now.

    Raises:
        UsageError: there is no such stand, or its sit is over.
    """
    found = stand_id(session, stand)
    row = next((one for one in answer.stands if one.stand_id == found), None)
    if row is None:
        raise UsageError(f"nothing is said of {stand.strip()!r}", "name one of the stands listed")
    now = asked or datetime.now(UTC)
    if now > row.until:
        raise UsageError(f"the {answer.part} of {answer.day} is over", "ask before you go")
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
