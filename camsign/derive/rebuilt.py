"""The database of this machine, made again from cards and journal."""

from __future__ import annotations

from dataclasses import dataclass

from camsign.logbook import lock
from camsign.logbook.folder import Folder
from camsign.logbook.session import Session, remove_database


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """What the database was made again from."""

    frames: int
    acts: int


def let_go(folder: Folder) -> None:
    """Delete the database, when nobody is in it; the next opening makes it again.

    Raises:
        LogbookBusy: another program holds it.
    """
    with lock.held(folder.cache):
        remove_database(folder)


def made_from(session: Session) -> Rebuilt:
    """Count what a database that was just made rests on."""
    row = session.con.execute(
        "SELECT (SELECT count(*) FROM frames), (SELECT count(*) FROM acts)"
    ).fetchone()
    return Rebuilt(*(row or (0, 0)))
