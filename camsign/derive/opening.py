"""Opening a logbook with everything derived that answers need."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache

from camsign.derive.changes import fill_changes, notice_batches
from camsign.derive.clock_spans import fill_clock_spans
from camsign.derive.conflicts import find_conflicts
from camsign.derive.current_deployments import find_current_deployments
from camsign.derive.detections import fill_detections
from camsign.derive.frame_times import fill_frame_times, time_frames
from camsign.derive.pairs import fill_pairs
from camsign.derive.radio_copies import pair_radio_copies
from camsign.derive.sundays import fill_sun_days
from camsign.derive.unsorted import fill_unsorted
from camsign.derive.watch import fill_watch
from camsign.derive.windows import fill_windows
from camsign.logbook.folder import Folder
from camsign.logbook.session import Session, opened, refresh
from camsign.logbook.versions import version_of

# Each step carries what is in `touched` on into its own tables; later steps use earlier ones.
STEPS: tuple[Callable[[Session], None], ...] = (
    find_current_deployments,
    pair_radio_copies,
    fill_clock_spans,
    time_frames,
    fill_sun_days,
    fill_frame_times,
    fill_watch,
    fill_pairs,
    fill_windows,
    fill_detections,
    fill_changes,
    find_conflicts,
    fill_unsorted,
)


@contextmanager
def open_logbook(folder: Folder) -> Iterator[Session]:
    """Open a logbook briefly, brought up to date; see `camsign.logbook.session.opened`."""
    with opened(folder, _maker(), _derive) as session:
        yield session


def catch_up(session: Session) -> None:
    """Bring a session that stays open (over a copy of the database) up to date, in one transaction.

    Raises:
        OutdatedError: a card or journal that had been read is gone; copy the database again.
    """
    refresh(session, _derive)


def _derive(session: Session) -> None:
    notice_batches(session)
    if session.con.execute("SELECT 1 FROM touched LIMIT 1").fetchone():
        for step in STEPS:
            step(session)


@cache
def _maker() -> str:
    """Give a text that changes whenever what is derived may change, so that caches follow."""
    import tzdata

    return f"{version_of(__name__)} {tzdata.IANA_VERSION}"
