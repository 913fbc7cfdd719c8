"""What the pixels of a card measure, placed anew: the rows of some frames replaced, others kept.

The card's pictures, its frames.parquet and its SHA256SUMS are not touched. The new file takes the
old one's name in one step, so that after a crash one of the two is there, whole. Whoever calls
holds the logbook open, so that no two do this at once.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import get_type_hints

import duckdb

from camsign.logbook import placing
from camsign.logbook.cardfacts import DETECTED, LOOKS
from camsign.logbook.database import PARQUET, in_memory, one_file
from camsign.logbook.parquet import RowFile
from camsign.logbook.placing import DISK, Disk
from camsign.logbook.records import Detected, Look
from camsign.logbook.sealed import is_whole

Row = Look | Detected
_FILES: dict[type, str] = {Look: LOOKS, Detected: DETECTED}
_BATCH = 500


def replace_rows(card: Path, rows: Iterable[Row], disk: Disk = DISK) -> None:
    """Put looks, or what a detector found, in place of those of the same frames in a card's folder.

    Raises OSError: the disk is full or the folder not writable; the old file is as it was.
    """
    left = {row.frame: row for row in rows}
    if not left:
        return
    kind = type(next(iter(left.values())))
    path = card / _FILES[kind]
    with placing.beside(path) as temp:
        with RowFile(kind) as out:
            # Of a damaged file no row can be kept: they are measured again.
            for batch in _batches(path, kind) if path.is_file() and is_readable(path) else ():
                out.add(left.pop(row.frame, row) for row in batch)
            out.add(left.values())
            try:
                out.write(temp)
            except duckdb.IOException as e:
                told = f"{temp.parent} cannot be written to: no room, or no leave"
                raise OSError(told) from e
        with contextlib.suppress(FileNotFoundError):
            placing.make_writable(path)  # Windows puts nothing in the place of a read-only file
        placing.adopt(temp, path, disk=disk)


def is_readable(path: Path) -> bool:
    """Say whether a file's own sum fits; one that has none must at least be readable."""
    whole = is_whole(path)
    if whole is not None:
        return whole
    with in_memory() as con:
        try:
            con.execute(f"SELECT max(hash(COLUMNS(*))) FROM {PARQUET}", [one_file(path)])
        except duckdb.Error:
            return False
    return True


def _batches(path: Path, kind: type[Row]) -> Iterator[list[Row]]:
    """Give a file's rows in order; columns that it has not got take their defaults."""
    fields = set(get_type_hints(kind))
    with in_memory() as con:
        con.execute("SET threads = 1")
        cursor = con.execute(f"SELECT * FROM {PARQUET}", [one_file(path)])
        names = [column[0] for column in cursor.description or ()]
        while rows := cursor.fetchmany(_BATCH):
            cells = (zip(names, row, strict=True) for row in rows)
            yield [kind(**{name: v for name, v in row if name in fields}) for row in cells]
