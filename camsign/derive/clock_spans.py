"""Which deployments stand, the offsets of the zones in use, and each deployment's clock span by
span."""

from __future__ import annotations

import json
from dataclasses import astuple, fields
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from camsign.clock.rules import ClockFix, clock_pieces
from camsign.derive.script import PHONES, touched, values_of
from camsign.errors import UsageError
from camsign.logbook.database import insert_rows, run_sql
from camsign.logbook.records import Deployment
from camsign.logbook.session import Session
from camsign.zones import offsets, zone

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

_FIRST = datetime(1995, 1, 1, tzinfo=UTC)
_LAST = datetime(2060, 1, 1, tzinfo=UTC)
_BEFORE_ALL = datetime.fromisoformat("0001-01-01")
_BEHIND_ALL = datetime.fromisoformat("9999-12-31")


def find_current_deployments(session: Session) -> None:
    """Make the tables `current_deployments` and `new_cameras`, which last as long as the session.

    Raises:
        UsageError: logbook.toml names a time zone that does not exist.
    """
    con, values = session.con, values_of(session.settings)
    zone(session.settings.tz)
    if touched(con, "camera"):
        run_sql(con, __file__, "hangs.sql", **values)
    rows = con.execute("SELECT DISTINCT tz FROM deployments WHERE tz IS NOT NULL").fetchall()
    unknown = [tz for (tz,) in rows if not _known(tz)]
    run_sql(con, __file__, "current_deployments.sql", unknown=unknown, **values)


def _known(tz: str) -> bool:
    try:
        zone(tz)
    except UsageError:
        return False
    return True


def new_deployments(session: Session) -> list[Deployment]:
    """Give the standing deployments of the new cameras, each with its zone filled in."""
    names = ", ".join(f.name for f in fields(Deployment))
    rows = session.con.execute(
        f"SELECT {names} FROM current_deployments JOIN new_cameras USING (camera)"
        " ORDER BY deployment"
    ).fetchall()
    return [Deployment.of(row, session.settings.tz) for row in rows]


def fill_clock_spans(session: Session) -> None:
    """Bring `zone_offsets` and `clock_pieces` up to date with the cameras that are new."""
    con, tz = session.con, session.settings.tz
    run_sql(con, __file__, "clock_spans.sql", tz=tz, phones=PHONES)
    _fill_zones(con, tz)
    fixes = _fixes(con)
    named = {camera for (camera,) in con.execute("FROM named_only").fetchall()}
    rows: list[tuple[Any, ...]] = []
    for hung in new_deployments(session):
        speaking = [fix for who, fix in fixes if who in (hung.deployment, hung.camera)]
        for lane in ("", *(fix.clock_fix for fix in speaking if fix.frames)):
            heard = [fix for fix in speaking if fix.clock_fix == lane or not fix.frames]
            pieces = clock_pieces(hung, hung.tz or tz, heard, hung.camera in named)
            rows += [(hung.deployment, *astuple(piece), lane) for piece in pieces]
    insert_rows(con, "clock_pieces", rows)


def _fixes(con: DuckDBPyConnection) -> list[tuple[str, ClockFix]]:
    """Give each standing correction with the deployment, or else the camera, of which it speaks."""
    found = []
    rows = run_sql(con, __file__, "fixes.sql").fetchall()
    con.execute(
        "CREATE OR REPLACE TEMP TABLE frame_fixes"
        " (lane VARCHAR, camera VARCHAR, said BIGINT, from_frame VARCHAR, until_frame VARCHAR)"
    )
    framed = [(row[0], row[1], n, *row[9:]) for n, row in enumerate(rows) if any(row[9:])]
    insert_rows(con, "frame_fixes", framed)
    for fix, camera, deployment, kind, value, start, stop, why, guess, *ends in rows:
        try:
            first, last = (
                datetime.fromisoformat(t).replace(tzinfo=None) if t else None for t in (start, stop)
            )
            said = None if value is None else json.loads(value)
        except ValueError:
            continue
        frames = (ends[0], ends[1]) if any(ends) else None
        said_so = ClockFix(fix, kind, said, first, last, why or "", bool(guess), frames)
        found.append((deployment or camera, said_so))
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
    insert_rows(con, "zone_offsets", rows)
