"""What no answer counts though it is tagged: a slip in a date, a hang or an undo shows here."""

from __future__ import annotations

from camsign.answers.result import listed, see_doubtful
from camsign.errors import quoted
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session
from camsign.units import numbered


def counted_nowhere(session: Session) -> list[str]:
    """Say which tagged pictures count in no answer, and where to look; nothing without any."""
    rows = run_sql(session.con, __file__, "nowhere.sql").fetchall()
    cameras = {whose: many for of, whose, many in rows if of == "camera"}
    told = []
    if cameras:
        only = f" {quoted(next(iter(cameras)))}" if len(cameras) == 1 else ""
        told.append(
            f"{numbered(sum(cameras.values()), 'tagged picture counts', 'tagged pictures count')}"
            f" in no answer: {listed(list(cameras))} hung nowhere on those dates. Wrong hang date"
            f" or clock? See: camsign clock audit{only}"
        )
    unsure = {whose: many for of, whose, many in rows if of == "time"}
    if unsure:
        told.append(
            f"{numbered(sum(unsure.values()), 'tagged picture counts', 'tagged pictures count')}"
            f" in no answer, nor do their nights: the times from {listed(list(unsure))} are in"
            f" doubt. See: {see_doubtful(list(unsure))}"
        )
    for of, buck, many in rows:
        if of == "buck":
            told.append(
                f"{numbered(many, 'picture is', 'pictures are')} tagged with a buck whose adding"
                f" was undone. To bring him back: camsign history {buck}, then undo that undo"
            )
    return told
