"""What is tagged of bucks where no rate can be given yet, so that nobody reads it as absence."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from camsign.answers.detections import Bucks
from camsign.answers.reach import Reach, sql_text
from camsign.answers.scope import Scope
from camsign.units import counted

if TYPE_CHECKING:
    from camsign.logbook.session import Session


def tagged_in_words(session: Session, scope: Scope, reach: Reach, bucks: Bucks) -> str | None:
    """Say how many pictures of which bucks there are, and how many others wait; None without any.

    Only the deployments of `reach` count where areas were asked for by name.
    """
    if scope.who == "does":
        return None
    hung = None if scope.area_ids is None else reach.deployments
    return tagged_at(session, bucks, scope.first, scope.last, hung)


def tagged_at(
    session: Session, bucks: Bucks, first: date, last: date, deployments: Sequence[str] | None
) -> str | None:
    """Say the same of these local days, both within, and deployments (None for all)."""
    if not bucks.number:
        return None
    given = {
        "tagged": list(bucks.number),
        "names": [bucks.names[i] for i in bucks.number.values()],
        "deployments": None if deployments is None else list(deployments),
        "first": first,
        "last": last,
    }
    rows = session.con.execute(sql_text("tagged.sql"), given).fetchall()
    if not rows:
        return None
    seen = [
        f"{counted(pictures, 'picture')} of {name}"
        + (f" on {counted(nights, 'night')}" if nights else "")
        for name, pictures, nights, _ in rows
    ]
    waiting = rows[0][3]
    verb = "is" if waiting == 1 else "are"
    rest = f"; {counted(waiting, 'other')} {verb} not sorted" if waiting else ""
    return f"{', '.join(seen)}{rest}"
