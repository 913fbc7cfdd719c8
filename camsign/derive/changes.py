"""What frames show that others do not: read back from the cache, where the pixels room keeps it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from camsign.logbook.session import Session
from camsign.pixels.news_cache import compared_anew, take, taught_otherwise
from camsign.pixels.scores import fit_thresholds, score
from camsign.pixels.stays_shown import note_shown, shown_anew

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection


def notice_batches(session: Session) -> None:
    """Note in `touched` the cameras of which frames were compared, or what was shown of them was
    noted, since the last opening, by whichever program."""
    _touch(session.con, compared_anew(session) | shown_anew(session))


def fill_changes(session: Session) -> None:
    """Bring `changes` up to date with the cards there are, thresholds and scores with the tags."""
    con = session.con
    ids = "SELECT DISTINCT id FROM touched WHERE kind IN ('camera', 'batches')"
    anew = {camera for (camera,) in con.execute(ids).fetchall()} | taught_otherwise(session)
    if anew:
        take(session, anew)
    tagged = con.execute("SELECT DISTINCT camera FROM retold").fetchall()
    rest = {camera for (camera,) in tagged} - anew
    if rest and (moved := fit_thresholds(session, rest)):
        score(session, moved)
        note_shown(session)
        _touch(con, moved)


def _touch(con: DuckDBPyConnection, cameras: Iterable[str]) -> None:
    if found := sorted(cameras):
        con.execute("INSERT INTO touched SELECT 'batches', unnest(?::VARCHAR[])", [found])
