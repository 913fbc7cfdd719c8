"""New sign: what looked fresh or bright when it was seen, or was said to be made on those days."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from camsign.logbook.database import run_sql
from camsign.logbook.session import Session
from camsign.sign.record import SignRow, signs


@dataclass(frozen=True, slots=True)
class NewLook:
    """One look at new sign. `newest`: the latest day (local) on which it was made; of a bright one,
    made this season but not surely on the days asked for, the day it was seen.
    """

    sighting: str
    sign: str
    newest: date
    bright: bool


def new_looks(session: Session, first: date, last: date) -> list[NewLook]:
    """Give the looks at new sign that was made (at the latest), or is bright, on these days.

    Sign whose look nobody noted is not new, unless its days were said; nor is what was seen after
    `last`.
    """
    rows = run_sql(session.con, __file__, "fresh.sql", first=first, last=last).fetchall()
    return [NewLook(*row) for row in rows]


def fresh_signs(session: Session, first: date, last: date) -> list[SignRow]:
    """Give the looks at new sign of these days, in full."""
    fresh = {look.sighting for look in new_looks(session, first, last)}
    return [row for row in signs(session) if row.sighting in fresh]
