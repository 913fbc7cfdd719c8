"""Strips: what one camera showed without a long gap, kept beside the copy for the sorting page."""

from __future__ import annotations

from camsign.logbook.session import Session
from camsign.page.rows import run


def make_strips(session: Session) -> None:
    """Make the table page.strips anew from frame_times, one row a frame."""
    session.con.execute("CREATE SCHEMA IF NOT EXISTS page")
    run(session.con, "strips", gap=session.settings.visit_gap_s)
