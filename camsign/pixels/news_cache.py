"""What frames show that others do not, as it is kept: in the cache, batch by batch.

The frames are cut into batches (batches.sql) that are compared within themselves. What a batch
gives is one small Parquet file, named by what went in, so that only what is new is computed, a
database made again reads it back, and a cache that is gone is made again with the same numbers.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Collection, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from camsign.logbook.database import PARQUET, insert_rows, one_file, run_sql, sql_beside
from camsign.logbook.folder import Folder
from camsign.logbook.versions import version_of
from camsign.pixels.lessons import FEWEST, NEARBY
from camsign.pixels.scores import fit_thresholds, score
from camsign.pixels.stays_shown import note_shown, read_shown, shown_anew

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

    from camsign.logbook.session import Session

_KEPT = ".parquet"
COMPARES = "camsign.pixels.changes"
"""What makes the numbers: batches that another version of it made are made anew."""


def store_of(folder: Folder) -> Path:
    """Give the cache folder of the batches."""
    return folder.cache / "changes"


def lay_batches(con: DuckDBPyConnection, cameras: Collection[str] | None = None) -> None:
    """Make the temporary table `batches`: every frame with its batch, for these cameras or all."""
    given = {"cameras": None if cameras is None else list(cameras)}
    known = {"version": version_of(COMPARES), "fewest": FEWEST, "most": NEARBY}
    run_sql(con, __file__, "batches.sql", **given, **known)


def names_of(folder: Folder) -> str:
    """Give a text that changes whenever a batch is added to the cache or goes."""
    return hashlib.md5("".join(sorted(_there(folder))).encode(), usedforsecurity=False).hexdigest()


def _there(folder: Folder) -> set[str]:
    """Name the batches in the cache; there may be thousands, and the pages look every second."""
    try:
        files = os.listdir(store_of(folder))  # noqa: PTH208 - a path for each takes ten times as long
    except FileNotFoundError:
        return set()
    return {name.removesuffix(_KEPT) for name in files if name.endswith(_KEPT)}


def _files(folder: Folder, names: Iterable[str]) -> list[str]:
    return [one_file(store_of(folder) / f"{name}{_KEPT}") for name in sorted(names)]


def notice_batches(session: Session) -> None:
    """Note in `touched` the cameras of which frames were compared, or what was shown of them was
    noted, since the last opening, by whichever program."""
    _touch(session.con, _compared_anew(session) | shown_anew(session))


def fill_changes(session: Session) -> None:
    """Bring `changes` up to date with the cards there are, thresholds and scores with the tags."""
    con = session.con
    ids, anew = "SELECT DISTINCT id FROM touched WHERE kind IN ('camera', 'batches')", set[str]()
    # What was learned from frames tagged as nothing may be another now, and batches with it.
    for sql in (ids, sql_beside(__file__, "taught_otherwise.sql")):
        anew |= {camera for (camera,) in con.execute(sql).fetchall()}
    if anew:
        take(session, anew)
    tagged = con.execute("SELECT DISTINCT camera FROM retold").fetchall()
    rest = {camera for (camera,) in tagged} - anew
    if rest and (moved := fit_thresholds(session, rest)):
        score(session, moved)
        note_shown(session)
        _touch(con, moved)


def _touch(con: DuckDBPyConnection, cameras: Iterable[str]) -> None:
    if found := sorted(cameras):
        con.execute("INSERT INTO touched SELECT 'batches', unnest(?::VARCHAR[])", [found])


def _compared_anew(session: Session) -> set[str]:
    """Note which batches lie in the cache now; give the cameras of which any came since, or all
    cameras if one is gone."""
    con, there = session.con, _there(session.folder)
    taken = {made for (made,) in con.execute("SELECT made FROM batches_taken").fetchall()}
    new, gone = sorted(there - taken), taken - there
    if gone:
        sql = "DELETE FROM batches_taken WHERE list_contains(?::VARCHAR[], made)"
        con.execute(sql, [sorted(gone)])
    insert_rows(con, "batches_taken", [(made,) for made in new])
    if not (new or gone) or not con.execute("SELECT 1 FROM frame_times LIMIT 1").fetchone():
        return set()
    sql = "SELECT DISTINCT camera FROM frame_times"
    if gone:
        return {camera for (camera,) in con.execute(sql).fetchall()}
    files = _files(session.folder, new)
    rows = con.execute(f"{sql} WHERE frame IN (SELECT frame FROM {PARQUET})", [files])
    return {camera for (camera,) in rows.fetchall()}


def take(session: Session, cameras: Collection[str] | None = None) -> int:
    """Take what is kept in the cache of these cameras, or of all, into `changes`, and score it.

    What is not set aside now is noted in the cards' folders, so that it never is.

    Returns:
        How many frames have a row in `changes`.
    """
    con = session.con
    there = _there(session.folder)
    among = None if cameras is None else sorted(cameras)
    con.execute(
        "DELETE FROM changes WHERE $cameras IS NULL"
        " OR camera IN (SELECT unnest($cameras::VARCHAR[]))",
        {"cameras": among},
    )
    files: list[str] = []
    if there:  # else the frames need not be gone through
        lay_batches(con, among)
        made = {row[0] for row in con.execute("SELECT DISTINCT made FROM batches").fetchall()}
        files = _files(session.folder, made & there)
    if files:
        con.execute(
            "INSERT INTO changes BY NAME SELECT kept.*, b.camera, b.card, b.light"
            f" FROM {PARQUET} kept JOIN batches b USING (frame) WHERE b.asked ORDER BY b.camera",
            [files],
        )
    fit_thresholds(session, among)
    read_shown(session, among)
    score(session, among)
    if files:
        note_shown(session)
    row = con.execute("SELECT count(*) FROM changes").fetchone()
    return int(row[0]) if row else 0
