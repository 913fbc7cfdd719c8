"""A lake: its tables, properties and seasons, and what is read of them for an answer.

DuckDB reads one property's season at a time, within a limit of memory and else on disk, so that
fifty million detections take no more of it than one. What is counted, and by which rules, is what
`camsign.answers.visits` counts in one logbook.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import duckdb
from duckdb import DuckDBPyConnection

from camsign.answers.reach import Watching, watching_from
from camsign.answers.scope import season_days
from camsign.errors import InputRefused, UsageError, quoted
from camsign.logbook import naming
from camsign.logbook.database import PARQUET, in_memory, one_file, run_sql
from camsign.tags.links import groups

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
KEY = "camsign_lake"
"""The key in a file's metadata that holds the sum of its rows; only files with it are ours."""
# The one that names the logbook comes last: it stands once all else does.
TABLES = (
    "detections", "visits", "watch", "sign", "deployments", "reach", "bucks", "properties",
)  # fmt: skip
LakeBy = Literal["area", "camera", "property"]


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
        raise UsageError(
            f"{folder} holds no lake", f"write one: camsign export lake {quoted(str(folder))}"
        )
    with in_memory() as con:
        try:
            con.execute(f"SET memory_limit = {_quoted(memory)}")
        except duckdb.Error as e:
            why = f"{memory!r} is no size of memory"
            raise UsageError(why, "write it like 500MB or 2GB") from e
        con.execute("SET preserve_insertion_order = false")
        con.execute("SET TimeZone = 'UTC'")
        try:
            yield Lake(folder, con)
        except (duckdb.InvalidInputException, duckdb.IOException) as e:
            raise InputRefused(
                f"a file of the lake cannot be read ({str(e).splitlines()[0]})",
                f"remove it and write it again: camsign export lake {quoted(str(folder))}",
            ) from e


def _quoted(text: str) -> str:
    return _QUOTE + text.replace(_QUOTE, _QUOTE * 2) + _QUOTE


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a question to a lake is about; None means all, of `reach_m` [m], `gap_s` [s] its own.

    `bucks`, `areas`: names or ids; a name means every one of that name, on whichever property.
    """

    properties: Sequence[str] | None = None
    seasons: Sequence[int] | None = None
    bucks: Sequence[str] | None = None
    areas: Sequence[str] | None = None
    reach_m: float | None = None
    gap_s: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Spot:
    """An area, a camera, or all cameras of a property, with its watch in one season."""

    id: str
    area: str | None
    watching: Watching


@dataclass(frozen=True, slots=True, eq=False)
class Looked:
    """A property's season: its spots, and a row of lake_visits.sql a buck and spot, with his name
    and the day on which he `ended`."""

    spots: tuple[Spot, ...]
    visits: tuple[dict[str, Any], ...]


def looked(lake: Lake, wanted: Wanted, by: LakeBy) -> Iterator[tuple[Season, Looked]]:
    """Read one property's season after the other.

    Raises:
        UsageError: the lake holds no such property, buck or area.
    """
    con = lake.con
    buck_ids = _with_linked(lake, _ids(lake, "bucks", "buck", wanted.bucks))
    areas = _ids(lake, "reach", "area", wanted.areas)
    for one in lake.seasons(wanted.properties, wanted.seasons):
        lake.look_at(one)
        rows = con.execute("SELECT buck_id, buck, ended_on FROM lake_bucks").fetchall()
        bucks = {buck_id: {"buck": name, "ended": day} for buck_id, name, day in rows}
        start = con.execute(
            "SELECT season_start_month, season_start_day FROM lake_property"
        ).fetchone() or (7, 1)
        first = season_days(one.season, start)[0]
        run_sql(con, __file__, "lake_nights.sql", by=by, reach=wanted.reach_m, areas=areas)
        run_sql(con, __file__, "lake_visits.sql", buck_ids=buck_ids, gap=wanted.gap_s, first=first)
        names = [column[0] for column in con.description or ()]
        visits = tuple(dict(zip(names, row, strict=True)) for row in con.fetchall())
        for row in visits:
            row |= bucks[row["buck_id"]]
        yield one, Looked(tuple(_spots(lake)), visits)


def _ids(lake: Lake, table: str, kind: str, words: Sequence[str] | None) -> list[str] | None:
    """Give the ids that names or ids mean, of every property; None if none were named."""
    if words is None:
        return None
    every = f"SELECT DISTINCT {kind}_id, {kind} {lake.everywhere(table)}"
    rows = lake.con.execute(every).fetchall()
    known = {naming.key(word) for word in words}
    names = {naming.key(x) for row in rows for x in row}
    for word in words:
        if naming.key(word) not in names:
            naming.find(dict(rows), word, kind)
    return [own for own, name in rows if {naming.key(own), naming.key(name)} & known]


def _with_linked(lake: Lake, ids: list[str] | None) -> list[str] | None:
    """Add those bucks of other properties who are linked to them."""
    if ids is None:
        return None
    rows = lake.con.execute(
        f"SELECT p.property_id || '/' || b.buck_id, b.buck_id, b.linked"
        f" FROM ({lake.everywhere('bucks')}) b JOIN ({lake.everywhere('properties')}) p"
        " USING (property)"
    ).fetchall()
    same = groups({key: linked or () for key, _, linked in rows})
    keys = {other for key, own, _ in rows if own in ids for other in same.get(key, ())}
    return list(dict.fromkeys([*ids, *(own for key, own, _ in rows if key in keys)]))


def _spots(lake: Lake) -> Iterator[Spot]:
    spots = lake.con.execute(
        "SELECT spot, any_value(area), list(DISTINCT camera) FROM lake_spots GROUP BY spot"
        " ORDER BY 2, 1"
    ).fetchall()
    for spot, area, cameras in spots:
        rows = lake.con.execute(
            "SELECT * FROM lake_nights WHERE spot = ? ORDER BY night", [spot]
        ).fetchnumpy()
        yield Spot(spot, area, watching_from(rows, cameras))
