"""The visits of a question, made once from detections and read by several answers.

A visit is detections of one buck at one spot with no gap longer than the scope's; for an area over
all cameras in reach, so that two cameras on one trail do not count him twice.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from camsign.answers.reach import Reach, sql_text

if TYPE_CHECKING:
    from camsign.answers.scope import Scope
    from camsign.logbook.session import Session


def make_visited(session: Session, scope: Scope, reach: Reach) -> None:
    """Make the temporary table `visited` (columns: see visited.sql) for a scope and its spots."""
    given = {"bucks": scope.sql()["bucks"], "first": scope.first, "last": scope.last}
    session.con.execute(sql_text("visited.sql"), given | reach.sql() | {"gap": scope.gap_s})
