"""What the pixels of a card measure, placed anew: the rows of some frames replaced, others kept.

The card's pictures, its frames.parquet and its SHA256SUMS are not touched. The new file takes the
old one's name in one step, so that after a crash one of the two is there, whole. Whoever calls
holds the logbook open, so that no two do this at once.
"""

from __future__ import annotations

import contextlib
import secrets
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, TypeVar, get_type_hints

import duckdb

from camsign.logbook import placing
from camsign.logbook.cardfacts import DETECTED, LOOKS
from camsign.logbook.database import PARQUET, in_memory, one_file
from camsign.logbook.parquet import RowFile
from camsign.logbook.placing import DISK, Disk
from camsign.logbook.records import Detected, Look
from camsign.logbook.sealed import is_whole

Row = TypeVar("Row", Look, Detected)
_BATCH = 500


def replace_looks(card: Path, rows: Iterable[Look], disk: Disk = DISK) -> None:
    """Put looks into a card's looks.parquet, in place of those of the same frames.

    Args:
        card: the card's folder.
        rows: the new looks; they are held in memory.
        disk: writes the file.

    Raises:
        OSError: the disk is full or the folder not writable; the old file is as it was.
    """
    _replace(card / LOOKS, Look, {row.frame: row for row in rows}, disk)


def replace_detected(card: Path, rows: Iterable[Detected], disk: Disk = DISK) -> None:
    """Put what a detector found into a card's detected.parquet; as `replace_looks`."""
    _replace(card / DETECTED, Detected, {row.frame: row for row in rows}, disk)


def _replace(path: Path, kind: type[Row], new: Mapping[str, Row], disk: Disk) -> None:
    if not new:
        return
    temp = path.with_name(f"{placing.TEMP_PREFIX}{secrets.token_hex(6)}")
    left = dict(new)
    try:
        with RowFile(kind) as out:
            # Of a damaged file no row can be kept: they are measured again.
            for batch in _batches(path, kind) if path.is_file() and is_readable(path) else ():
                out.add(left.pop(row.frame, row) for row in batch)
            out.add(left.values())
            _write(out, temp)
        with contextlib.suppress(FileNotFoundError):
            placing.make_writable(path)  # Windows puts nothing in the place of a read-only file
        placing.adopt(temp, path, disk=disk)
    except BaseException:
        placing.discard(temp)
        raise


def is_readable(path: Path) -> bool:
    """Say whether a file's own sum fits; one that has none must at least be readable."""
    whole = is_whole(path)
    if whole is not None:
        return whole
    con = in_memory()
    try:
        con.execute(f"SELECT max(hash(COLUMNS(*))) FROM {PARQUET}", [one_file(path)])
    except duckdb.Error:
        return False
    finally:
        con.close()
    return True


def _write(out: RowFile, temp: Path) -> None:
    try:
        out.write(temp)
    except duckdb.IOException as e:
        raise OSError(f"{temp.parent} cannot be written to: no room, or no leave") from e


def _batches(path: Path, kind: type[Row]) -> Iterator[list[Row]]:
    """Give a file's rows in order; columns that it has not got take their defaults."""
    fields = set(get_type_hints(kind))
    con = in_memory()
    try:
        con.execute("SET threads = 1")
        cursor = con.execute(f"SELECT * FROM {PARQUET}", [one_file(path)])
        names = [column[0] for column in cursor.description or ()]
        while rows := cursor.fetchmany(_BATCH):
            yield [kind(**_known(dict(zip(names, row, strict=True)), fields)) for row in rows]
    finally:
        con.close()


def _known(cells: dict[str, Any], fields: set[str]) -> dict[str, Any]:
    return {name: value for name, value in cells.items() if name in fields}
