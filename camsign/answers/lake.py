"""Answers from a lake: how often bucks come, by property and season side by side.

DuckDB reads one property's season at a time, within a limit of memory and else on disk, so that
fifty million detections take no more of it than one. What is counted, and by which rules, is what
`camsign.answers.visits` counts in one logbook.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import duckdb
from duckdb import DuckDBPyConnection

from camsign.answers.lake_files import parts_in
from camsign.errors import InputRefused, UsageError
from camsign.logbook.database import in_memory, one_file

MEMORY = "1GB"
_QUOTE = "'"
# The columns that the questions use, as a table has them that has no row.
_EMPTY = {
    "detections": "NULL::VARCHAR AS deployment, NULL::VARCHAR AS buck_id, NULL::VARCHAR AS doubt,"
    " NULL::VARCHAR AS sure, NULL::VARCHAR AS light, NULL::TIMESTAMPTZ AS utc,"
    " NULL::TIMESTAMP AS local, NULL::DATE AS day, NULL::DATE AS night",
    "watch": "NULL::VARCHAR AS deployment, NULL::DATE AS night, NULL::BOOLEAN AS watched,"
    " NULL::BOOLEAN AS day_watched, 0 AS unsorted, 0 AS day_unsorted, 0 AS set_aside",
    "deployments": "NULL::VARCHAR AS deployment, NULL::VARCHAR AS camera",
    "reach": "NULL::VARCHAR AS area_id, NULL::VARCHAR AS area, NULL::VARCHAR AS deployment,"
    " NULL::VARCHAR AS camera, NULL::DOUBLE AS distance_m",
    "bucks": "NULL::VARCHAR AS buck_id, NULL::VARCHAR AS buck, NULL::DOUBLE AS age,"
    " NULL::INTEGER AS age_year, NULL::DATE AS ended_on, NULL::VARCHAR[] AS linked",
    "properties": "NULL::VARCHAR AS property_id",
}


@dataclass(frozen=True, slots=True)
class Season:
    """One property's hunting year in a lake."""

    property: str
    season: int


@dataclass(frozen=True, slots=True)
class Lake:
    """An open lake: its folder, and a database in memory that reads it."""

    folder: Path
    con: DuckDBPyConnection

    def seasons(
        self, properties: Sequence[str] | None = None, seasons: Sequence[int] | None = None
    ) -> list[Season]:
        """Give every property's seasons, those asked for, oldest first.

        Raises:
            UsageError: there is no such property or season.
        """
        known = [part.property for part in parts_in(self.folder, "properties")]
        unknown = [name for name in properties or () if name not in known]
        if unknown:
            named = ", ".join(known)
            raise UsageError(f"the lake holds no property {unknown[0]!r}", f"it holds {named}")
        found = {
            Season(p.property, p.season)
            for table in ("detections", "watch")
            for p in parts_in(self.folder, table)
            if p.season is not None and p.property in (properties or known)
        }
        held = sorted({s.season for s in found})
        none = [str(season) for season in seasons or () if season not in held]
        if none and held:
            named = ", ".join(map(str, held))
            raise UsageError(f"the lake holds no season {none[0]}", f"it holds {named}")
        kept = [s for s in found if not seasons or s.season in seasons]
        return sorted(kept, key=lambda s: (s.property, s.season))

    def look_at(self, one: Season) -> None:
        """Make `lake_TABLE` the view of that property's season, for each table."""
        for table in _EMPTY:
            name = "lake_property" if table == "properties" else f"lake_{table}"
            self.con.execute(f"CREATE OR REPLACE TEMP VIEW {name} AS {self._rows(table, one)}")

    def everywhere(self, table: str) -> str:
        """Give what selects the rows of a table without seasons, of all properties."""
        files = sorted((self.folder / table).glob("property=*/*.parquet"))
        if not files:
            return f"FROM (SELECT {_EMPTY[table]}, NULL::VARCHAR AS property) WHERE false"
        listed = ", ".join(_quoted(one_file(path)) for path in files)
        return f"FROM read_parquet([{listed}], hive_partitioning = true)"

    def _rows(self, table: str, one: Season) -> str:
        home = self.folder / table / f"property={one.property}"
        inner = home / f"season={one.season}"
        files = sorted(home.glob("*.parquet")) or sorted(inner.glob("*.parquet"))
        if files:
            listed = ", ".join(_quoted(one_file(path)) for path in files)
            return f"FROM read_parquet([{listed}], hive_partitioning = false)"
        # Without rows there is no file: what the questions ask for, and none of it.
        return f"SELECT * FROM (SELECT {_EMPTY[table]}) WHERE false"


@contextmanager
def open_lake(folder: Path, memory: str = MEMORY) -> Iterator[Lake]:
    """Open a lake that `camsign export lake` wrote.

    Args:
        folder: the lake.
        memory: no more than that is held at once, such as "1GB"; what does not fit goes to a
            folder for throw-away files for the while.

    Raises:
        UsageError: it is none, or the limit is none.
        InputRefused: a file in it is damaged.
    """
    if next(parts_in(folder, "properties"), None) is None:
        raise UsageError(f"{folder} holds no lake", f"write one: camsign export lake {folder}")
    with tempfile.TemporaryDirectory(prefix="camsign-") as spill, in_memory() as con:
        try:
            con.execute(f"SET memory_limit = {_quoted(memory)}")
        except duckdb.Error as e:
            why = f"{memory!r} is no size of memory"
            raise UsageError(why, "write it like 500MB or 2GB") from e
        con.execute(f"SET temp_directory = {_quoted(spill)}")
        con.execute("SET preserve_insertion_order = false")
        con.execute("SET TimeZone = 'UTC'")
        try:
            yield Lake(folder, con)
        except (duckdb.InvalidInputException, duckdb.IOException) as e:
            raise InputRefused(
                f"a file of the lake cannot be read ({str(e).splitlines()[0]})",
                f"remove it and write it again: camsign export lake {folder}",
            ) from e


def _quoted(text: str) -> str:
    return _QUOTE + text.replace(_QUOTE, _QUOTE * 2) + _QUOTE
