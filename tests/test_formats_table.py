"""CSV as it comes: encodings, line ends, delimiters, quotes; cells stay text."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from camsign.errors import InputRefused
from camsign.formats.table import Table, defused, read_table, write_csv

TEXT = "kind;lat;note\nrub;44,125;Höhe\nscrape;44,25;\n"


def read_raw(folder: Path, raw: bytes | str) -> Table:
    path = folder / "in.csv"
    path.write_bytes(raw if isinstance(raw, bytes) else raw.encode("utf-8"))
    return read_table(path)


def cells(table: Table) -> list[dict[str, str]]:
    return [row.cells for row in table.rows]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_encodings_line_ends_and_delimiters(
    tmp_path: Path, encoding: str, line_end: str, delimiter: str
) -> None:
    text = TEXT.replace("44,", "44.").replace(";", delimiter).replace("\n", line_end)
    table = read_raw(tmp_path, text.encode(encoding))
    assert table.columns == ("kind", "lat", "note")
    assert cells(table) == [
        {"kind": "rub", "lat": "44.125", "note": "Höhe"},
        {"kind": "scrape", "lat": "44.25", "note": ""},
    ]
    assert [row.line for row in table.rows] == [2, 3]
    assert table.troubles == []


def test_decimal_commas_are_left_as_they_are(tmp_path: Path) -> None:
    assert [row["lat"] for row in cells(read_raw(tmp_path, TEXT))] == ["44,125", "44,25"]


def test_an_old_encoding_is_read_and_doubted(tmp_path: Path) -> None:
    table = read_raw(tmp_path, TEXT.encode("cp1252"))
    assert table.rows[0].cells["note"] == "Höhe"
    assert "Windows-1252" in table.troubles[0]


def test_numbers_stay_text(tmp_path: Path) -> None:
    table = read_raw(tmp_path, "frame,n\n01234,1e3\n")
    assert cells(table) == [{"frame": "01234", "n": "1e3"}]


def test_a_spreadsheets_own_word_for_the_delimiter(tmp_path: Path) -> None:
    table = read_raw(tmp_path, "sep=;\r\na;b\r\n1,5;2\r\n")
    assert cells(table) == [{"a": "1,5", "b": "2"}]
    assert table.rows[0].line == 3


def test_quotes_hold_delimiters_quotes_and_line_ends(tmp_path: Path) -> None:
    table = read_raw(tmp_path, 'a,b\n"x, ""y""","two\nlines"\nlast,1\n')
    assert cells(table) == [{"a": 'x, "y"', "b": "two\nlines"}, {"a": "last", "b": "1"}]
    assert [row.line for row in table.rows] == [2, 4]


def test_an_inch_mark_inside_a_cell_is_no_quote(tmp_path: Path) -> None:
    assert cells(read_raw(tmp_path, 'kind,note\nrub,alder 2" fresh\n')) == [
        {"kind": "rub", "note": 'alder 2" fresh'}
    ]


def test_a_quote_that_never_closes_costs_its_own_line(tmp_path: Path) -> None:
    table = read_raw(tmp_path, 'a,b\n1,"open\n2,two\n3,three\n')
    assert [row["a"] for row in cells(table)] == ["2", "3"]
    assert len(table.troubles) == 1
    assert table.troubles[0].startswith("line 2 left out")


def test_cells_too_many_are_told_and_cells_too_few_are_empty(tmp_path: Path) -> None:
    table = read_raw(tmp_path, "a,b\n1,2,3\n4\n5,6,,\n\n,\n7,8\n")
    assert [row["a"] for row in cells(table)] == ["4", "5", "7"]
    assert table.rows[0].cells["b"] == ""
    assert table.troubles == ["line 2 left out: 3 cells for 2 columns"]


def test_a_column_without_a_name_gets_its_number(tmp_path: Path) -> None:
    table = read_raw(tmp_path, "a,,c,\n1,2,3,\n")
    assert cells(table) == [{"a": "1", "column 2": "2", "c": "3"}]


@pytest.mark.parametrize(
    ("raw", "why"),
    [
        ("", "is empty"),
        (" \n\n", "holds no table"),
        ("lat,lon,lat\n1,2,3\n", "two columns named 'lat'"),
        ("a,b\n" + '"x"y,1\n' * 300, "no CSV"),
    ],
)
def test_what_is_no_table_is_refused_in_one_line(tmp_path: Path, raw: str, why: str) -> None:
    with pytest.raises(InputRefused) as refused:
        read_raw(tmp_path, raw)
    assert why in str(refused.value)
    assert "in.csv" in str(refused.value)
    assert "\n" not in str(refused.value)


def test_samples_read_as_pandas_reads_them(samples: Path) -> None:
    """libkml's own CSV files; pandas, told to keep text, is the other reader."""
    for name in ("colleges", "crnl", "gnis-ak-first-101", "hello", "lincoln-park-gc", "quotes"):
        path = samples / "geo/csv" / f"{name}.csv"
        text = path.read_text(encoding="utf-8")  # universal newlines: pandas stumbles over CR alone
        theirs = pd.read_csv(io.StringIO(text), dtype=str, keep_default_na=False)
        table = read_table(path)
        assert list(table.columns) == list(theirs.columns), name
        trimmed = [
            {key: value.strip() for key, value in row.items()}
            for row in theirs.to_dict(orient="records")
        ]
        assert cells(table) == trimmed, name
        assert table.troubles == [], name


def test_bars_are_a_delimiter_too(samples: Path) -> None:
    assert len(read_table(samples / "geo/csv/test.csv").columns) == 5


def test_written_cells() -> None:
    stream = io.StringIO()
    write_csv([{"a": None, "b": True, "c": 1.5}, {"a": "x,y", "b": False, "c": ""}], stream)
    assert stream.getvalue() == 'a,b,c\n,true,1.5\n"x,y",false,\n'
    empty = io.StringIO()
    write_csv([], empty, columns=["a", "b"])
    assert empty.getvalue() == "a,b\n"


names = st.lists(st.from_regex(r"[a-z_]{1,8}", fullmatch=True), min_size=1, max_size=4, unique=True)
texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=12).map(
    lambda text: text.replace("\r", "\n").strip()
)


@pytest.mark.thorough
@settings(deadline=None)
@given(st.data())
def test_what_is_written_is_read_back(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    columns = data.draw(names)
    one = st.tuples(*[texts] * len(columns)).filter(any)
    rows = [dict(zip(columns, row, strict=True)) for row in data.draw(st.lists(one, max_size=5))]
    stream = io.StringIO()
    write_csv(rows, stream, columns)
    table = read_raw(tmp_path_factory.mktemp("csv"), stream.getvalue())
    assert table.columns == tuple(columns)
    assert cells(table) == rows
    assert table.troubles == []
    other = csv.DictReader(io.StringIO(stream.getvalue(), newline=""))
    # Others see the apostrophe that keeps a spreadsheet from reckoning.
    plain = [{key: defused(value) for key, value in row.items()} for row in rows]
    assert [{key: value.strip() for key, value in row.items()} for row in other] == plain
