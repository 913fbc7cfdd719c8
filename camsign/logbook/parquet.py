"""Rows of records to a Parquet file in bounded memory, through a throw-away DuckDB table."""

from __future__ import annotations

import dataclasses
import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path
from types import TracebackType
from typing import Any, get_type_hints

from camsign.logbook.database import connect, insert_columns

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


class RowFile:
    """Collects records of one dataclass and writes them, sorted, as one Parquet file.

    Use as a context manager; memory does not grow with the rows.
    """

    def __init__(self, record: type) -> None:
        self._columns = {k: _TYPES[t] for k, t in get_type_hints(record).items()}
        self._folder = tempfile.TemporaryDirectory(prefix="camsign-", ignore_cleanup_errors=True)
        self._con = connect(Path(self._folder.name) / "rows.duckdb")
        ddl = ", ".join(f'"{name}" {kind}' for name, kind in self._columns.items())
        self._con.execute(f"CREATE TABLE rows ({ddl})")

    def __enter__(self) -> RowFile:
        """Give the file being collected."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, e: BaseException | None, t: TracebackType | None
    ) -> None:
        """Let the throw-away table go."""
        self._con.close()
        self._folder.cleanup()

    def add(self, records: Iterable[Any]) -> None:
        """Add a batch of records."""
        rows = [dataclasses.astuple(r) for r in records]
        if rows:
            columns = dict(zip(self._columns, zip(*rows, strict=True), strict=True))
            insert_columns(self._con, "rows", columns, self._columns)

    def write(self, path: Path, order_by: Sequence[str]) -> None:
        """Write all rows, ordered by these columns, to `path`."""
        order = ", ".join(f'"{c}"' for c in order_by)
        target = str(path).replace("'", "''")
        self._con.execute(
            f"COPY (SELECT * FROM rows ORDER BY {order}) TO '{target}' (FORMAT parquet)"
        )
