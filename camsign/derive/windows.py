"""Eighth step: when each sign was made, a row a sighting."""

from __future__ import annotations

from typing import Any

from camsign.derive.script import run, touched
from camsign.logbook.database import insert_columns
from camsign.logbook.session import Session
from camsign.sign.windows import made_window

_TYPES = {
    "sign": "VARCHAR",
    "sighting": "VARCHAR",
    "kind": "VARCHAR",
    "lat": "DOUBLE",
    "lon": "DOUBLE",
    "seen_on": "DATE",
    "travel_deg": "DOUBLE",
    "made_from": "DATE",
    "made_to": "DATE",
    "season": "INTEGER",
    "basis": "VARCHAR",
}


def fill_windows(session: Session) -> None:
    """Bring `made_windows` up to date with the signs that are new.

    A sign's season is that of the last day on which it can have been made.
    """
    con = session.con
    if not touched(con, "sign"):
        return
    run(con, "windows")
    columns: dict[str, list[Any]] = {name: [] for name in _TYPES}
    rows = con.execute("SELECT * FROM new_sightings ORDER BY sign, sighting").fetchall()
    for row in rows:
        sign, sighting, kind, lat, lon, seen_on, state, species, said_from, said_to, travel = row
        window = made_window(kind, seen_on, state, species, said_from, said_to, session.settings)
        begun = (window.made_to.month, window.made_to.day) >= session.settings.season_start
        season = window.made_to.year - (0 if begun else 1)
        cells = (sign, sighting, kind, lat, lon, seen_on, travel)
        made = (window.made_from, window.made_to, season, window.basis)
        for column, cell in zip(columns.values(), (*cells, *made), strict=True):
            column.append(cell)
    if rows:
        insert_columns(con, "made_windows", columns, _TYPES)
