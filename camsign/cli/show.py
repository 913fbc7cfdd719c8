"""How results are shown: a table for people, one JSON value or CSV for other programs.

Results go to stdout and messages to stderr, so that `--json` puts nothing else on stdout.
"""

from __future__ import annotations

import dataclasses
import io
import json
import math
import re
import sys
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from enum import Enum
from pathlib import Path
from typing import Annotated, Any

import typer

from camsign.formats.onscreen import in_json, on_screen

Json = Annotated[bool, typer.Option("--json", help="One JSON value on stdout, nothing else.")]
Csv = Annotated[bool, typer.Option("--csv", help="CSV on stdout, columns named as the JSON keys.")]

# Ids, days and times stay on one line; and how wide a table is where there is no terminal.
_UNBROKEN = re.compile(r"–|[\w-]{1,16}|\d{4}-\d\d-\d\d \d\d:\d\d")
_WIDE = 140
_PLACE = frozenset({"lat", "lon"})


class Form(Enum):
    """In which form a result is wanted."""

    TABLE = "table"
    JSON = "json"
    CSV = "csv"


def form(as_json: bool, as_csv: bool = False) -> Form:
    """Give the form that the two flags ask for; --json wins."""
    if as_json:
        return Form.JSON
    return Form.CSV if as_csv else Form.TABLE


def plain(value: Any) -> Any:
    """Turn a result into what JSON knows: dataclasses to objects, times to text, NaN to null."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(v) for v in value]
    if isinstance(value, datetime):
        return (value if value.tzinfo else value.replace(tzinfo=UTC)).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Path):
        return str(value)
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def flat(row: Mapping[str, Any]) -> dict[str, Any]:
    """Spread estimates {value, low, high} into x, x_low, x_high; other nested values to JSON."""
    out: dict[str, Any] = {}
    for name, value in row.items():
        if isinstance(value, Mapping) and "value" in value:
            out |= {name if k == "value" else f"{name}_{k}": v for k, v in value.items()}
        elif isinstance(value, Mapping | list):
            out[name] = json.dumps(value, ensure_ascii=False)
        else:
            out[name] = value
    return out


def put_json(value: Any) -> None:
    """Write one JSON value; in plain ASCII where stdout cannot take more."""
    ascii_only = "utf" not in (sys.stdout.encoding or "utf-8").lower()
    text = json.dumps(plain(value), indent=1, ensure_ascii=ascii_only, allow_nan=False)
    sys.stdout.write(in_json(text) + "\n")


def put_csv(rows: Sequence[Any], columns: Sequence[str] = ()) -> None:
    """Write rows as CSV; with no rows, the header alone."""
    import csv

    cells = [{k: _clean(v) for k, v in flat(plain(r)).items()} for r in rows]
    names = list(dict.fromkeys(name for row in cells for name in row)) or list(columns)
    writer = csv.DictWriter(sys.stdout, names, lineterminator="\n", extrasaction="ignore")
    writer.writeheader()
    writer.writerows(cells)


def _clean(value: Any) -> Any:
    return on_screen(value, keep="\n") if isinstance(value, str) else value


def put_table(head: Sequence[str], rows: Sequence[Sequence[Any]], title: str = "") -> None:
    """Write rows as a table for people; numbers stand to the right."""
    from rich import box
    from rich.console import Console
    from rich.table import Table

    title = on_screen(title)
    table = Table(box=box.SIMPLE_HEAD, title=title or None, title_justify="left", pad_edge=False)
    texts = [[cell(c) for c in row] for row in rows]
    for i, name in enumerate(map(on_screen, head)):
        number = bool(rows) and all(isinstance(r[i], int | float) or r[i] is None for r in rows)
        whole = all(_UNBROKEN.fullmatch(t[i]) for t in texts)
        table.add_column(
            name, justify="right" if number else "left", overflow="fold", no_wrap=whole
        )
    for row in texts:
        table.add_row(*row)
    wide = None if sys.stdout.isatty() else _WIDE
    Console(highlight=False, markup=False, width=wide).print(table)


def cell(value: Any) -> str:
    """Write one value as a person reads it; what is not known is a dash."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.1f}"
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M}"
    return on_screen(str(value))


def say(*lines: str) -> None:
    """Write lines for people to stdout; words of others in them cannot steer the terminal."""
    for line in lines:
        sys.stdout.write(on_screen(line) + "\n")


def note(*lines: str) -> None:
    """Write messages to stderr, likewise."""
    for line in lines:
        sys.stderr.write(on_screen(line) + "\n")


def bear_any_text() -> None:
    """Let stdout and stderr write a substitute for what their encoding lacks, not fail."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def listing(
    rows: Sequence[Any], columns: Mapping[str, str], wanted: Form, empty: str = "nothing yet"
) -> None:
    """Show a list of records in the wanted form.

    Args:
        rows: dataclasses or mappings.
        columns: which keys the table shows, and the words above them.
        wanted: the form.
        empty: what to say instead of an empty table.
    """
    if wanted is Form.JSON:
        put_json(list(rows))
    elif wanted is Form.CSV:
        put_csv(rows, list(columns))
    elif not rows:
        say(empty)
    else:
        cells = [r if isinstance(r, Mapping) else _fields(r) for r in rows]
        shown = [[_degrees(r[k]) if k in _PLACE else r[k] for k in columns] for r in cells]
        put_table(list(columns.values()), shown)


def _degrees(value: float | None) -> str | None:
    return None if value is None else f"{value:.5f}"


def _fields(row: Any) -> dict[str, Any]:
    return {f.name: getattr(row, f.name) for f in dataclasses.fields(row)}
