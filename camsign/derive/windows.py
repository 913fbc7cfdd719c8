"""When each sign was made, a row a sighting."""

from __future__ import annotations

from itertools import groupby
from typing import Any

from camsign.logbook.database import insert_rows, run_sql
from camsign.logbook.moments import season_of
from camsign.logbook.session import Session
from camsign.sign.windows import SightingLook, windows_of


def fill_windows(session: Session) -> None:
    """Bring `made_windows` up to date with the signs that are new.

    A sign's season is that of the last day on which it can have been made.
    """
    con = session.con
    run_sql(con, __file__, "windows.sql")
    rows = con.execute("SELECT * FROM new_sightings ORDER BY sign, sighting").fetchall()
    settings, made = session.settings, list[tuple[Any, ...]]()
    for _, sightings in groupby(rows, key=lambda row: row[0]):
        mine = list(sightings)  # whose windows narrow each other
        looks = [SightingLook(row[5], row[6], row[8], row[9]) for row in mine]
        for row, one in zip(mine, windows_of(mine[0][2], mine[0][7], looks, settings), strict=True):
            if one is not None:
                season = season_of(one.made_to, settings.season_start)
                made.append((*row[:6], one.made_from, one.made_to, row[10], season, one.basis))
    insert_rows(con, "made_windows", made)
