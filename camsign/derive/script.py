"""Runs the SQL file beside a step, statement by statement."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from camsign.logbook.database import run_script, sql_beside

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection


def run(con: DuckDBPyConnection, name: str, **values: Any) -> None:
    """Run the statements of `name`.sql in order; each gets the values whose `$names` it uses."""
    run_script(con, sql_beside(__file__, f"{name}.sql"), values)


def touched(con: DuckDBPyConnection, *kinds: str) -> bool:
    """Say whether anything of these kinds is new since the last opening."""
    row = con.execute("SELECT 1 FROM touched WHERE list_contains(?, kind) LIMIT 1", [kinds])
    return row.fetchone() is not None
