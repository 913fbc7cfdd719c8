"""A lake: what answers rest on, of one logbook or many, as partitioned Parquet files.

`TABLE/property=NAME/season=YEAR/FILE.parquet`, as DuckDB, pandas, Spark and Dask read it; columns
are in docs/lake.md. A file is written anew only where its rows changed: it carries a sum of them in
its own key-value metadata. It is placed whole, and a run that was cut short is completed by the
next. Of a lake's folder only files that carry that key are ever removed.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from duckdb import DuckDBPyConnection

from camsign.answers.ask import with_views
from camsign.answers.bucks import bucks_of, ended_days
from camsign.answers.lake import KEY, TABLES, Part, logbooks_in, sums_of
from camsign.answers.scope import scope_of
from camsign.errors import InputRefused
from camsign.flows.handover.rounded import GRID_M
from camsign.flows.handover.tables import macros
from camsign.logbook import placing
from camsign.logbook.database import sql_beside
from camsign.logbook.far import Far, Progress
from camsign.logbook.session import Session

_TEMP = "part"  # no ending of Parquet's, so that no reader takes a half-written file for one
_ROW_GROUP = 122_880


@dataclass(frozen=True, slots=True)
class LakeWritten:
    """What an export did. `written`, `removed`: files; `kept`: how many were left as they are.

    `property`: under which name the logbook stands in the lake. `rows`: by table.
    """

    property: str
    written: tuple[Path, ...]
    removed: tuple[Path, ...]
    kept: int
    rows: dict[str, int]
    exact_places: bool


def write_lake(
    session: Session, folder: Path, exact: bool = False, progress: Progress | None = None
) -> LakeWritten:
    """Bring a logbook's part of a lake up to date; other logbooks' parts stay as they are.

    Args:
        session: the open logbook.
        folder: the lake; it is made.
        exact: places and distances as they are; else places are rounded to 1 km, distances to
            100 m, staying on their side of the logbook's reach.
        progress: told (done, of) of the tables, and of the files that are looked at.

    Raises:
        InputRefused: the folder is a logbook.
        OSError: it cannot be written.
    """
    if (folder / "logbook.toml").exists():
        raise InputRefused(f"{folder} is a logbook", "name a folder of its own for the lake")
    folder.mkdir(parents=True, exist_ok=True)
    name = _name_in(folder, session)
    written: list[Path] = []
    removed: list[Path] = []
    rows: dict[str, int] = {}
    kept, far = 0, Far(progress, len(TABLES))
    with with_views(session) as con:
        con.execute("SET TimeZone = 'UTC'")
        _prepare(session, con)
        for table in TABLES:
            _gather(session, con, table, name, exact)
            new, old, same = _bring_up(con, folder, table, name, exact, far)
            written += new
            removed += old
            kept += same
            ((rows[table],),) = con.execute(f"SELECT count(*) FROM lake_{table}").fetchall()
            con.execute(f"DROP TABLE lake_{table}")
            far.one()
    return LakeWritten(name, tuple(written), tuple(removed), kept, rows, exact)


def _name_in(folder: Path, session: Session) -> str:
    """The name under which the lake knows the logbook, else its folder's name made plain."""
    own = session.settings.id
    known = logbooks_in(session.con, folder)
    for name, logbook in known.items():
        if logbook == own:
            return name
    plain = re.sub(r"[^a-z0-9]+", "-", session.folder.root.resolve().name.lower()).strip("-")
    name = plain or "logbook"
    return name if name not in known else f"{name}-{own[:6]}"


def _prepare(session: Session, con: DuckDBPyConnection) -> None:
    macros(con)
    month, day = session.settings.season_start
    con.execute(sql_beside(__file__, "lake_macros.sql").format(month=month, day=day))
    bucks = bucks_of(session, scope_of(session))
    ended = {bucks.ids[n]: day for n, day in ended_days(session, bucks).items()}
    con.execute(
        "CREATE OR REPLACE TEMP TABLE lake_ended AS SELECT unnest($who::VARCHAR[]) AS buck,"
        " unnest($days::DATE[]) AS day",
        {"who": list(ended), "days": list(ended.values())},
    )


