"""What an opening costs: statements are counted, since to plan one takes longer than its rows."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import duckdb
import pytest

from camsign.api import Logbook, start_logbook
from camsign.derive import opening
from camsign.logbook.database import run_sql


class Counting:
    """A connection that keeps the statements it is given."""

    def __init__(self, con: duckdb.DuckDBPyConnection, said: list[str]) -> None:
        self.con, self.said = con, said

    def __getattr__(self, name: str) -> Any:
        return getattr(self.con, name)

    def execute(self, sql: str, *given: Any) -> Any:
        self.said.append(sql)
        return self.con.execute(sql, *given)


@pytest.fixture
def said(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The statements of the openings from now on."""
    kept: list[str] = []
    real = opening.connect
    monkeypatch.setattr(opening, "connect", lambda path: Counting(real(path), kept))
    return kept


@pytest.fixture
def book(tmp_path: Path) -> Logbook:
    """A logbook in which one camera hangs, and no picture was taken in."""
    made = start_logbook(tmp_path / "book", "44.6,-71.2")
    made.hang("CAM01", "44.6,-71.2", "2025-08-01")
    with made.session():
        pass
    return made


def test_an_opening_with_nothing_new_asks_little(book: Logbook, said: list[str]) -> None:
    with book.session():
        pass
    assert len(said) <= 18, said
    assert not [sql for sql in said if "duckdb_tables" in sql]


def test_a_word_of_a_buck_leaves_times_alone(book: Logbook, said: list[str]) -> None:
    book.add_buck("Ferrous", traits="kicker")
    with book.session():
        pass
    assert not [sql for sql in said if "new_cameras" in sql or "INTO tags" in sql]
    assert len(said) <= 78, len(said)  # steps that touch one camera ask more, and of less


def test_what_only_pictures_need_is_left_out_without_any(book: Logbook, said: list[str]) -> None:
    opening.remove_database(book.folder)
    with book.session():
        pass
    assert not [sql for sql in said if "INSERT INTO frame_times" in sql]
    assert [sql for sql in said if "INSERT INTO deployments" in sql]


def test_a_statement_is_passed_over_while_its_table_is_empty(tmp_path: Path) -> None:
    con = duckdb.connect()
    con.execute("CREATE TABLE rows_in (x INTEGER); CREATE TABLE made (x INTEGER)")
    (tmp_path / "step.sql").write_text(
        "-- Why.\n-- Only with rows_in.\nINSERT INTO made VALUES ($x);\nINSERT INTO made VALUES (2)"
    )
    beside = str(tmp_path / "step.py")
    assert run_sql(con, beside, "step.sql", x=1, y=0).execute("FROM made").fetchall() == [(2,)]
    con.execute("INSERT INTO rows_in VALUES (1)")
    run_sql(con, beside, "step.sql", x=1, y=0)
    assert sorted(con.execute("SELECT x FROM made").fetchall()) == [(1,), (2,), (2,)]
