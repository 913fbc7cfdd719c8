"""The files of a lake: which tables it has, which properties and seasons, what each file carries.

Columns are in docs/lake.md.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import duckdb
from duckdb import DuckDBPyConnection

from camsign.logbook.database import PARQUET, one_file

KEY = "camsign_lake"
"""The key in a file's metadata that holds the sum of its rows; only files with it are ours."""
# The one that names the logbook comes last: it stands once all else does.
TABLES = (
    "detections", "visits", "watch", "sign", "deployments", "reach", "bucks", "properties",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Part:
    """A file by its property, its season if it has one, and its name."""

    property: str
    season: int | None
    file: str


def parts_in(lake: Path, table: str) -> Iterator[Part]:
    """Give the files of a table."""
    for path in sorted((lake / table).glob("property=*/**/*.parquet")):
        names = dict(p.split("=", 1) for p in path.relative_to(lake).parts[1:-1] if "=" in p)
        season = names.get("season")
        number = int(season) if season and season.isdigit() else None
        yield Part(names["property"], number, path.stem)


def logbooks_in(con: DuckDBPyConnection, lake: Path) -> dict[str, str]:
    """Give the id of the logbook behind each property; one that cannot be read is left out."""
    found: dict[str, str] = {}
    for path in sorted((lake / "properties").glob("property=*/*.parquet")):
        with suppress(duckdb.Error):
            row = con.execute(f"SELECT property_id FROM {PARQUET}", [one_file(path)]).fetchone()
            if row:
                found[path.parent.name.partition("=")[2]] = str(row[0])
    return found


def sums_of(con: DuckDBPyConnection, home: Path) -> dict[Path, str]:
    """Give what each Parquet file below a folder says of its rows; one that cannot be read says "".

    Files without the key are somebody else's and left out.
    """
    paths = {one_file(path): path for path in sorted(home.rglob("*.parquet"))}
    try:
        found = _sums(con, list(paths))
    except duckdb.Error:
        found = {}
        for name in paths:
            try:
                found |= _sums(con, [name])
            except duckdb.Error:
                found[name] = ""
    by_text = {str(path): path for path in paths.values()} | paths
    return {by_text[name]: made for name, made in found.items()}


def _sums(con: DuckDBPyConnection, names: list[str]) -> dict[str, str]:
    if not names:
        return {}
    rows = con.execute(
        "SELECT file_name, decode(value) FROM parquet_kv_metadata(?) WHERE decode(key) = ?",
        [names, KEY],
    ).fetchall()
    return {str(name): str(made) for name, made in rows}
