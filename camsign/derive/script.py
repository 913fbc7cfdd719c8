"""Runs the SQL file beside a step, statement by statement."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, Any

from camsign.logbook.database import sql_beside

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

_ONLY = re.compile(r"^-- Only with (\w+)\.$", re.MULTILINE)


def run(con: DuckDBPyConnection, name: str, **values: Any) -> None:
    """Run the statements of `name`.sql in order; each gets the values whose `$names` it uses.

    One under a line `-- Only with TABLE.` is passed over while that table is empty: to plan it
    would take longer than all the rest of an opening.
    """
    for statement in _statements(name):
        needed = _ONLY.search(statement)
        if needed and not con.execute(f"SELECT 1 FROM {needed[1]} LIMIT 1").fetchone():
            continue
        used = {k: v for k, v in values.items() if f"${k}" in statement}
        con.execute(statement, used or None)


def touched(con: DuckDBPyConnection, *kinds: str) -> bool:
    """Say whether anything of these kinds is new since the last opening."""
    row = con.execute("SELECT 1 FROM touched WHERE list_contains(?, kind) LIMIT 1", [kinds])
    return row.fetchone() is not None


@cache
def _statements(name: str) -> list[str]:
    text = sql_beside(__file__, f"{name}.sql")
    return [part for part in text.split(";\n") if part.strip()]
