"""When each sign was made, a row a sighting."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import Any

from camsign.logbook.database import insert_rows, run_sql
from camsign.logbook.moments import season_of
from camsign.logbook.session import Session
from camsign.logbook.settings import Settings
from camsign.sign.windows import SightingLook, windows_of


def fill_windows(session: Session) -> None:
    """Bring `made_windows` up to date with the signs that are new.

    A sign's season is that of the last day on which it can have been made.
    """
    con = session.con
    run_sql(con, __file__, "windows.sql")
    rows = con.execute("SELECT * FROM new_sightings ORDER BY sign, sighting").fetchall()
    signs = groupby(rows, key=lambda row: row[0])
    made = [cells for _, looks in signs for cells in _of_sign(list(looks), session.settings)]
    insert_rows(con, "made_windows", made)


def _of_sign(rows: list[Any], settings: Settings) -> Iterator[tuple[Any, ...]]:
    """Give the rows of one sign's sightings, whose windows narrow each other."""
    kind, species = rows[0][2], rows[0][7]
    looks = [SightingLook(row[5], row[6], row[8], row[9]) for row in rows]
    for row, made in zip(rows, windows_of(kind, species, looks, settings), strict=True):
        if made is not None:
            season = season_of(made.made_to, settings.season_start)
            yield *row[:6], made.made_from, made.made_to, row[10], season, made.basis
