"""Sixth step: nights and days watched, from signs of life."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from camsign.derive.alive import Lively, NightWatch, Span, SunDay, alive_spans, watch_of
from camsign.derive.clock_spans import read_deployments
from camsign.derive.script import run
from camsign.logbook.database import insert_columns
from camsign.logbook.moments import aware
from camsign.logbook.records import Deployment
from camsign.logbook.session import Session
from camsign.zones import zone

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

_TYPES = {
    "deployment": "VARCHAR",
    "night": "DATE",
    "watched": "BOOLEAN",
    "day_watched": "BOOLEAN",
    "why": "VARCHAR",
}


def fill_watch(session: Session) -> None:
    """Bring `watch` up to date with the cameras that are new."""
    con = session.con
    run(con, "watch")
    lively = _by_deployment(con, "SELECT * FROM lively ORDER BY deployment, day")
    suns = _by_deployment(
        con, "SELECT * FROM suns WHERE next_sunrise IS NOT NULL ORDER BY deployment, day"
    )
    outages = _outages(con)
    columns: dict[str, list[Any]] = {name: [] for name in _TYPES}
    for deployment in read_deployments(session, "camera IN (SELECT camera FROM new_cameras)"):
        days = [Lively(day, aware(a), aware(b)) for day, a, b in lively[deployment.deployment]]
        places = [
            SunDay(d, aware(a), aware(b), aware(c)) for d, a, b, c in suns[deployment.deployment]
        ]
        tz = deployment.tz or session.settings.tz
        rows = watch_rows(deployment, days, places, outages[deployment.camera], tz)
        _add(columns, deployment.deployment, rows)
    if columns["night"]:
        insert_columns(con, "watch", columns, _TYPES)


def watch_rows(
    deployment: Deployment,
    frames: Iterable[Lively],
    suns: Iterable[SunDay],
    outages: Iterable[Span],
    tz: str,
) -> list[NightWatch]:
    """Give the watch of one deployment, a row a night.

    Args:
        deployment: hung, taken down, and whether it worked to the end.
        frames: its days with frames.
        suns: sunrise and sunset of the days from before hanging to behind the end.
        outages: when people say that its camera did not work, UTC, aware.
        tz: the zone that says what a day is.
    """
    outages = list(outages)
    signs = {x.day: x for x in frames}
    _add_sign(signs, deployment.hung, tz)
    if deployment.worked_to_end and deployment.taken_down is not None:
        _add_sign(signs, deployment.taken_down, tz)
    lively = [signs[day] for day in sorted(signs)]
    alive = alive_spans(lively, outages, tz)
    return watch_of(list(suns), alive, outages, deployment.taken_down)


def _add_sign(signs: dict[Any, Lively], at: datetime, tz: str) -> None:
    day = at.astimezone(zone(tz)).date()
    there = signs.get(day, Lively(day, at, at))
    signs[day] = Lively(day, min(there.first, at), max(there.last, at))


def _by_deployment(con: DuckDBPyConnection, sql: str) -> Mapping[str, list[tuple[Any, ...]]]:
    rows = defaultdict(list)
    for deployment, *rest in con.execute(sql).fetchall():
        rows[deployment].append(tuple(rest))
    return rows


def _outages(con: DuckDBPyConnection) -> Mapping[str, list[Span]]:
    found = defaultdict(list)
    sql = "SELECT camera, start, stop FROM outages WHERE gone IS NOT TRUE AND start < stop"
    for camera, start, stop in con.execute(f"{sql} ORDER BY ALL").fetchall():
        found[camera].append((start.replace(tzinfo=UTC), stop.replace(tzinfo=UTC)))
    return found


def _add(columns: dict[str, list[Any]], deployment: str, rows: list[NightWatch]) -> None:
    columns["deployment"] += [deployment] * len(rows)
    for name in ("night", "watched", "day_watched", "why"):
        columns[name] += [getattr(row, name) for row in rows]
