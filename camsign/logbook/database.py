"""DuckDB as camsign uses it: no extension is fetched, a busy file waited for, rows go in fast."""

from __future__ import annotations

import errno
import json
import os
import re
import secrets
import tempfile
import time
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from camsign.errors import LogbookBusy
from camsign.logbook.lock import wait_s
from camsign.systems import is_held

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

T = TypeVar("T")
CONFIG = {"autoinstall_known_extensions": "false", "autoload_known_extensions": "false"}
_BULK = 2000
LITTLE_MB = 64
LITTLE = f"SET memory_limit = '{LITTLE_MB}MB'"
_ONLY = re.compile(r"^-- Only with (\w+)\.$", re.MULTILINE)
_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
PARQUET = "read_parquet(?, hive_partitioning = false)"
"""A Parquet file of ours by its path: `a=1` in a path is a folder's name and no column."""


def in_memory() -> DuckDBPyConnection:
    """Open a database that lives in memory only.

    What does not fit lies meanwhile in the system's temporary folder, and never in the one that a
    person stands in, which may be a card's.
    """
    import duckdb

    spill = Path(tempfile.gettempdir()) / f"camsign-{secrets.token_hex(8)}"
    return _quiet(duckdb.connect(":memory:", config={**CONFIG, "temp_directory": str(spill)}))


def sparing_memory() -> DuckDBPyConnection:
    """Give a connection, to be closed, to the one database in memory of a process that works in one
    thread and 64 MB: one for all, since starting it is slow. Tables are to be temporary."""
    return _little().cursor()


@cache
def _little() -> DuckDBPyConnection:
    con = in_memory()
    con.execute("SET threads = 1")
    con.execute(LITTLE)
    return con


def _quiet(con: DuckDBPyConnection) -> DuckDBPyConnection:
    """Switch the progress bar off: it would be drawn on stdout, into JSON and CSV."""
    con.execute("SET enable_progress_bar = false")
    return con


def connect(path: Path) -> DuckDBPyConnection:
    """Open a DuckDB file for reading and writing.

    Raises:
        LogbookBusy: another program has the file open and did not let go in time.
        duckdb.Error: the file is no database.
    """
    import duckdb

    until = time.monotonic() + wait_s()
    while True:
        try:
            return _quiet(duckdb.connect(path, config=dict(CONFIG)))
        except duckdb.IOException as e:
            if not is_held(path, str(e)):
                raise
            if time.monotonic() > until:
                raise LogbookBusy(
                    f"another program has {path} open", "close it, then try again"
                ) from e
            time.sleep(0.1)


def sparing(con: DuckDBPyConnection, work: Callable[[], T], mb: int = LITTLE_MB) -> T:
    """Do work in the same little memory however many rows it is about, where that can be done.

    What does not fit lies meanwhile in files beside the database. If even that is not enough, it is
    begun again with all the memory there is. Only for a database that nobody else asks meanwhile.
    """
    import duckdb

    try:
        con.execute("SET threads = 1")  # each has buffers of its own
        with suppress(duckdb.OutOfMemoryException):  # more is held already
            con.execute(f"SET memory_limit = '{mb}MB'")
        return work()
    except duckdb.OutOfMemoryException:
        pass  # what was spared is let go of, and it is begun again
    finally:
        _spare_nothing(con)
    return work()


def unsparing(con: DuckDBPyConnection, work: Callable[[], T]) -> T:
    """Do work, and where it fails for want of memory that is being spared, begin it again."""
    import duckdb

    try:
        return work()
    except duckdb.OutOfMemoryException:
        _spare_nothing(con)
        return work()


def _spare_nothing(con: DuckDBPyConnection) -> None:
    import duckdb

    with suppress(duckdb.Error):  # of a damaged database more is told elsewhere
        con.execute("RESET memory_limit")
        con.execute("RESET threads")


def is_full(e: BaseException) -> bool:
    """Say whether an error tells that a disk is full, in whatever words of whichever library."""
    if isinstance(e, OSError) and e.errno is not None:
        return e.errno in _FULL
    words = [*(os.strerror(number) for number in _FULL), "not enough space on the disk"]
    return any(word in str(e) for word in words)


def was_stopped(e: BaseException) -> bool:
    """Say whether an error tells only that somebody stopped the statement; nothing is damaged."""
    import duckdb

    return isinstance(e, duckdb.InterruptException) or str(e) == "Query interrupted"


def first_line(e: BaseException) -> str:
    """Give an error's words in one line; DuckDB writes those of a fatal one as JSON."""
    text = str(e)
    with suppress(ValueError, KeyError, TypeError):
        text = str(json.loads(text)["exception_message"])
    return (text.strip().splitlines() or [type(e).__name__])[0].strip()


def one_file(path: Path) -> str:
    """Give a path as DuckDB's readers take it for this very file: `*`, `?`, `[` as they stand."""
    return re.sub(r"([*?\[])", r"[\1]", str(path))


@cache
def sql_beside(module: str, name: str) -> str:
    """Give the text of an SQL file by its path from a module's folder; `module` is its __file__."""
    return (Path(module).parent / name).read_text(encoding="utf-8")


@cache
def _statements(script: str) -> list[str]:
    return [part for part in script.split(";\n") if part.strip()]


def run_sql(con: DuckDBPyConnection, module: str, name: str, **values: Any) -> DuckDBPyConnection:
    """Run an SQL file beside a module (its __file__), statement by statement, in order; each gets
    the values whose `$names` it uses. Give the connection, for what the last one found.

    One under a line `-- Only with TABLE.` is passed over while that table is empty: to plan it
    would take longer than all the rest of an opening.
    """
    for statement in _statements(sql_beside(module, name)):
        needed = _ONLY.search(statement)
        if needed and not con.execute(f"SELECT 1 FROM {needed[1]} LIMIT 1").fetchone():
            continue
        used = {k: v for k, v in values.items() if f"${k}" in statement}
        con.execute(statement, used or None)
    return con


def insert_rows(
    con: DuckDBPyConnection,
    table: str,
    rows: Iterable[Sequence[Any]],
    columns: Sequence[str] = (),
) -> None:
    """Insert rows that hold these of a table's columns; all, in its order, where none are named."""
    cells = [list(column) for column in zip(*rows, strict=True)]
    if not cells:
        return
    there = con.table(table)
    types = dict(zip(there.columns, there.types, strict=True))
    names = columns or there.columns
    kinds = [str(types[name]) for name in names]
    n = len(cells[0])
    listed = '", "'.join(names)
    into = f'INSERT INTO "{table}" ("{listed}")'
    if n < _BULK or any(kind.endswith("[]") for kind in kinds):
        spread = ", ".join(f"unnest(?::{kind}[])" for kind in kinds)
        for at in range(0, n, _BULK):
            con.execute(f"{into} SELECT {spread}", [column[at : at + _BULK] for column in cells])
        return
    import numpy as np

    con.register("bulk_rows", {f"c{i}": np.array(v, dtype=object) for i, v in enumerate(cells)})
    cast = ", ".join(f"c{i}::{kind}" for i, kind in enumerate(kinds))
    con.execute(f"{into} SELECT {cast} FROM bulk_rows")
    con.unregister("bulk_rows")
