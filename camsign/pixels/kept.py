"""What frames show that others do not, as it is kept: in the cache, piece by piece.

The frames are cut into pieces (pieces.sql) that are compared within themselves. What a piece gives
is one small Parquet file, named by what went in, so that only what is new is computed, a database
made again reads it back, and a cache that is gone is made again with the same numbers.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from camsign.logbook.database import sql_beside
from camsign.logbook.folder import Folder
from camsign.pixels.scores import fit_thresholds

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

    from camsign.logbook.session import Session

MAKER = 4
"""Version of what is computed; another one makes all pieces anew."""


@dataclass(frozen=True, slots=True)
class Change:
    """What is new in a frame. `news` is the number that scores are made of; None: cannot be said.

    `own`: the frame's own news, without its burst's. The box is given as shares of the picture's
    width and height from the upper left, `size` as a share of its area; None where nothing is
    new. `way`: "left" or "right", the same for the whole burst, with `way_steady` 0..1.
    `veiled`: 0..1, how much of the camera's usual fine detail is missing (fog, a wet or dirty
    lens, blur, or a covered view).
    """

    frame: str
    news: float | None
    own: float | None
    box_x: float | None
    box_y: float | None
    box_width: float | None
    box_height: float | None
    size: float | None
    contrast: float | None
    way: str | None
    way_steady: float | None
    veiled: float | None


def store_of(folder: Folder) -> Path:
    """Give the cache folder of the pieces."""
    return folder.cache / "changes"


def lay_pieces(con: DuckDBPyConnection, cameras: Sequence[str] | None = None) -> None:
    """Make the temporary table `pieces`: every frame with its piece, for these cameras or all."""
    sql = sql_beside(__file__, "pieces.sql")
    given = None if cameras is None else list(cameras)
    con.execute(sql, {"cameras": given, "version": str(MAKER)})


def names_of(folder: Folder) -> str:
    """Give a text that changes whenever a piece is added to the cache or goes."""
    return hashlib.md5("".join(sorted(_there(folder))).encode(), usedforsecurity=False).hexdigest()


def _there(folder: Folder) -> dict[str, Path]:
    store = store_of(folder)
    return {p.stem: p for p in store.glob("*.parquet")} if store.is_dir() else {}


def are_taken(session: Session) -> bool:
    """Say whether `changes` was read from the pieces that lie in the cache now."""
    row = session.con.execute("SELECT names FROM pieces_taken").fetchone()
    return row is not None and row[0] == names_of(session.folder)


def take(session: Session) -> int:
    """Take what is kept in the cache into the table `changes`, and fit the thresholds.

    Returns:
        How many frames have a row in `changes`.
    """
    con = session.con
    there = _there(session.folder)
    con.execute("DELETE FROM changes")
    con.execute("DELETE FROM pieces_taken")
    con.execute("INSERT INTO pieces_taken VALUES (?)", [names_of(session.folder)])
    if there:  # else the frames need not be gone through
        lay_pieces(con)
        made = [row[0] for row in con.execute("SELECT DISTINCT made FROM pieces").fetchall()]
        files = [str(there[name]) for name in sorted(made) if name in there]
        if files:
            con.execute("INSERT INTO changes BY NAME SELECT * FROM read_parquet(?)", [files])
    fit_thresholds(session)
    row = con.execute("SELECT count(*) FROM changes").fetchone()
    return int(row[0]) if row else 0
