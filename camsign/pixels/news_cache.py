"""What frames show that others do not, as it is kept: in the cache, batch by batch.

The frames are cut into batches (batches.sql) that are compared within themselves. What a batch
gives is one small Parquet file, named by what went in, so that only what is new is computed, a
database made again reads it back, and a cache that is gone is made again with the same numbers.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from camsign.logbook.database import PARQUET, one_file, sql_beside
from camsign.logbook.folder import Folder
from camsign.logbook.versions import version_of
from camsign.pixels.scores import fit_thresholds
from camsign.pixels.stays_shown import note_shown

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

    from camsign.logbook.session import Session

COMPARES = "camsign.pixels.changes"
"""What makes the numbers: batches that another version of it made are made anew."""


def store_of(folder: Folder) -> Path:
    """Give the cache folder of the batches."""
    return folder.cache / "changes"


def lay_batches(con: DuckDBPyConnection, cameras: Sequence[str] | None = None) -> None:
    """Make the temporary table `batches`: every frame with its batch, for these cameras or all."""
    sql = sql_beside(__file__, "batches.sql")
    given = None if cameras is None else list(cameras)
    con.execute(sql, {"cameras": given, "version": version_of(COMPARES)})


def names_of(folder: Folder) -> str:
    """Give a text that changes whenever a batch is added to the cache or goes."""
    return hashlib.md5("".join(sorted(_there(folder))).encode(), usedforsecurity=False).hexdigest()


def _there(folder: Folder) -> dict[str, Path]:
    store = store_of(folder)
    return {p.stem: p for p in store.glob("*.parquet")} if store.is_dir() else {}


def are_taken(session: Session) -> bool:
    """Say whether `changes` was read from the batches that lie in the cache now."""
    row = session.con.execute("SELECT names FROM batches_taken").fetchone()
    return row is not None and row[0] == names_of(session.folder)


def take(session: Session) -> int:
    """Take what is kept in the cache into the table `changes`, and fit the thresholds.

    What is not set aside now is noted in the cards' folders, so that it never is.

    Returns:
        How many frames have a row in `changes`.
    """
    con = session.con
    there = _there(session.folder)
    con.execute("DELETE FROM changes")
    con.execute("DELETE FROM batches_taken")
    con.execute("INSERT INTO batches_taken VALUES (?)", [names_of(session.folder)])
    if there:  # else the frames need not be gone through
        lay_batches(con)
        made = [row[0] for row in con.execute("SELECT DISTINCT made FROM batches").fetchall()]
        files = [one_file(there[name]) for name in sorted(made) if name in there]
        if files:
            con.execute(
                f"INSERT INTO changes BY NAME SELECT * FROM {PARQUET}",
                [files],
            )
    fit_thresholds(session)
    note_shown(session)
    row = con.execute("SELECT count(*) FROM changes").fetchone()
    return int(row[0]) if row else 0
