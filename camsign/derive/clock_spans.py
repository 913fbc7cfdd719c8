"""Second step: the offsets of the zones in use, and each deployment's clock span by span."""

from __future__ import annotations

import json
from dataclasses import astuple, fields
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from camsign.clock.rules import ClockFix, clock_pieces
from camsign.derive.script import run
from camsign.logbook.database import insert_columns, sql_beside
from camsign.logbook.records import Deployment
from camsign.logbook.session import Session
from camsign.zones import offsets

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

_FIRST = datetime(1995, 1, 1, tzinfo=UTC)
_LAST = datetime(2060, 1, 1, tzinfo=UTC)
_BEFORE_ALL = datetime.fromisoformat("0001-01-01")
_BEHIND_ALL = datetime.fromisoformat("9999-12-31")
_PIECE_TYPES = {
    "deployment": "VARCHAR",
    "shown_from": "TIMESTAMP",
    "shown_until": "TIMESTAMP",
    "offset_s": "DOUBLE",
    "drift": "DOUBLE",
    "basis": "VARCHAR",
    "estimated": "BOOLEAN",
    "own_s": "DOUBLE",
}
_ZONE_TYPES = {
    "tz": "VARCHAR",
    "from_utc": "TIMESTAMP",
    "until_utc": "TIMESTAMP",
    "offset_s": "INTEGER",
}


def fill_clock_spans(session: Session) -> None:
    """Bring `zone_offsets` and `clock_pieces` up to date with the cameras that are new."""
    con = session.con
    run(con, "clock_spans", tz=session.settings.tz)
    _fill_zones(con, session.settings.tz)
    fixes = read_fixes(con)
    rows: list[tuple[Any, ...]] = []
    for deployment in read_deployments(session, "camera IN (SELECT camera FROM new_cameras)"):
        speaking = [f for who, f in fixes if who in (deployment.deployment, deployment.camera)]
        for piece in clock_pieces(deployment, deployment.tz or session.settings.tz, speaking):
            rows.append((deployment.deployment, *astuple(piece)))
    _insert(con, "clock_pieces", rows, _PIECE_TYPES)


def read_deployments(session: Session, where: str = "true") -> list[Deployment]:
    """Give the standing deployments that fit an SQL condition, each with its zone filled in."""
    names = [f.name for f in fields(Deployment)]
    con, tz = session.con, session.settings.tz
    rows = con.execute(
        f"SELECT {', '.join(names)} FROM current_deployments WHERE {where} ORDER BY deployment"
    ).fetchall()
    return [Deployment.of(row, tz) for row in rows]


def read_fixes(con: DuckDBPyConnection) -> list[tuple[str, ClockFix]]:
    """Give each standing correction with the deployment, or else the camera, of which it speaks."""
    sql = sql_beside(__file__, "fixes.sql")
    found = []
    for fix, camera, deployment, kind, value, start, stop, why, guess in con.execute(
        sql
    ).fetchall():
        try:
            span = [
                datetime.fromisoformat(t).replace(tzinfo=None) if t else None for t in (start, stop)
            ]
            said = None if value is None else json.loads(value)
        except ValueError:
            continue
        found.append(
            (deployment or camera, ClockFix(fix, kind, said, span[0], span[1], why, bool(guess)))
        )
    return found


def _fill_zones(con: DuckDBPyConnection, tz: str) -> None:
    """Add the offsets of every zone in use; the first and last span reach without end."""
    rows: list[tuple[Any, ...]] = []
    missing = con.execute(
        "SELECT tz FROM (SELECT ? AS tz UNION SELECT tz FROM current_deployments) "
        "WHERE tz NOT IN (SELECT tz FROM zone_offsets) ORDER BY tz",
        [tz],
    ).fetchall()
    for (name,) in missing:
        spans = offsets(name, _FIRST, _LAST)
        for i, span in enumerate(spans):
            start = span.start.replace(tzinfo=None) if i else _BEFORE_ALL
            last = i == len(spans) - 1
            stop = _BEHIND_ALL if last else span.stop.replace(tzinfo=None)
            rows.append((name, start, stop, span.seconds))
    _insert(con, "zone_offsets", rows, _ZONE_TYPES)


def _insert(
    con: DuckDBPyConnection, table: str, rows: list[tuple[Any, ...]], types: dict[str, str]
) -> None:
    if rows:
        columns = dict(zip(types, map(list, zip(*rows, strict=True)), strict=True))
        insert_columns(con, table, columns, types)
