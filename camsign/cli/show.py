"""How results are shown: a table for people, one JSON value or CSV for other programs.

Results go to stdout and messages to stderr, so that `--json` puts nothing else on stdout.
"""

from __future__ import annotations

import csv
import json
import math
import shutil
import sys
import textwrap
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, is_dataclass
from datetime import date, datetime
from typing import Any, Literal, TypeVar

from camsign.answers.result import columns_of, flatten, plain
from camsign.formats.days import People
from camsign.formats.interval import NOTHING, Interval
from camsign.formats.onscreen import in_json, on_screen
from camsign.units import UnitSystem, format_bearing, format_length

# How wide a table is where there is no terminal.
_WIDE = 160
# What a table's cell takes beside its text; and how long one is at most that stays on one line.
_GAP, _WHOLE = 3, 24
# Of all JSON: higher once a key goes or means another thing; new keys come without.
SCHEMA = 1
R = TypeVar("R")


@dataclass(frozen=True, slots=True)
class Table:
    """Rows for people under the words of `head`."""

    head: Sequence[str]
    rows: Sequence[Sequence[Any]]


@dataclass(frozen=True, slots=True)
class Aside:
    """A line beside the result: it goes to stderr."""

    line: str


Block = str | Table | Aside


def tell(blocks: Iterable[Block], people: People | None = None) -> None:
    """Print lines and tables for people, in order; days and hours as they read them, but numbers
    stay numbers."""
    written = people.prose if people else str
    for block in blocks:
        if isinstance(block, Table):
            cells = [
                [written(cell(c)) if isinstance(c, str | date) else c for c in row]
                for row in block.rows
            ]
            put_table(block.head, cells)
        elif isinstance(block, Aside):
            note(written(block.line))
        else:
            say(written(block))


def first_of(lines: Sequence[str], most: int = 20) -> list[str]:
    """Give the first of many lines, and how many more there are."""
    more = [f"and {len(lines) - most} more; --json lists all"] if len(lines) > most else []
    return [*lines[:most], *more]


def listed(
    rows: Sequence[R], columns: Mapping[str, str | Callable[[R], Any]], empty: str = ""
) -> Iterator[Block]:
    """Give records as a table.

    Args:
        rows: dataclasses.
        columns: what stands in each, by the words above it: a field, or what a row gives.
        empty: what to say instead of an empty table.
    """
    if rows:
        cells = [[_of(row, column) for column in columns.values()] for row in rows]
        yield Table(list(columns), cells)
    elif empty:
        yield empty


def _of(row: R, column: str | Callable[[R], Any]) -> Any:
    if callable(column):
        return column(row)
    value = getattr(row, column)
    return degrees(value) if column in ("lat", "lon") else value


def as_json(value: Any) -> None:
    """Print a value as one JSON object: a list lies under `rows`, beside its `schema`."""
    given = json_of(value)
    put_json({"schema": SCHEMA} | ({"rows": given} if isinstance(given, list) else given))


def json_of(value: Any) -> Any:
    """Give a value as JSON has it."""
    return value.to_json() if hasattr(value, "to_json") else plain(value)


def as_csv(value: Any, row: Any) -> None:
    """Print a value's rows as CSV; without any, the header that a `row` of that type has."""
    if hasattr(value, "to_records"):
        columns = value.columns
        put_csv(value.to_records(flat=True), columns() if callable(columns) else columns)
    else:
        put_csv(value, columns_of(row) if isinstance(row, type) and is_dataclass(row) else ())


def put_json(value: Any) -> None:
    """Write one JSON value; in plain ASCII where stdout cannot take more."""
    ascii_only = "utf" not in (sys.stdout.encoding or "utf-8").lower()
    text = json.dumps(plain(value), indent=1, ensure_ascii=ascii_only, allow_nan=False)
    sys.stdout.write(in_json(text) + "\n")


def put_csv(rows: Sequence[Any], columns: Sequence[str] = ()) -> None:
    """Write rows as CSV; with no rows, the header alone."""
    cells = [{k: _clean(plain(v)) for k, v in flatten(r).items()} for r in rows]
    names = list(dict.fromkeys(name for row in cells for name in row)) or list(columns)
    writer = csv.DictWriter(sys.stdout, names, lineterminator="\n", extrasaction="ignore")
    writer.writeheader()
    writer.writerows(cells)


def _clean(value: Any) -> Any:
    return on_screen(value, keep="\n") if isinstance(value, str) else value


