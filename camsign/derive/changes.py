"""What frames show that others do not: read back from the cache, where the pixels room keeps it."""

from __future__ import annotations

from camsign.derive.script import touched
from camsign.logbook.session import Session
from camsign.pixels.news_cache import are_taken, take
from camsign.pixels.scores import fit_thresholds


def notice_batches(session: Session) -> None:
    """Note in `touched` that frames were compared since the last opening, by whichever program."""
    if not are_taken(session):
        session.con.execute("INSERT INTO touched VALUES ('batches', '')")


def fill_changes(session: Session) -> None:
    """Bring `changes` up to date with the cards there are, and the thresholds with the tags."""
    if touched(session.con, "camera", "batches"):
        take(session)
    else:
        fit_thresholds(session)
