"""Rows of records to a Parquet file in bounded memory, batch by batch."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Sequence
from operator import attrgetter
from pathlib import Path
from types import TracebackType
from typing import Any, get_type_hints

from camsign.logbook import sealed
from camsign.logbook.database import LITTLE, one_file, sparing_memory

_TYPES: dict[Any, str] = {
    str: "VARCHAR",
    str | None: "VARCHAR",
    int: "BIGINT",
    int | None: "BIGINT",
    float: "DOUBLE",
    float | None: "DOUBLE",
    bool: "BOOLEAN",
    bytes: "BLOB",
    tuple[str, ...]: "VARCHAR[]",
}


_BATCH = 500
# Rows written and read at once: fewer where one holds a small picture, some kilobytes.
_ROW_GROUP, _ROW_GROUP_OF_BLOBS = 2048, 512


class RowFile:
    """Collects records of one dataclass and writes them as one Parquet file, in the order given.

    Use as a context manager. Some hundred at a time go to a small Parquet file of their own and all
    are joined at the end, so that memory does not grow with the rows.
    """

    def __init__(self, record: type) -> None:
        self._columns = {k: _TYPES[t] for k, t in get_type_hints(record).items()}
        self._cells = attrgetter(*self._columns)
        self._folder = tempfile.TemporaryDirectory(prefix="camsign-", ignore_cleanup_errors=True)
        self._con = sparing_memory()
        self._parts: list[str] = []
        self._rows: list[tuple[Any, ...]] = []

    def __enter__(self) -> RowFile:
        """Give the file being collected."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, e: BaseException | None, t: TracebackType | None
    ) -> None:
        """Let the throw-away files go, and the memory: a limit that is set anew frees it."""
        self._con.execute(LITTLE)
        self._con.close()
        self._folder.cleanup()

    def add(self, records: Iterable[Any]) -> None:
        """Add records."""
        self._rows += map(self._cells, records)
        if len(self._rows) >= _BATCH:
            self._flush()

    def _flush(self) -> None:
        cells = ", ".join(f'unnest(?::{kind}[]) AS "{c}"' for c, kind in self._columns.items())
        part = str(Path(self._folder.name) / f"{len(self._parts):06d}.parquet")
        sql = f"COPY (SELECT {cells}) TO {_quoted(part)} (FORMAT parquet)"
        columns = zip(*self._rows, strict=True) if self._rows else [()] * len(self._columns)
        self._con.execute(sql, [list(column) for column in columns])
        self._parts.append(part)
        self._rows.clear()

    def write(self, path: Path, order_by: Sequence[str] = ()) -> None:
        """Write all rows to `path`, sealed; `order_by` only if memory may hold all of them."""
        if self._rows or not self._parts:
            self._flush()
        order = f" ORDER BY {', '.join(order_by)}" if order_by else ""
        group = _ROW_GROUP_OF_BLOBS if "BLOB" in self._columns.values() else _ROW_GROUP
        parts = ", ".join(_quoted(one_file(Path(p))) for p in self._parts)
        self._con.execute(
            f"COPY (SELECT * FROM read_parquet([{parts}], hive_partitioning = false){order})"
            f" TO {_quoted(str(path))}"
            f" (FORMAT parquet, ROW_GROUP_SIZE {group},"
            f" KV_METADATA {{{sealed.KEY}: '{sealed.BLANK}'}})"
        )
        sealed.seal(path)


def _quoted(path: str) -> str:
    return "'" + path.replace("'", "''") + "'"