def _gather(session: Session, con: DuckDBPyConnection, table: str, name: str, exact: bool) -> None:
    """Put a table's rows as they leave into a temporary table, sorted by file."""
    settings = session.settings
    row = con.execute("SELECT current_database()").fetchone()
    main = '"' + str(row[0] if row else "").replace('"', '""') + '".main'
    sql = sql_beside(__file__, f"lake_{table}.sql").format(main=main)
    month, day = settings.season_start
    given: dict[str, Any] = {
        "id": settings.id, "name": name, "tz": settings.tz, "month": month, "day": day,
        "reach": settings.reach_m, "gap": settings.visit_gap_s, "mature": settings.mature_age,
    }  # fmt: skip
    used = {k: v for k, v in given.items() if f"${k}" in sql}
    columns = [c[0] for c in con.execute(f"DESCRIBE {sql}", used or None).fetchall()]
    if "lat" in columns:
        places = f"lat_out(lat, {exact}) AS lat, lon_out(lat, lon, {exact}) AS lon"
        sql = f"SELECT * REPLACE ({places}) FROM ({sql})"
    if "distance_m" in columns:
        # Two distances to known areas would give a camera's place away.
        far = f"far_out(distance_m, {settings.reach_m}, {exact}) AS distance_m"
        sql = f"SELECT * REPLACE ({far}) FROM ({sql})"
    con.execute(f"CREATE OR REPLACE TEMP TABLE lake_{table} AS {sql}", used or None)


def _bring_up(
    con: DuckDBPyConnection, folder: Path, table: str, name: str, exact: bool, far: Far
) -> tuple[list[Path], list[Path], int]:
    """Write the files of a table whose rows changed, remove those that have none any more."""
    home = folder / table / f"property={name}"
    for temp in home.rglob(f"{placing.TEMP_PREFIX}*.{_TEMP}"):  # of a run that was cut short
        temp.unlink()
    wanted = dict(_wanted(con, table, home))
    there = sums_of(con, home)
    written = []
    far.more(len(wanted))
    for path, (part, made) in wanted.items():
        far.one()
        if there.get(path) != made:
            _write(con, table, path, part, made, exact)
            written.append(path)
    removed = [path for path, made in there.items() if made and path not in wanted]
    for path in removed:
        path.unlink()
        inner = path.parent
        while inner != home and not any(inner.iterdir()):
            inner.rmdir()
            inner = inner.parent
    return written, removed, len(wanted) - len(written)


def _wanted(con: DuckDBPyConnection, table: str, home: Path) -> Iterator[tuple[Path, Any]]:
    """Give each file with what belongs in it, and the sum of its rows.

    The sum adds up DuckDB's hash of every row, so the order of rows does not matter; its version
    stands in it, since another may hash otherwise.
    """
    described = con.execute(f"DESCRIBE lake_{table}").fetchall()
    version = con.execute("SELECT version()").fetchone()
    layout = hashlib.sha256(f"{version}{described}".encode()).hexdigest()[:12]
    rows = con.execute(
        f"SELECT season, file, count(*), sum(hash(t)::HUGEINT) FROM lake_{table} t GROUP BY ALL"
        " ORDER BY ALL"
    ).fetchall()
    for season, file, count, total in rows:
        inner = home if season is None else home / f"season={season}"
        part = Part(home.name.partition("=")[2], season, file)
        yield inner / f"{file}.parquet", (part, f"{layout}-{count}-{total}")


def _write(
    con: DuckDBPyConnection, table: str, path: Path, part: Part, made: str, exact: bool
) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    temp = path.with_name(f"{placing.TEMP_PREFIX}{path.stem}.{_TEMP}")
    places = f", places: '{'exact' if exact else f'rounded to {GRID_M} m'}'"
    columns = {c[0] for c in con.execute(f"DESCRIBE lake_{table}").fetchall()}
    marks = f"{KEY}: '{made}'{places if 'lat' in columns else ''}"
    target = str(temp).replace("'", "''")
    try:
        con.execute(
            f"COPY (SELECT * EXCLUDE (season, file) FROM lake_{table}"
            f" WHERE season IS NOT DISTINCT FROM $season AND file = $file)"
            f" TO '{target}' (FORMAT parquet, COMPRESSION zstd, ROW_GROUP_SIZE {_ROW_GROUP},"
            f" KV_METADATA {{{marks}}})",
            {"season": part.season, "file": part.file},
        )
        placing.adopt(temp, path, read_only=False)
    finally:
        temp.unlink(missing_ok=True)
