"""An open logbook: its database brought up to date with every receipt and journal line there is.

The database is made again, without a word, when it is missing, damaged, of another version, when
settings changed, when a card or journal it had read is gone, or a card was measured again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager, suppress
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from camsign.errors import CamsignError, InputRefused
from camsign.formats.collector import collector_paused
from camsign.logbook import cardfacts, journal, lines, lock, memory, settings, things
from camsign.logbook.database import LITTLE_MB, connect, first_line, is_full, sparing, was_stopped
from camsign.logbook.edits import Edit
from camsign.logbook.far import Far
from camsign.logbook.folder import Folder, stamp_of
from camsign.logbook.settings import Settings
from camsign.systems import remove_tree

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

_LEFT = "camsign.duckdb.left"
_NONE = " "
# Of frames and lines: more bytes than these, about 600,000 pictures, come only into one made anew
# and may take all memory; and how many times their bytes DuckDB needs.
_MUCH, _TIMES = 64_000_000, 8
# What a damaged database can make of reading its rows.
_NONSENSE = (ValueError, TypeError, LookupError, ArithmeticError, AttributeError, RuntimeError)
_open: set[Path] = set()


class OutdatedError(Exception):
    """The database no longer fits the logbook; it has to be made again."""


@dataclass(frozen=True)
class Session:
    """An open logbook. The database is read through `con`; people's words go through `say`."""

    folder: Folder
    con: DuckDBPyConnection
    changed: tuple[str, ...] = ()
    """Settings that changed since the database was made, as `reach_m 200 -> 300`."""

    @property
    def settings(self) -> Settings:
        """What logbook.toml says."""
        return self.folder.settings

    @property
    def latest(self) -> str:
        """The latest stamp known of any writer."""
        ((stamp,),) = self.con.execute("SELECT max(latest) FROM journals").fetchall()
        return stamp or journal.FIRST

    def say(self, what: str, edits: Sequence[Edit]) -> str:
        """Note an act in the journal, forced to the disk; give its id.

        The database takes it in when the logbook is opened next (or by `derive`, at once).

        Raises CamsignError: the journal cannot be written; nothing was said.
        """
        return journal.append(self.folder, what, edits, self.latest).act


Derive = Callable[[Session], None]


@contextmanager
def opened(
    folder: Folder, maker: str, derive: Derive, far: Far | None = None, spare: bool = False
) -> Iterator[Session]:
    """Open a logbook briefly: lock, bring the database up to date, hand it over, close.

    `derive` carries what is new on into the derived tables; `maker`: a text that changes whenever
    what it makes does. `far` is told of each card that is read anew. `spare`: what is new is taken
    in with little memory, unless it is very much.

    Raises:
        LogbookBusy: another process holds it.
        CamsignError: the cache cannot be written.
    """
    with lock.held(folder.cache):
        session = _current(folder, maker, derive, far or Far(None), spare)
        outermost = folder.database not in _open
        _open.add(folder.database)
        _leave(folder)  # all is committed: killed while it only reads, it is as good as left
        try:
            with _healing(folder):
                yield session
        finally:
            session.con.close()
            if outermost:
                _open.discard(folder.database)
            _leave(folder)


@contextmanager
def _healing(folder: Folder) -> Iterator[None]:
    """Delete a database in which damage came to light only when it was asked something."""
    import duckdb

    try:
        yield
    except duckdb.Error as e:
        if is_full(e):
            raise _cannot_open(folder, e) from e
        kinds = (duckdb.IOException, duckdb.InternalException, duckdb.FatalException)
        if not isinstance(e, kinds) and type(e) is not duckdb.Error:
            raise
        remove_database(folder)
        raise CamsignError(
            f"the database of this machine was damaged and was let go ({first_line(e)})",
            "run the same command again: it is made again, and nothing is lost",
        ) from e


def _stamp(folder: Folder) -> str:
    wal = folder.database.with_name(folder.database.name + ".wal")
    return f"{stamp_of(folder.database)} {stamp_of(wal)}"


def _left(folder: Folder) -> str:
    """Give the stamp with which this program left the database last."""
    try:
        return (folder.cache / _LEFT).read_text(encoding="utf-8")
    except (OSError, ValueError):
        return _NONE


def _leave(folder: Folder) -> None:
    """Note how the database is left; if that cannot be noted, it is made again next time."""
    with suppress(OSError):
        (folder.cache / _LEFT).write_text(_stamp(folder), encoding="utf-8")


