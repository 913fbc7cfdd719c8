"""Scores for a whole logbook: compares each camera's frames by their glances, opens no picture.

Three steps, so that the logbook is open only briefly: `plan` (open), `carry_out` (closed), `take`
(open). What is computed is kept as the module `kept` says.
"""

from __future__ import annotations

import secrets
import tempfile
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import astuple, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_type_hints

from camsign.logbook.cardrows import LOOKS
from camsign.logbook.database import connect, insert_columns
from camsign.pixels.changes import Glanced, changes
from camsign.pixels.kept import Change, lay_pieces, store_of, take

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

    from camsign.logbook.session import Session

Progress = Callable[[int, int], None]

_TYPES = {str: "VARCHAR", str | None: "VARCHAR", float | None: "DOUBLE"}
_COLUMNS = {name: _TYPES[kind] for name, kind in get_type_hints(Change).items()}
_WORKERS = 2  # each holds about 100 MB


@dataclass(frozen=True, slots=True)
class Plan:
    """What is to be computed: rows (piece, order, frame, seconds, burst) and the looks to read."""

    rows: tuple[tuple[str, int, str, float, str], ...]
    looks: tuple[Path, ...]
    store: Path


def score_frames(
    session: Session, cameras: Sequence[str] | None = None, progress: Progress | None = None
) -> int:
    """Bring the scores of these cameras (None: all) up to date, all in one session.

    Returns:
        How many frames were compared anew.
    """
    planned = plan(session, cameras)
    done = carry_out(planned, progress)
    take(session)
    return done


def plan(session: Session, cameras: Sequence[str] | None = None) -> Plan:
    """Find what has to be computed; nothing is written."""
    store = store_of(session.folder)
    lay_pieces(session.con, cameras)
    rows = session.con.execute(
        "SELECT made, nth, frame, moment, burst, folder FROM pieces ORDER BY made, nth"
    ).fetchall()
    there = {p.stem for p in store.glob("*.parquet")} if store.is_dir() else set()
    wanted = [r for r in rows if r[0] not in there]
    folders = sorted({r[5] for r in wanted})
    looks = tuple(session.folder.cards / name / LOOKS for name in folders)
    return Plan(tuple((r[0], r[1], r[2], r[3], r[4]) for r in wanted), looks, store)


def carry_out(planned: Plan, progress: Progress | None = None) -> int:
    """Compute and keep what is planned; the logbook need not be open.

    Returns:
        How many frames were compared.

    Raises:
        OSError: the cache cannot be written.
    """
    if not planned.rows:
        return 0
    planned.store.mkdir(parents=True, exist_ok=True)
    done = 0
    with tempfile.TemporaryDirectory(prefix="camsign-", ignore_cleanup_errors=True) as folder:
        con = connect(Path(folder) / "glances.duckdb")
        try:
            _lay_out(con, planned)
            for made, rows in _computed(con):
                _keep(con, planned.store / f"{made}.parquet", rows)
                done += len(rows)
                if progress is not None:
                    progress(done, len(planned.rows))
        finally:
            con.close()
    return done


def _lay_out(con: DuckDBPyConnection, planned: Plan) -> None:
    """Bring each frame's glance behind its row, in the order of the work, in one pass."""
    con.execute("SET memory_limit = '512MB'")
    con.execute("SET threads = 2")
    kinds = {
        "made": "VARCHAR",
        "nth": "BIGINT",
        "frame": "VARCHAR",
        "moment": "DOUBLE",
        "burst": "VARCHAR",
    }
    con.execute("CREATE TABLE wanted (" + ", ".join(f"{n} {k}" for n, k in kinds.items()) + ")")
    columns = dict(zip(kinds, zip(*planned.rows, strict=True), strict=True))
    insert_columns(con, "wanted", columns, kinds)
    con.execute(
        "CREATE TABLE glances AS SELECT w.*, coalesce(l.glance, ''::BLOB) AS glance, "
        "coalesce(l.numbers, '{}') AS numbers FROM wanted w LEFT JOIN (SELECT frame, "
        "any_value(glance) AS glance, any_value(numbers) AS numbers FROM read_parquet(?) "
        "GROUP BY frame) l USING (frame) ORDER BY made, nth",
        [[str(p) for p in planned.looks if p.is_file()]],
    )
    ddl = ", ".join(f'"{name}" {kind}' for name, kind in _COLUMNS.items())
    con.execute(f"CREATE TABLE rows ({ddl})")


def _computed(con: DuckDBPyConnection) -> Iterator[tuple[str, list[Change]]]:
    names = [r[0] for r in con.execute("SELECT DISTINCT made FROM glances ORDER BY 1").fetchall()]

    def one(made: str) -> tuple[str, list[Change]]:
        with con.cursor() as own:
            rows = own.execute(
                "SELECT frame, moment, burst, glance, numbers FROM glances WHERE made = ? "
                "ORDER BY nth",
                [made],
            ).fetchall()
        return made, changes([Glanced(*row) for row in rows])

    with ThreadPoolExecutor(_WORKERS) as pool:
        for start in range(0, len(names), _WORKERS):
            yield from pool.map(one, names[start : start + _WORKERS])


def _keep(con: DuckDBPyConnection, path: Path, rows: Sequence[Change]) -> None:
    con.execute("DELETE FROM rows")
    columns: dict[str, Any] = dict(
        zip(_COLUMNS, zip(*(astuple(r) for r in rows), strict=True), strict=True)
    )
    insert_columns(con, "rows", columns, _COLUMNS)
    temp = path.with_name(f".{path.stem}-{secrets.token_hex(4)}")  # others may be at the same work
    con.execute(f"COPY rows TO '{str(temp).replace(chr(39), chr(39) * 2)}' (FORMAT parquet)")
    temp.replace(path)
