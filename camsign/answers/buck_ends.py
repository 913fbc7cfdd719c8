"""On which day a buck ended, out of what people said of it: from that day on he counts nowhere.

People say it in words ("shot 2025-11-12", "hit on Route 3, Nov 9"). A day in them is that day; a
day without a year is the first such day after his last picture. With no day in the words he is gone
from the day after his last picture on.
"""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import TYPE_CHECKING

from camsign.units import MONTHS

if TYPE_CHECKING:
    from camsign.answers.detections import Bucks
    from camsign.logbook.session import Session

_NAME = rf"(?P<month>{'|'.join(MONTHS)})[a-z]*\.?"
_SPELLINGS = tuple(
    re.compile(rf"(?<!\w){spelling}(?!\w)", re.IGNORECASE)
    for spelling in (
        r"(?P<year>\d{4})-(?P<number>\d{1,2})-(?P<day>\d{1,2})",
        r"(?P<number>\d{1,2})/(?P<day>\d{1,2})/(?P<year>\d{4})",
        rf"{_NAME}\s+(?P<day>\d{{1,2}})(?:st|nd|rd|th)?(?:,?\s+(?P<year>\d{{4}}))?",
        rf"(?P<day>\d{{1,2}})(?:st|nd|rd|th)?\s+{_NAME}(?:,?\s+(?P<year>\d{{4}}))?",
    )
)


def ended_days(session: Session, bucks: Bucks) -> dict[int, date]:
    """Give the first local day on which each buck who ended counts no more, by his number."""
    ended = "FROM bucks b WHERE b.ended IS NOT NULL AND b.gone IS NOT TRUE"
    # Most often nobody has: then a million detections need not be looked through.
    if session.con.execute(f"SELECT 1 {ended} LIMIT 1").fetchone() is None:
        return {}
    rows = session.con.execute(
        "SELECT b.buck, b.ended, max(d.day) FROM bucks b JOIN bucks_now n ON n.buck_id = b.buck"
        " LEFT JOIN detections d ON d.buck_id = n.buck AND d.sure IS DISTINCT FROM 'unsure'"
        " AND d.doubt IS NULL WHERE b.ended IS NOT NULL AND b.gone IS NOT TRUE GROUP BY ALL"
    ).fetchall()
    return {
        bucks.number[buck]: day_in(words, last) or _after(last)
        for buck, words, last in rows
        if buck in bucks.number and words.strip()
    }


def day_in(words: str, last_seen: date | None) -> date | None:
    """Give the day that words name, None if they name none."""
    for spelling in _SPELLINGS:
        for found in spelling.finditer(words):
            if (day := _day(found.groupdict(), last_seen)) is not None:
                return day
    return None


def _day(parts: dict[str, str | None], last_seen: date | None) -> date | None:
    month = parts.get("number") or 1 + MONTHS.index((parts.get("month") or "").lower())
    named = parts.get("year")
    years = [int(named)] if named else [last_seen.year, last_seen.year + 1] if last_seen else []
    for year in years:
        try:
            day = date(year, int(month), int(parts["day"] or 0))
        except ValueError:
            continue
        if named or last_seen is None or day >= last_seen:
            return day
    return None


def _after(last_seen: date | None) -> date:
    return last_seen + timedelta(days=1) if last_seen else date.min
