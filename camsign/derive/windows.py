"""Eighth step: when each sign was made, a row a sighting."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import Any

from camsign.derive.script import run
from camsign.logbook.database import insert_columns
from camsign.logbook.moments import season_of
from camsign.logbook.session import Session
from camsign.logbook.settings import Settings
from camsign.sign.windows import SightingLook, windows_of

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
    run(con, "windows")
    columns: dict[str, list[Any]] = {name: [] for name in _TYPES}
    rows = con.execute("SELECT * FROM new_sightings ORDER BY sign, sighting").fetchall()
    for _, looks in groupby(rows, key=lambda row: row[0]):
        for cells in _of_sign(list(looks), session.settings):
            for column, cell in zip(columns.values(), cells, strict=True):
                column.append(cell)
    if columns["sign"]:
        insert_columns(con, "made_windows", columns, _TYPES)


def _of_sign(rows: list[Any], settings: Settings) -> Iterator[tuple[Any, ...]]:
    """Give the rows of one sign's sightings, whose windows narrow each other."""
    kind, species = rows[0][2], rows[0][7]
    looks = [SightingLook(row[5], row[6], row[8], row[9]) for row in rows]
    for row, made in zip(rows, windows_of(kind, species, looks, settings), strict=True):
        if made is not None:
            season = season_of(made.made_to, settings.season_start)
            yield *row[:6], row[10], made.made_from, made.made_to, season, made.basis
