"""Devices whose clock is wrong: no word of theirs is lost, but whose word is the last may be."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

from camsign.logbook.checking import Finding
from camsign.logbook.database import sql_beside
from camsign.logbook.session import Session

_CURE = "set that device's clock; where a change did not stick, make it again"


def wrong_clocks(session: Session) -> Iterator[Finding]:
    """Find writers who spoke more than a day ahead of now, or before a picture they spoke of."""
    now = datetime.now(UTC) + timedelta(days=1)
    limit = now.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    rows = session.con.execute(sql_beside(__file__, "clocks.sql"), {"limit": limit}).fetchall()
    for writer, way, said, first in rows:
        told = f"the clock of writer {writer} was {way}: noted on {said[:10]}"
        if way == "behind":
            told += f" of pictures taken {first:%Y-%m-%d}; his word gives way where others spoke"
        else:
            told += "; until then his word wins over others said before they had it"
        yield Finding("note", f"journal/{writer}.jsonl", told, _CURE)
