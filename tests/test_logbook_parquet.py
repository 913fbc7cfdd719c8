"""Rows to Parquet and back: every type, any number of batches, the order as given."""

from __future__ import annotations

from dataclasses import astuple, dataclass, fields
from pathlib import Path

import duckdb
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from camsign.logbook import sealed
from camsign.logbook.database import sparing_memory
from camsign.logbook.parquet import RowFile
from camsign.logbook.records import FrameFacts, Look


@dataclass(frozen=True, slots=True)
class Row:
    text: str
    maybe: str | None
    number: int
    size: float | None
    yes: bool
    raw: bytes
    words: tuple[str, ...]


TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=8)
ROWS = st.builds(
    Row,
    TEXT,
    st.none() | TEXT,
    st.integers(-(2**63), 2**63 - 1),
    st.none() | st.floats(allow_nan=False),
    st.booleans(),
    st.binary(max_size=8),
    st.lists(TEXT, max_size=3).map(tuple),
)


def read(path: Path) -> list[tuple[object, ...]]:
    con = duckdb.connect()
    rows = con.execute(
        "SELECT * FROM read_parquet(?, hive_partitioning = false)", [str(path)]
    ).fetchall()
    con.close()
    return rows


@pytest.mark.thorough
@settings(max_examples=25, deadline=None)
@given(batches=st.lists(st.lists(ROWS, max_size=5), max_size=4))
def test_rows_come_back_as_they_went_in(tmp_path_factory, batches: list[list[Row]]) -> None:
    path = tmp_path_factory.mktemp("rows") / "it's here.parquet"
    with RowFile(Row) as out:
        for batch in batches:
            out.add(batch)
        out.write(path)
    back = [Row(*row[:-1], tuple(row[-1])) for row in read(path)]
    assert back == [row for batch in batches for row in batch]


def test_records_of_a_card_fit_and_a_sorted_file_is_sorted(tmp_path: Path) -> None:
    for record in (FrameFacts, Look):
        with RowFile(record) as out:
            out.write(tmp_path / record.__name__)
        assert read(tmp_path / record.__name__) == []
    with RowFile(Look) as out:
        out.add([Look(x, 1, "dark", 0.0, 0.0, 0.0, 0.0, "{}", b"\x01") for x in "cab"])
        out.write(tmp_path / "looks", ["frame"])
    rows = read(tmp_path / "looks")
    assert [r[0] for r in rows] == ["a", "b", "c"] and len(fields(Look)) == len(rows[0])
    assert rows[0] == astuple(Look("a", 1, "dark", 0.0, 0.0, 0.0, 0.0, "{}", b"\x01"))


def test_a_key_in_which_a_bit_flipped_is_no_missing_sum(tmp_path: Path) -> None:
    path = tmp_path / "looks.parquet"
    with RowFile(Look) as out:
        out.write(path)
    data = path.read_bytes()
    assert sealed.is_whole(path) is True
    at = data.rfind(sealed.KEY.encode())
    for i in range(len(sealed.KEY)):
        path.chmod(0o600)
        path.write_bytes(data[: at + i] + bytes([data[at + i] ^ 4]) + data[at + i + 1 :])
        assert sealed.is_whole(path) is False, i


def test_what_does_not_fit_in_memory_never_lies_where_a_person_stands(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It may be the card's own folder."""
    monkeypatch.chdir(tmp_path)
    with sparing_memory() as con:
        con.execute("CREATE TEMP TABLE many AS SELECT i, hash(i) AS h FROM range(6_000_000) t(i)")
        spilled = con.execute("SELECT path FROM duckdb_temporary_files()").fetchall()
        assert spilled and list(tmp_path.iterdir()) == []
    assert not any(Path(path).exists() for (path,) in spilled)
