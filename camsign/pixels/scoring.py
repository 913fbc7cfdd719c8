"""Scores for a whole logbook: compares each camera's frames by their glances, opens no picture.

Three steps, so that the logbook is open only briefly: `plan` (open), `carry_out` (closed), `take`
(open). What is computed is kept as the module `kept` says.
"""

from __future__ import annotations

import secrets
from collections.abc import Generator, Sequence
from concurrent.futures import Executor
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from itertools import groupby
from operator import attrgetter, itemgetter
from pathlib import Path
from sys import intern
from typing import TYPE_CHECKING, get_type_hints

from camsign import systems
from camsign.logbook.cardfacts import LOOKS
from camsign.logbook.database import PARQUET, insert_rows, one_file, sparing_memory
from camsign.logbook.far import Progress
from camsign.pixels.changes import Change, Glanced, changes
from camsign.pixels.glance import Glances
from camsign.pixels.news_cache import lay_batches, store_of
from camsign.pixels.workers import in_order, workers

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

    from camsign.logbook.session import Session


_TYPES = {
    int: "INTEGER",
    str: "VARCHAR",
    str | None: "VARCHAR",
    float | None: "DOUBLE",
    bool: "BOOLEAN",
}
_COLUMNS = {name: _TYPES[kind] for name, kind in get_type_hints(Change).items()}
_cells = attrgetter(*_COLUMNS)  # astuple copies each cell
_WORKERS = 2  # each holds about 100 MB
_AHEAD = 32  # batches of some 3 MB that wait or are compared elsewhere
_AT_ONCE = 200


@dataclass(frozen=True, slots=True)
class Plan:
    """What is to be computed: rows in order (batch, frame, seconds, burst, tagged as nothing, asked
    for) and the looks to read."""

    rows: tuple[tuple[str, str, float, str, bool, bool], ...]
    looks: tuple[Path, ...]
    store: Path

    @property
    def frames(self) -> int:
        """How many frames are to be compared."""
        return sum(row[5] for row in self.rows)


def plan(session: Session, cameras: Sequence[str] | None = None) -> Plan:
    """Find what has to be computed; nothing is written."""
    store = store_of(session.folder)
    lay_batches(session.con, cameras)
    there = {p.stem for p in store.glob("*.parquet")} if store.is_dir() else set()
    found = session.con.execute(
        "SELECT made, frame, moment, burst, nothing, asked, folder FROM batches ORDER BY made, nth"
    )
    rows, folders = [], set()
    while some := found.fetchmany(_AT_ONCE):
        for made, frame, moment, burst, *how, folder in some:
            if made not in there:
                # Of words that many rows say, and of a burst of one, no copies are kept.
                words = intern(made), frame, moment, frame if burst == frame else intern(burst)
                rows.append((*words, *how))
                folders.add(folder)
    looks = tuple(session.folder.cards / name / LOOKS for name in sorted(folders))
    return Plan(tuple(rows), looks, store)


def carry_out(
    planned: Plan, progress: Progress | None = None, executor: Executor | None = None
) -> int:
    """Compute and keep what is planned; the logbook need not be open.

    Args:
        planned: what.
        progress: is told (frames done, frames in all).
        executor: compares, one batch a task; default two threads.

    Returns:
        How many frames were compared.

    Raises:
        OSError: the cache cannot be written.
    """
    if not planned.rows:
        return 0
    planned.store.mkdir(parents=True, exist_ok=True)
    done, of = 0, planned.frames
    with Glances() as glances, closing(sparing_memory()) as con:
        con.execute(
            "CREATE TEMP TABLE rows (" + ", ".join(f'"{n}" {k}' for n, k in _COLUMNS.items()) + ")"
        )
        _read(con, planned, glances)
        with closing(_computed(planned, glances, executor)) as computed:
            for made, rows in computed:
                _keep(con, planned.store / f"{made}.parquet", rows)
                done += len(rows)
                if progress is not None:
                    progress(done, of)
    return done


def _read(con: DuckDBPyConnection, planned: Plan, glances: Glances) -> None:
    """Read the glances that are wanted, some hundred at a time, so that memory stays small."""
    wanted = {row[1] for row in planned.rows}
    for path in planned.looks:
        if not path.is_file():
            continue
        con.execute(f"SELECT frame, glance, numbers FROM {PARQUET}", [one_file(path)])
        while rows := con.fetchmany(_AT_ONCE):
            for frame, glance, numbers in rows:
                if frame in wanted:
                    glances.add(frame, glance or b"", numbers or "{}")


def _computed(
    planned: Plan, glances: Glances, executor: Executor | None
) -> Generator[tuple[str, list[Change]]]:
    """Give the name and the rows of each batch."""
    tasks = (
        partial(changes, [Glanced(*r[1:4], *glances.get(r[1]), *r[4:]) for r in rows])
        for _, rows in groupby(planned.rows, key=itemgetter(0))
    )
    names = dict.fromkeys(row[0] for row in planned.rows)
    ahead = _WORKERS + 1 if executor is None else _AHEAD
    with workers(executor, _WORKERS) as pool, closing(in_order(pool, tasks, ahead)) as found:
        yield from zip(names, found, strict=True)


def _keep(con: DuckDBPyConnection, path: Path, rows: Sequence[Change]) -> None:
    import duckdb

    con.execute("DELETE FROM rows")
    insert_rows(con, "rows", list(map(_cells, rows)))
    temp = path.with_name(f".{path.stem}-{secrets.token_hex(4)}")  # others may be at the same work
    try:
        con.execute(f"COPY rows TO '{str(temp).replace(chr(39), chr(39) * 2)}' (FORMAT parquet)")
    except duckdb.IOException as e:
        temp.unlink(missing_ok=True)
        raise OSError(f"{path.parent} cannot be written to: no room, or no leave") from e
    systems.replace(temp, path)