def put_table(head: Sequence[str], rows: Sequence[Sequence[Any]]) -> None:
    """Write rows as a table for people, numbers to the right; in a terminal that is too narrow for
    it, each row as a paragraph instead."""
    from rich import box
    from rich.console import Console
    from rich.table import Table

    names = list(map(on_screen, head))
    texts = [[cell(c) for c in row] for row in rows]
    widths = [_width(name, [row[i] for row in texts]) for i, name in enumerate(names)]
    room, needed = _room(), sum(widths) + _GAP * len(widths)
    if room and needed > room:
        for row in texts:
            _put_paragraph(names, row, room)
        return
    wide = room or max(_WIDE, needed)
    widths = _spread(widths, names, texts, wide - needed)
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for i, name in enumerate(names):
        number = bool(rows) and all(isinstance(r[i], int | float) or r[i] is None for r in rows)
        justify: Literal["left", "right"] = "right" if number else "left"
        table.add_column(name, justify=justify, overflow="fold", width=widths[i])
    for row in texts:
        table.add_row(*row)
    Console(highlight=False, markup=False, width=wide).print(table)


def _spread(
    least: Sequence[int], names: Sequence[str], texts: Sequence[Sequence[str]], spare: int
) -> list[int]:
    """Give each column its width: the least it needs, and of the spare room what saves it lines.
    rich would narrow a wide column below its least, widen it again, and cut the table's end off."""
    widths = list(least)
    whole = [max(map(len, (name, *(row[i] for row in texts)))) for i, name in enumerate(names)]
    for _ in range(spare):
        lack, i = max(
            (want - has, -n) for n, (want, has) in enumerate(zip(whole, widths, strict=True))
        )
        if lack <= 0:
            break
        widths[-i] += 1
    return widths


def _room() -> int:
    """Give how many characters a line of the terminal holds; 0 where there is none."""
    return shutil.get_terminal_size().columns if sys.stdout.isatty() else 0


def _width(name: str, texts: Sequence[str]) -> int:
    """Give how wide a column must be for its cells to stand whole; heads and long cells break."""
    whole = [text for text in texts if len(text) <= _WHOLE]
    broken = [word for text in (name, *texts) for word in text.split() if len(word) <= _WHOLE]
    return max(map(len, (*whole, *broken)), default=1)


def _put_paragraph(names: Sequence[str], row: Sequence[str], room: int) -> None:
    """Write a row by its first cell (and the next, where that is but a number), then the others,
    each by the words above it."""
    n = 2 if row[0].isdigit() else 1
    say(" " + "  ".join(row[:n]))
    rest = zip(names[n:], row[n:], strict=True)
    told = " · ".join(f"{name}: {text}" for name, text in rest if text != NOTHING)
    if told:
        say(*textwrap.wrap(told, room, initial_indent="   ", subsequent_indent="   "))


def cell(value: Any) -> str:
    """Write one value as a person reads it; what is not known is a dash."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return NOTHING
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.1f}"
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M}"
    return on_screen(str(value))


def say(*lines: str) -> None:
    """Write lines for people to stdout; words of others in them cannot steer the terminal."""
    room = _room()
    for line in map(on_screen, lines):
        sys.stdout.write((_wrapped(line, room) if len(line) > room > 0 else line) + "\n")


def _wrapped(line: str, room: int) -> str:
    """Break a line between words; not one that holds a command, which is copied in one piece."""
    if "camsign " in line:
        return line
    indent = line[: len(line) - len(line.lstrip())]
    return textwrap.fill(
        line, room, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
    )


def note(*lines: str) -> None:
    """Write messages to stderr, likewise."""
    for line in lines:
        sys.stderr.write(on_screen(line) + "\n")


def at(lat: float, lon: float) -> str:
    """Write a place."""
    return f"{lat:.5f},{lon:.5f}"


def bearing(deg: float | None) -> str:
    """Write a bearing, letters first."""
    return NOTHING if deg is None else format_bearing(deg)


def heading(e: Interval) -> str:
    """Write a bearing with its range."""
    return NOTHING if e.value is None else format_bearing(e.value, e.low, e.high)


def lengths(units: UnitSystem, meters: float | None) -> str:
    """Write a length in a logbook's units."""
    return NOTHING if meters is None else format_length(meters, units)


def degrees(value: float | None) -> str | None:
    """Write one half of a place."""
    return None if value is None else f"{value:.5f}"
