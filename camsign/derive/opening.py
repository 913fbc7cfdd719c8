"""Opening a logbook: its database brought up to date with every receipt and journal line there is,
and all derived from them that answers need.

The database is made again, without a word, when it is missing, damaged, of another version, when
settings changed, when a card or journal it had read is gone, or a card was measured again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from dataclasses import dataclass, replace
from functools import cache, partial
from itertools import groupby
from pathlib import Path
from typing import Any

from camsign.derive.clock_spans import fill_clock_spans, find_current_deployments
from camsign.derive.conflicts import find_conflicts
from camsign.derive.pairs import fill_pairs
from camsign.derive.script import values_of
from camsign.derive.sundays import fill_sun_days
from camsign.derive.watch import fill_watch
from camsign.errors import CamsignError, InputRefused
from camsign.formats.collector import collector_paused
from camsign.logbook import cardfacts, journal, lines, lock, memory, settings, things
from camsign.logbook.database import (
    LITTLE_MB,
    connect,
    first_line,
    insert_rows,
    is_full,
    run_sql,
    sparing,
    was_stopped,
)
from camsign.logbook.far import Far, Progress
from camsign.logbook.folder import Folder, stamp_of
from camsign.logbook.moments import season_of
from camsign.logbook.replay import retag
from camsign.logbook.session import Session
from camsign.logbook.versions import version_of
from camsign.pixels.news_cache import fill_changes, notice_batches
from camsign.sign.windows import SightingLook, windows_of
from camsign.systems import remove_tree

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


def fill_windows(session: Session) -> None:
    """Bring `made_windows`, a row a sighting, up to date with the signs that are new.

    A sign's season is that of the last day on which it can have been made.
    """
    con = session.con
    run_sql(con, __file__, "windows.sql")
    rows = con.execute("SELECT * FROM new_sightings ORDER BY sign, sighting").fetchall()
    rules, made = session.settings, list[tuple[Any, ...]]()
    for _, sightings in groupby(rows, key=lambda row: row[0]):
        mine = list(sightings)  # whose windows narrow each other
        looks = [SightingLook(row[5], row[6], row[8], row[9]) for row in mine]
        for row, one in zip(mine, windows_of(mine[0][2], mine[0][7], looks, rules), strict=True):
            if one is not None:
                season = season_of(one.made_to, rules.season_start)
                made.append((*row[:6], one.made_from, one.made_to, row[10], season, one.basis))
    insert_rows(con, "made_windows", made)


_HUNG = frozenset({"camera"})
_PLACED = frozenset({"camera", "sign", "area"})
_SEEN = frozenset({"camera", "frame", "batches"})
# Each step, a function or an SQL file, carries what is in `touched` on into its own tables, and is
# passed over where nothing of these kinds is there; later steps use earlier ones.
STEPS: tuple[tuple[Callable[[Session], None] | str, frozenset[str]], ...] = (
    (find_current_deployments, _PLACED),
    ("radio_copies", _HUNG),
    (lambda session: retag(session.con), _HUNG),  # of what that pairs or parts
    (fill_clock_spans, _HUNG),
    ("timed", _HUNG),
    (fill_sun_days, _HUNG),
    ("frame_times", _HUNG),
    (fill_watch, _HUNG),
    (fill_pairs, _PLACED),
    (fill_windows, frozenset({"sign"})),
    ("retold", _SEEN),
    ("detections", frozenset({"camera", "frame"})),
    (fill_changes, _SEEN),
    (find_conflicts, frozenset({"camera", "area", "buck", "frame"})),
    ("unsorted", _SEEN),
)


@contextmanager
def open_logbook(
    folder: Folder, progress: Progress | None = None, spare: bool = False
) -> Iterator[Session]:
    """Open a logbook briefly: lock, bring the database up to date, hand it over, close.

    `progress` is told (done, of) of new cards and of steps; made anew it may take a minute.
    `spare`: what is new is taken in with little memory, unless it is very much.

    Raises:
        LogbookBusy: another process holds it.
        CamsignError: the cache cannot be written.
    """
    with lock.held(folder.cache):
        session = _current(folder, Far(progress, len(STEPS)), spare)
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


def _current(folder: Folder, far: Far, spare: bool, again: bool = False) -> Session:
    """Open the database and take in what is new; one that cannot be used is made anew, once."""
    import duckdb

    said = (folder.root / settings.FILE).read_bytes()
    made_of = things.schema().encode() + _maker().encode() + said
    version = hashlib.sha256(made_of).hexdigest()[:16]
    if folder.database not in _open and _left(folder) != _stamp(folder):
        remove_database(folder)  # not as this program left it: killed in the midst, or damaged
    try:
        with ExitStack() as stack:
            session = Session(folder, stack.enter_context(closing(connect(folder.database))))
            made, work = _prepare(session, version), partial(refresh, session, far)
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
    return _current(folder, far, spare=False, again=True)


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


def refresh(session: Session, far: Far | None = None) -> None:
    """Take in new receipts and lines and derive what hangs on them, in one transaction.

    A session that stays open, perhaps over a copy of the database, catches up so.

    Raises:
        OutdatedError: a card or journal that had been read is gone, or a card was measured again.
    """
    con, folder, far = session.con, session.folder, far or Far(None)
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
            cardfacts.take_in(con, cardfacts.new_cards(con, folder), far)
            highest = lines.take_in(con, folder)
            read = cardfacts.tell_gone(con, folder)
            derive(session, far)
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


def derive(session: Session, far: Far) -> None:
    """Carry what was just taken in on into the derived tables; `far` is told of each step."""
    notice_batches(session)
    # What steps add to `touched` hangs on a camera, for which those behind them run anyway.
    new = {kind for (kind,) in session.con.execute("SELECT DISTINCT kind FROM touched").fetchall()}
    for step, kinds in STEPS:
        far.one()
        if not kinds & new:
            continue
        if isinstance(step, str):
            run_sql(session.con, __file__, f"{step}.sql", **values_of(session.settings))
        else:
            step(session)


@cache
def _maker() -> str:
    """Give a text that changes whenever what is derived may change, so that caches follow."""
    import tzdata

    return f"{version_of(__name__)} {tzdata.IANA_VERSION}"


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
