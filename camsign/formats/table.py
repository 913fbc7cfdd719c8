"""CSV as spreadsheets, phones and old loggers write it, to rows of text and back.

Cells stay text: 01234 stays 01234, and what a decimal comma means is for those who read values.
Source of the quoting rules: RFC 4180.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain, islice
from pathlib import Path
from typing import TextIO

from camsign.errors import InputRefused
from camsign.formats.text import decode, read_bytes

_DELIMITERS = ",;\t|"
# A cell that begins so is a formula to a spreadsheet (OWASP, CSV injection); an apostrophe before
# it makes it text there, and is taken off again when such a table is read.
_FORMULA = re.compile(r"'*[=+\-@\t\r＝＋－＠]")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_SAMPLE_ROWS = 20
_MAX_BROKEN = 100


@dataclass(frozen=True, slots=True)
class Row:
    """One row: `cells` by column name, trimmed, "" when empty; `line` counts from 1."""

    line: int
    cells: dict[str, str]


@dataclass(frozen=True, slots=True)
class Table:
    """A table of text, and one line for each row that could not be taken."""

    columns: tuple[str, ...]
    rows: list[Row] = field(default_factory=list)
    troubles: list[str] = field(default_factory=list)


def read_table(path: Path) -> Table:
    """Read a CSV with a header: any common delimiter, line end, quoting and encoding.

    Blank rows are skipped, missing cells at a row's end are empty, and a row with more cells than
    the header is left out, since nothing tells which cell is the extra one.

    Raises:
        InputRefused: missing, unreadable, empty, too large, no header, a column named twice, or
            too many broken quotes to be a CSV.
    """
    text, doubt = decode(read_bytes(path))
    lines = re.split("\r\n|\r|\n", text)
    first, delimiter = _layout(lines)
    troubles = [doubt] if doubt else []
    records = _records(lines, first, delimiter, troubles)
    header = next(records, None)
    if header is None:
        raise InputRefused(f"{path} holds no table", "its first row must name the columns")
    names = _names(path, header[1])
    rows = [row for line, cells in records if (row := _row(names, line, cells, troubles))]
    if len(troubles) > _MAX_BROKEN and not rows:
        raise InputRefused(f"{path} is no CSV: {troubles[0]}", "export it again as CSV")
    return Table(tuple(names), rows, troubles)


def write_csv(
    rows: Iterable[Mapping[str, object]], stream: TextIO, columns: Sequence[str] = ()
) -> None:
    """Write rows with a header of `columns`, by default the first row's keys; None is empty.

    Open files with newline="" so that the line ends, which are plain newlines, stay as they are.
    """
    rows = iter(rows)
    head = list(islice(rows, 1))
    if names := columns or [name for row in head for name in row]:
        writer = csv.DictWriter(stream, names, lineterminator="\n")
        writer.writeheader()
        writer.writerows({k: _cell(v) for k, v in row.items()} for row in chain(head, rows))


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return defused(value)
    return str(value).lower() if isinstance(value, bool) else str(value)


def defused(text: str) -> str:
    """Give a text that no spreadsheet takes for a formula; a plain number stays one."""
    return f"'{text}" if _FORMULA.match(text) and not _NUMBER.fullmatch(text) else text


def _fused(text: str) -> str:
    """Take off the apostrophe that made a text of what looks like a formula."""
    return text[1:] if text.startswith("'") and defused(text[1:]) == text else text


def _layout(lines: list[str]) -> tuple[int, str]:
    """The header's index and the delimiter: the one that splits most rows as it splits the header.

    A first line such as `sep=;` says it outright, as spreadsheets write it.
    """
    first = next((i for i, line in enumerate(lines) if line.strip()), 0)
    told = re.fullmatch(r"sep=(.)", lines[first].strip("\ufeff\n"), re.IGNORECASE)
    if told:
        return first + 1, told[1]
    sample = lines[first : first + _SAMPLE_ROWS]
    return first, max(_DELIMITERS, key=lambda delimiter: _fit(sample, delimiter))


def _fit(sample: list[str], delimiter: str) -> tuple[int, int]:
    try:
        widths = [len(cells) for cells in csv.reader(sample, delimiter=delimiter) if cells]
    except csv.Error:
        return 0, 0
    if not widths or widths[0] == 1:
        return 0, 0
    return sum(width == widths[0] for width in widths), widths[0]


def _records(
    lines: list[str], first: int, delimiter: str, troubles: list[str]
) -> Iterator[tuple[int, list[str]]]:
    """Yield (line number, cells) of each row that is not blank; a broken quote costs its line."""
    for _ in range(_MAX_BROKEN + 1):
        ended = (f"{line}\n" for line in islice(lines, first, None))
        reader = csv.reader(ended, delimiter=delimiter, strict=True)
        start = first
        try:
            for cells in reader:
                if any(cell.strip() for cell in cells):
                    yield start + 1, cells
                start = first + reader.line_num
        except csv.Error as err:
            troubles.append(f"line {start + 1} left out: a quote in it is broken ({err})")
            first = start + 1
        else:
            return
    troubles.append(f"nothing behind line {first} was read: too many broken quotes")


def _names(path: Path, header: list[str]) -> list[str]:
    """The columns' names without empty ones at the end; an empty one between is `column 3`."""
    names = [" ".join(name.split()) for name in header]
    while not names[-1]:
        names.pop()
    names = [name or f"column {i}" for i, name in enumerate(names, start=1)]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice:
        raise InputRefused(f"{path} has two columns named {twice!r}", "rename one of them")
    return names


def _row(names: list[str], line: int, cells: list[str], troubles: list[str]) -> Row | None:
    texts = [_fused(cell.strip()) for cell in cells]
    if any(texts[len(names) :]):
        troubles.append(f"line {line} left out: {len(texts)} cells for {len(names)} columns")
        return None
    texts += [""] * (len(names) - len(texts))
    return Row(line, dict(zip(names, texts, strict=False)))
