"""The pictures that a person knows a buck by."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime

from camsign.errors import UsageError
from camsign.logbook.edits import SetFields
from camsign.logbook.moments import local
from camsign.logbook.session import Session
from camsign.tags import frames
from camsign.tags.bucks import BuckSaid, find_buck


@dataclass(frozen=True, slots=True)
class Reference:
    """A chosen picture of a buck. `at`: local with offset, None if its time is not known."""

    buck: str
    buck_id: str
    frame: str
    camera: str | None
    at: datetime | None
    note: str | None


def choose_reference(session: Session, buck: str, frame: str, note: str | None = None) -> BuckSaid:
    """Keep a frame as a reference picture of a buck; choosing it again changes its note.

    Raises:
        UsageError: there is no such buck or frame.
    """
    found, one = find_buck(session, buck), frames.one(session, frame)
    fields = {"buck": found.buck_id, "frame": one, "note": note, "gone": False}
    # The same choice made twice, or by two friends, is one thing.
    own = f"r-{hashlib.sha256(f'{found.buck_id}/{one}'.encode()).hexdigest()[:8]}"
    edit = SetFields("reference_picture", own, fields)
    session.say(f"chose a reference picture of {found.buck}", [edit])
    return found


def drop_reference(session: Session, buck: str, frame: str) -> BuckSaid:
    """Let a frame no longer be a reference picture of a buck.

    Raises:
        UsageError: it is none.
    """
    found, one = find_buck(session, buck), frames.one(session, frame)
    rows = session.con.execute(
        "SELECT r.reference_picture FROM reference_pictures r JOIN bucks_now n ON n.buck = r.buck"
        " WHERE n.buck_id = ? AND r.frame = ? AND r.gone IS NOT TRUE",
        [found.buck_id, one],
    ).fetchall()
    if not rows:
        raise UsageError(f"{one[:12]} is no reference picture of {found.buck}")
    edits = [SetFields("reference_picture", row[0], {"gone": True}) for row in rows]
    session.say(f"dropped a reference picture of {found.buck}", edits)
    return found


def references(session: Session, buck: str | None = None) -> list[Reference]:
    """Give the reference pictures of a buck, or of all, by name and then the latest first.

    Raises:
        UsageError: there is no such buck.
    """
    buck_id = find_buck(session, buck).buck_id if buck else None
    rows = session.con.execute(
        "SELECT n.name, n.buck_id, r.frame, t.camera, t.utc, any_value(r.note)"
        " FROM reference_pictures r JOIN bucks_now n ON n.buck = r.buck"
        " LEFT JOIN frame_times t ON t.frame = r.frame"
        " WHERE r.gone IS NOT TRUE AND ($buck IS NULL OR n.buck_id = $buck)"
        " GROUP BY n.name, n.buck_id, r.frame, t.camera, t.utc"
        " ORDER BY lower(n.name), n.buck_id, t.utc DESC NULLS LAST, r.frame",
        {"buck": buck_id},
    ).fetchall()
    tz = session.settings.tz
    return [
        Reference(name, buck_id, frame, camera, local(utc, tz) if utc else None, note)
        for name, buck_id, frame, camera, utc, note in rows
    ]
