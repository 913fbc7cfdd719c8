"""What of a logbook could not be read, in words for people."""

from __future__ import annotations

from camsign.logbook.session import Session


def unread(session: Session) -> list[str]:
    """Give one line for each thing that could not be read: what, where, why."""
    rows = session.con.execute("SELECT file, line, what FROM troubles ORDER BY ALL").fetchall()
    return [
        f"{file}, line {line}: {what}" if line else f"{file}: {what}" for file, line, what in rows
    ]
