"""Questions that only pages ask: an SQL file's rows as typed values."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

from camsign.logbook.database import run_sql

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

T = TypeVar("T")


def rows(con: DuckDBPyConnection, name: str, row: type[T], **values: Any) -> list[T]:
    """Give the rows of `queries/<name>.sql` as `row`, whose fields are the query's columns."""
    return [
        row(*cells) for cells in run_sql(con, __file__, f"queries/{name}.sql", **values).fetchall()
    ]


def dicts(con: DuckDBPyConnection, name: str, **values: Any) -> list[dict[str, Any]]:
    """Give the rows of `queries/<name>.sql` by their columns."""
    found = run_sql(con, __file__, f"queries/{name}.sql", **values)
    columns = [column[0] for column in found.description or []]
    return [dict(zip(columns, cells, strict=True)) for cells in found.fetchall()]