def _current(
    folder: Folder, maker: str, derive: Derive, far: Far, spare: bool, again: bool = False
) -> Session:
    """Open the database and take in what is new; one that cannot be used is made anew, once."""
    import duckdb

    said = (folder.root / settings.FILE).read_bytes()
    made_of = things.schema().encode() + maker.encode() + said
    version = hashlib.sha256(made_of).hexdigest()[:16]
    if folder.database not in _open and _left(folder) != _stamp(folder):
        remove_database(folder)  # not as this program left it: killed in the midst, or damaged
    try:
        with ExitStack() as stack:
            session = Session(folder, stack.enter_context(closing(connect(folder.database))))
            made, work = _prepare(session, version), partial(refresh, session, derive, far)
            # A card of 1,000 or of 80,000 pictures is taken in in the same memory.
            if spare and (new := _new_bytes(session)) <= _MUCH:
                sparing(session.con, work, max(LITTLE_MB, _TIMES * new // 1_000_000))
            else:
                work()
            stack.pop_all()  # it stays open
        return replace(session, changed=_changed(folder)) if made else session
    except (OutdatedError, duckdb.Error, *_NONSENSE) as e:
        foreseen = isinstance(e, OutdatedError | duckdb.Error)
        if was_stopped(e) or (again and not foreseen):
            raise
        if again:
            kept = RuntimeError("it kept changing while it was read")
            raise _cannot_open(folder, kept if isinstance(e, OutdatedError) else e) from e
    remove_database(folder)
    return _current(folder, maker, derive, far, spare=False, again=True)


def _new_bytes(session: Session) -> int:
    """Give how much there is of frames and lines that the database does not hold yet [bytes]."""
    con, folder = session.con, session.folder
    read: int = sum(size for (size,) in con.execute("SELECT bytes FROM journals").fetchall())
    files = [path / cardfacts.FRAMES for path in cardfacts.new_cards(con, folder)]
    files += journal.files(folder)[0]
    return sum(int(stamp_of(file).partition(":")[0] or 0) for file in files) - read


def _changed(folder: Folder) -> tuple[str, ...]:
    """Name the settings that changed since a database was made last, and keep those of now."""
    now, before = folder.root / settings.FILE, folder.cache / settings.FILE
    found: tuple[str, ...] = ()
    with suppress(OSError, CamsignError):
        found = settings.changed(before, now)
    with suppress(OSError):
        before.write_bytes(now.read_bytes())
    return found


def refresh(session: Session, derive: Derive, far: Far | None = None) -> None:
    """Take in new receipts and lines and derive what hangs on them, in one transaction.

    A session that stays open, perhaps over a copy of the database, catches up so.

    Raises:
        OutdatedError: a card or journal that had been read is gone, or a card was measured again.
    """
    con, folder = session.con, session.folder
    con.begin()
    try:
        # What this refresh takes in, for whoever shows it.
        con.execute("CREATE OR REPLACE TEMP TABLE changed (thing VARCHAR, frame VARCHAR)")
        if cardfacts.outdated(con, folder) or lines.outdated(con, folder):
            raise OutdatedError
        # What is wrong with a whole file is told as it is now; what is wrong with a line stays.
        con.execute("DELETE FROM troubles WHERE line IS NULL AND file <> ?", [settings.FILE])
        con.execute("DELETE FROM gone")
        # The garbage collector would walk millions of rows, none of them garbage, again and again.
        with collector_paused():
            cardfacts.take_in(con, cardfacts.new_cards(con, folder), far or Far(None))
            highest = lines.take_in(con, folder)
            read = cardfacts.tell_gone(con, folder)
            derive(session)
        con.execute("DELETE FROM touched")
    except BaseException:
        con.rollback()
        raise
    con.commit()
    journal.remember(folder, highest)
    memory.keep(folder, memory.CARDS, {card: [*about] for card, about in read.items()})


def remove_database(folder: Folder) -> None:
    """Delete the database of this machine; the next opening makes it again."""
    for name in ("camsign.duckdb", "camsign.duckdb.wal"):
        (folder.cache / name).unlink(missing_ok=True)
    remove_tree(folder.cache / "camsign.duckdb.tmp")


def _prepare(session: Session, version: str) -> bool:
    """Make the tables where there are none; say whether that was so."""
    import duckdb

    con = session.con
    try:  # to ask which tables there are costs twenty times as much
        made = con.execute("SELECT version FROM made").fetchone()
    except duckdb.CatalogException:
        con.begin()
        con.execute(things.schema())
        con.execute("INSERT INTO made VALUES (?)", [version])
        for what in session.settings.troubles:
            con.execute("INSERT INTO troubles VALUES (?, NULL, ?)", [settings.FILE, what])
        con.commit()
        return True
    if not made or made[0] != version:
        raise OutdatedError
    return False


def _cannot_open(folder: Folder, e: Exception) -> CamsignError:
    if is_full(e):
        return InputRefused(
            f"the disk that holds {folder.cache} is full",
            "free some space, then run it again; nothing that you noted is lost",
        )
    return CamsignError(
        f"the database in {folder.cache} cannot be used ({first_line(e)})",
        "delete that folder: it is made again and nothing is lost",
    )
