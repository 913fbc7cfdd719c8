"""Every view and a few tables as CSV or Parquet, one file each, columns as in docs/schema.md."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from duckdb import DuckDBPyConnection

from camsign import systems
from camsign.answers.ask import VIEWS, with_views
from camsign.errors import UsageError
from camsign.flows.handover.rounded import GRID_M
from camsign.logbook.database import run_sql, sql_beside
from camsign.logbook.far import Far, Progress
from camsign.logbook.session import Session

TABLES = ("deployments", "bucks", "places", "tags", "sits", "encounters")
ALL = (*VIEWS, *TABLES)
FORMS = ("parquet", "csv")
_COPY = {
    "parquet": "FORMAT parquet, KV_METADATA {{places: '{places}'}}",
    "csv": "FORMAT csv, HEADER",
}


@dataclass(frozen=True, slots=True)
class TablesWritten:
    """The files written, and whether places in them are exact."""

    written: tuple[Path, ...]
    exact_places: bool


def write_tables(
    session: Session,
    folder: Path,
    form: str = "parquet",
    names: tuple[str, ...] = ALL,
    exact: bool = False,
    progress: Progress | None = None,
) -> TablesWritten:
    """Write each of `names` as a file of its own into a folder, which is made.

    Times named utc are instants; `local` is wall-clock time of the place. In CSV a text that looks
    like a formula gets an apostrophe before it.

    Args:
        session: the open logbook.
        folder: where the files go; files of the same names are replaced.
        form: parquet or csv.
        names: of VIEWS and TABLES.
        exact: places as they are; else rounded to 1 km, outlines to one point.
        progress: told (done, of) of the files.

    Raises:
        UsageError: no such form or table.
    """
    if form not in FORMS:
        raise UsageError(f"there is no form {form!r}", f"say {' or '.join(FORMS)}")
    unknown = [n for n in names if n not in ALL]
    if unknown:
        raise UsageError(f"there is no table {unknown[0]!r}", f"there are {', '.join(ALL)}")
    folder.mkdir(parents=True, exist_ok=True)
    with with_views(session) as con:
        con.execute("SET TimeZone = 'UTC'")
        macros(con)
        far, written = Far(progress, len(names)), []
        for name in names:
            written.append(_write(con, folder / f"{name}.{form}", name, form, exact))
            far.one()
    return TablesWritten(tuple(written), exact)


def _write(con: DuckDBPyConnection, path: Path, name: str, form: str, exact: bool) -> Path:
    view = f"FROM temp.main.{name}"
    rows = view if name in VIEWS else sql_beside(__file__, f"table_{name}.sql").rstrip().rstrip(";")
    columns = con.execute(f"DESCRIBE {rows}").fetchall()
    wanted = ", ".join(_column(c[0], str(c[1]), form, exact) for c in columns)
    how = _COPY[form].format(places="exact" if exact else f"rounded to {GRID_M} m")
    copy(con, f"SELECT {wanted} FROM ({rows})", path, how)
    return path


def _column(name: str, kind: str, form: str, exact: bool) -> str:
    """One column as it is written: instants aware, places rounded, formulas defused."""
    said = f'"{name}"'
    if kind == "TIMESTAMP" and name != "local":
        said = f"CAST({said} AS TIMESTAMPTZ)"
    if name == "lat":
        said = f"lat_out(lat, {exact})"
    elif name == "lon":
        said = f"lon_out(lat, lon, {exact})"
    elif name == "shape" and not exact:
        said = "NULL"
    elif form == "csv" and kind in ("VARCHAR", "JSON"):
        said = f"plain_text({said})"
    return f'{said} AS "{name}"'


def macros(con: DuckDBPyConnection) -> None:
    """Make the macros that round places and defuse texts."""
    run_sql(con, __file__, "macros.sql")


def copy(con: DuckDBPyConnection, select: str, path: Path, how: str) -> int:
    """Write what a SELECT gives into a file, whole or not at all; say how many rows."""
    temp = path.with_name(f".tmp-{path.name}")
    target = str(temp).replace("'", "''")
    try:
        ((rows,),) = con.execute(f"COPY ({select}) TO '{target}' ({how})").fetchall()
        systems.replace(temp, path)
        return int(rows)
    finally:
        temp.unlink(missing_ok=True)
