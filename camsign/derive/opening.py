"""Opening a logbook with everything derived that answers need."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from functools import cache, partial
from itertools import groupby
from typing import Any

from camsign.derive.clock_spans import fill_clock_spans, find_current_deployments
from camsign.derive.conflicts import find_conflicts
from camsign.derive.pairs import fill_pairs
from camsign.derive.script import values_of
from camsign.derive.sundays import fill_sun_days
from camsign.derive.watch import fill_watch
from camsign.logbook import lock
from camsign.logbook.database import insert_rows, run_sql
from camsign.logbook.far import Far, Progress
from camsign.logbook.folder import Folder
from camsign.logbook.moments import season_of
from camsign.logbook.replay import retag
from camsign.logbook.session import Session, opened, remove_database
from camsign.logbook.versions import version_of
from camsign.pixels.news_cache import fill_changes, notice_batches
from camsign.sign.windows import SightingLook, windows_of


def fill_windows(session: Session) -> None:
    """Bring `made_windows`, a row a sighting, up to date with the signs that are new.

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


_HUNG = frozenset({"camera"})
_PLACED = frozenset({"camera", "sign", "area"})
_SEEN = frozenset({"camera", "frame", "batches"})
# Each step, a function or an SQL file, carries what is in `touched` on into its own tables, and is
# passed over where nothing of these kinds is there; later steps use earlier ones.
STEPS: tuple[tuple[Callable[[Session], None] | str, frozenset[str]], ...] = (
    (find_current_deployments, _PLACED),
    ("radio_copies", _HUNG),
    (lambda session: retag(session.con), _HUNG),  # of what that pairs or parts
    (fill_clock_spans, _HUNG),
    ("timed", _HUNG),
    (fill_sun_days, _HUNG),
    ("frame_times", _HUNG),
    (fill_watch, _HUNG),
    (fill_pairs, _PLACED),
    (fill_windows, frozenset({"sign"})),
    ("retold", _SEEN),
    ("detections", frozenset({"camera", "frame"})),
    (fill_changes, _SEEN),
    (find_conflicts, frozenset({"camera", "area", "buck", "frame"})),
    ("unsorted", _SEEN),
)


def open_logbook(
    folder: Folder, progress: Progress | None = None, spare: bool = False
) -> AbstractContextManager[Session]:
    """Open a logbook briefly, brought up to date; see `camsign.logbook.session.opened`.

    `progress` is told (done, of) of new cards and of steps; made anew it may take a minute.
    """
    far = Far(progress, len(STEPS))
    return opened(folder, _maker(), partial(derive, far=far), far, spare)


def derive(session: Session, far: Far | None = None) -> None:
    """Carry what was just taken in on into the derived tables; `far` is told of each step."""
    notice_batches(session)
    # What steps add to `touched` hangs on a camera, for which those behind them run anyway.
    new = {kind for (kind,) in session.con.execute("SELECT DISTINCT kind FROM touched").fetchall()}
    for step, kinds in STEPS:
        if far is not None:
            far.one()
        if not kinds & new:
            continue
        if isinstance(step, str):
            run_sql(session.con, __file__, f"{step}.sql", **values_of(session.settings))
        else:
            step(session)


@cache
def _maker() -> str:
    """Give a text that changes whenever what is derived may change, so that caches follow."""
    import tzdata

    return f"{version_of(__name__)} {tzdata.IANA_VERSION}"


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """What the database was made again from."""

    frames: int
    acts: int


def let_go(folder: Folder) -> None:
    """Delete the database, when nobody is in it; the next opening makes it again.

    Raises:
        LogbookBusy: another program holds it.
    """
    with lock.held(folder.cache):
        remove_database(folder)


def made_from(session: Session) -> Rebuilt:
    """Count what a database that was just made rests on."""
    row = session.con.execute(
        "SELECT (SELECT count(*) FROM frames), (SELECT count(*) FROM acts)"
    ).fetchone()
    return Rebuilt(*(row or (0, 0)))
