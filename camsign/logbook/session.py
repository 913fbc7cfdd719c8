"""An open logbook: its database brought up to date with every receipt and journal line there is.

The database is made again, without a word, when it is missing, damaged, of another version, when
settings changed, when a card or journal it had read is gone, or a card was measured again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from camsign.errors import CamsignError
from camsign.logbook import cardrows, hlc, journal, lock, replay, settings
from camsign.logbook.database import connect
from camsign.logbook.edits import Edit
from camsign.logbook.folder import Folder
from camsign.logbook.settings import Settings

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

SCHEMA = Path(__file__).with_name("schema.sql")


class OutdatedError(Exception):
    """The database no longer fits the logbook; it has to be made again."""


@dataclass(frozen=True)
class Session:
    """An open logbook. The database is read through `con`; people's words go through `say`."""

    folder: Folder
    con: DuckDBPyConnection

    @property
    def settings(self) -> Settings:
        """What logbook.toml says."""
        return self.folder.settings

    def say(self, what: str, edits: Sequence[Edit]) -> str:
        """Note an act in the journal, forced to the disk; give its id.

        The database takes it in when the logbook is opened next (or by `derive`, at once).

        Raises:
            CamsignError: the journal cannot be written; nothing was said.
        """
        row = self.con.execute("SELECT max(said) FROM acts").fetchone()
        return journal.append(self.folder, what, edits, (row and row[0]) or hlc.FIRST).act


Derive = Callable[[Session], None]


@contextmanager
def opened(folder: Folder, maker: str, derive: Derive) -> Iterator[Session]:
    """Open a logbook briefly: lock, bring the database up to date, hand it over, close.

    Args:
        folder: the logbook.
        maker: a text that changes whenever what `derive` makes changes.
        derive: carries what is new on into the derived tables.

    Raises:
        LogbookBusy: another process holds it.
        CamsignError: the cache cannot be written.
    """
    with lock.held(folder.cache):
        session = _current(folder, maker, derive)
        try:
            yield session
        finally:
            session.con.close()


def _current(folder: Folder, maker: str, derive: Derive) -> Session:
    import duckdb

    version = _version(folder, maker)
    for attempt in ("as it is", "made again"):
        try:
            session = Session(folder, connect(folder.database))
        except duckdb.Error as e:
            if attempt == "made again":
                raise _cannot_open(folder, e) from e
            remove_database(folder)
            continue
        try:
            _prepare(session, version)
            refresh(session, derive)
        except OutdatedError:
            session.con.close()
            remove_database(folder)
            continue
        except duckdb.Error as e:
            session.con.close()
            if attempt == "made again" or not isinstance(e, duckdb.FatalException):
                raise _cannot_open(folder, e) from e
            remove_database(folder)
            continue
        except BaseException:
            session.con.close()
            raise
        return session
    raise _cannot_open(folder, RuntimeError("it kept changing while it was read"))


def refresh(session: Session, derive: Derive) -> None:
    """Take in new receipts and lines and derive what hangs on them, in one transaction.

    Raises:
        OutdatedError: a card or journal that had been read is gone, or a card was measured again.
    """
    con = session.con
    con.begin()
    try:
        _take_in(session)
        derive(session)
        con.execute("DELETE FROM touched")
    except BaseException:
        con.rollback()
        raise
    con.commit()


def remove_database(folder: Folder) -> None:
    """Delete the database of this machine; the next opening makes it again."""
    for name in ("camsign.duckdb", "camsign.duckdb.wal"):
        (folder.cache / name).unlink(missing_ok=True)


def _version(folder: Folder, maker: str) -> str:
    text = (folder.root / settings.FILE).read_bytes()
    return hashlib.sha256(SCHEMA.read_bytes() + maker.encode() + text).hexdigest()[:16]


def _prepare(session: Session, version: str) -> None:
    con = session.con
    there = con.execute("SELECT count(*) FROM duckdb_tables() WHERE table_name = 'made'").fetchone()
    if not there or not there[0]:
        con.begin()
        con.execute(SCHEMA.read_text(encoding="utf-8"))
        con.execute("INSERT INTO made VALUES (?)", [version])
        for what in session.settings.troubles:
            con.execute("INSERT INTO troubles VALUES (?, NULL, ?)", [settings.FILE, what])
        con.commit()
        return
    made = con.execute("SELECT version FROM made").fetchone()
    if not made or made[0] != version:
        raise OutdatedError


def _take_in(session: Session) -> None:
    con, folder = session.con, session.folder
    if cardrows.outdated(con, folder) or _journals_shrank(con, folder):
        raise OutdatedError
    cardrows.take_in(con, folder)
    for path in sorted(folder.journal.glob("*.jsonl")):
        _take_journal(con, path)


def _journals_shrank(con: DuckDBPyConnection, folder: Folder) -> bool:
    for file, size in con.execute("SELECT file, bytes FROM journals").fetchall():
        path = folder.journal / file
        if not path.exists() or path.stat().st_size < size:
            return True
    return False


def _take_journal(con: DuckDBPyConnection, path: Path) -> None:
    row = con.execute("SELECT bytes, lines FROM journals WHERE file = ?", [path.name]).fetchone()
    start, count = row or (0, 0)
    if path.stat().st_size <= start:
        return
    reading = journal.read(path, start, count)
    for number, what in reading.troubles:
        con.execute("INSERT INTO troubles VALUES (?, ?, ?)", [path.name, number, what])
    replay.take_lines(con, path.name, reading.lines)
    read = count + len(reading.lines) + len(reading.troubles)
    con.execute("DELETE FROM journals WHERE file = ?", [path.name])
    con.execute("INSERT INTO journals VALUES (?, ?, ?)", [path.name, reading.end, read])


def _cannot_open(folder: Folder, e: Exception) -> CamsignError:
    first = str(e).splitlines()[0] if str(e) else type(e).__name__
    return CamsignError(
        f"the database in {folder.cache} cannot be used ({first})",
        "free some space, or delete that folder: it is made again and nothing is lost",
    )
