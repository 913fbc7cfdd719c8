"""Last step: what was said twice or cannot all be so, so that it can be told and settled."""

from __future__ import annotations

from camsign.derive.script import run
from camsign.logbook.session import Session


def find_conflicts(session: Session) -> None:
    """Make the table `conflicts` anew."""
    run(session.con, "conflicts")
