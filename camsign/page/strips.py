"""Strips: what one camera showed without a long gap, kept beside the copy for the sorting page."""

from __future__ import annotations

from camsign.logbook.session import Session
from camsign.page.rows import run


def make_strips(session: Session) -> None:
    """Make the tables page.strips (a row a frame) and page.visits (a row a strip) anew."""
    con = session.con
    con.begin()
    try:
        con.execute("CREATE SCHEMA IF NOT EXISTS page")
        run(con, "strips", gap=session.settings.visit_gap_s)
        run(con, "visits")
    except BaseException:
        con.rollback()
        raise
    con.commit()
