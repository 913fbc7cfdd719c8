"""Questions of one's own, in SQL, on documented views; nothing else can be read or changed.

What is refused is refused by DuckDB itself: the question runs in a transaction that is read-only,
with access to files, networks and other databases switched off and the switch locked. On top, only
one statement that selects or explains is let in.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import duckdb
from duckdb import DuckDBPyConnection

from camsign.answers.result import plain
from camsign.errors import UsageError
from camsign.logbook.database import first_line, sql_beside
from camsign.logbook.session import Session
from camsign.zones import zone

if TYPE_CHECKING:
    import pandas as pd


VIEWS = ("detections", "visits", "near", "watch", "sign", "areas")
LONGEST_S = 60.0
"""A question is stopped then [s]."""
MOST_ROWS = 1_000_000
"""One that gives more rows is refused: they would fill the memory."""
# No file, no network, no other database, no Python variable; and nobody sets it back.
_LOCKS = (
    "SET memory_limit = '2GB'",
    "SET python_enable_replacements = false",
    "SET enable_external_access = false",
    "SET lock_configuration = true",
)


@dataclass(frozen=True, slots=True)
class Table:
    """What a question gave: the columns' names and the rows."""

    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]
    _types: tuple[str, ...] = ()

    def to_records(self, flat: bool = False) -> list[dict[str, Any]]:
        """Give the rows as dicts; `flat` turns lists and structures into text."""
        rows = self.rows
        if flat:
            rows = tuple(
                tuple(str(x) if isinstance(x, list | dict) else x for x in row) for row in rows
            )
        return [dict(zip(self.columns, row, strict=True)) for row in rows]

    def to_json(self) -> list[dict[str, Any]]:
        """Give the rows with times as text."""
        known = (str, int, float, list, dict, type(None))
        rows = [{k: plain(v) for k, v in row.items()} for row in self.to_records()]
        return [{k: v if isinstance(v, known) else str(v) for k, v in r.items()} for r in rows]

    def to_frame(self, tz: str = "UTC") -> pd.DataFrame:
        """Give the rows as a DataFrame; dtypes as in `camsign.answers.framed`.

        `local` becomes tz-aware by the row's `utc`. Where that was not asked for, the hour that
        comes twice in fall is taken as its second coming.

        Args:
            tz: the zone of the place.
        """
        import pandas as pd

        from camsign.answers.framed import framed, kind_of_sql

        twice = len(set(self.columns)) < len(self.columns)
        if twice:  # a frame of columns of one name has no rows by name
            return pd.DataFrame(list(self.rows), columns=list(self.columns))
        types = dict(zip(self.columns, self._types, strict=False))
        kinds = {name: kind_of_sql(said) for name, said in types.items()}
        frame = framed(self.to_records(), kinds, tz, self.columns)
        if types.get("local") == "TIMESTAMP":
            wall = frame["local"].dt.tz_convert("UTC").dt.tz_localize(None)
            frame["local"] = (
                frame["utc"].dt.tz_convert(zone(tz)) if types.get("utc") == "TIMESTAMP"
                else wall.dt.tz_localize(zone(tz), ambiguous=False, nonexistent="shift_forward")
            )  # fmt: skip
        return frame


def ask(session: Session, text: str, longest_s: float = LONGEST_S) -> Table:
    """Run a question of one's own on the views of `VIEWS` (their columns: views.sql).

    From then on the session can reach no file but the logbook's.

    Args:
        text: one SELECT (or WITH, DESCRIBE, SUMMARIZE, EXPLAIN) statement.
        longest_s: it is stopped when it has run so long [s].

    Raises:
        UsageError: more or other than that, DuckDB does not understand it, or it takes more time,
            memory or rows than a question of one's own may.
    """
    _check(session, text)
    try:
        with _read_only(session), _stopped_after(session.con, longest_s):
            found = session.con.execute(text)
            columns = tuple(column[0] for column in found.description or ())
            types = tuple(str(column[1]) for column in found.description or ())
            rows = tuple(found.fetchmany(MOST_ROWS + 1))
    except duckdb.InterruptException as e:
        why = f"the question was stopped: it ran for more than {longest_s:g} s"
        raise UsageError(why, "ask for fewer days or rows") from e
    except duckdb.OutOfMemoryException as e:
        raise UsageError("the question needs more than 2 GB", "ask for fewer days or rows") from e
    except duckdb.Error as e:
        raise UsageError(f"the question fails: {first_line(e)}", _remedy()) from e
    if len(rows) > MOST_ROWS:
        raise UsageError(f"the question gives more than {MOST_ROWS:,} rows", "end it with LIMIT")
    return Table(columns, rows, types)


@contextmanager
def _stopped_after(con: DuckDBPyConnection, seconds: float) -> Iterator[None]:
    timer = threading.Timer(seconds, con.interrupt)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


def _check(session: Session, text: str) -> None:
    try:
        statements = session.con.extract_statements(text)
    except duckdb.Error as e:
        raise UsageError(f"the question is no SQL: {first_line(e)}", _remedy()) from e
    kinds = (duckdb.StatementType.SELECT, duckdb.StatementType.EXPLAIN)
    if len(statements) != 1:
        raise UsageError(f"{len(statements)} statements in one question", "ask one at a time")
    if statements[0].type not in kinds:
        word = statements[0].type.name.replace("_", " ").lower()
        raise UsageError(f"a question only reads, and this is {word!r}", "begin it with SELECT")


@contextmanager
def with_views(session: Session) -> Iterator[DuckDBPyConnection]:
    """Make the views of `VIEWS` in temp.main, and drop them at the end."""
    con = session.con
    row = con.execute("SELECT current_database()").fetchone()
    main = '"' + str(row[0] if row else "").replace('"', '""') + '".main'
    given = {"main": main, "reach": session.settings.reach_m, "gap": session.settings.visit_gap_s}
    for statement in sql_beside(__file__, "views.sql").format(**given).split(";\n"):
        if statement.strip():
            con.execute(statement)
    try:
        yield con
    finally:
        for view in VIEWS:
            con.execute(f"DROP VIEW temp.main.{view}")


@contextmanager
def _read_only(session: Session) -> Iterator[None]:
    """Make the views, lock everything, and keep a read-only transaction around the question."""
    con = session.con
    with with_views(session):
        row = con.execute("SELECT current_setting('lock_configuration')").fetchone()
        for lock in () if row and row[0] else _LOCKS:
            con.execute(lock)
        con.execute("BEGIN TRANSACTION READ ONLY")
        try:
            yield
        finally:
            con.execute("ROLLBACK")


def _remedy() -> str:
    return f"there are the views {', '.join(VIEWS)}"
