"""Opening a logbook with everything derived that answers need."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

from camsign.derive.changes import fill_changes, notice_pieces
from camsign.derive.conflicts import find_conflicts
from camsign.derive.detections import fill_detections
from camsign.derive.frame_times import fill_frame_times, time_frames
from camsign.derive.pairs import fill_pairs
from camsign.derive.pieces import fill_pieces
from camsign.derive.standing import stand
from camsign.derive.sundays import fill_sun_days
from camsign.derive.unsorted import fill_unsorted
from camsign.derive.watch import fill_watch
from camsign.derive.windows import fill_windows
from camsign.logbook.folder import Folder
from camsign.logbook.session import Session, opened, refresh

_HERE = Path(__file__).parent
# What the steps make hangs on these as well.
_BENEATH = (
    "clock/rules.py",
    "sign/ageing.py",
    "sign/ageing.toml",
    "sign/windows.py",
    "logbook/shapes.py",
    "sun.py",
    "geo.py",
    "zones.py",
)
# Each step carries what is in `touched` on into its own tables; later steps use earlier ones.
STEPS: tuple[Callable[[Session], None], ...] = (
    stand,
    fill_pieces,
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
    notice_pieces(session)
    if session.con.execute("SELECT 1 FROM touched LIMIT 1").fetchone():
        for step in STEPS:
            step(session)


@cache
def _maker() -> str:
    """Give a text that changes whenever what is derived may change, so that caches follow."""
    digest = hashlib.sha256()
    beneath = [_HERE.parent / name for name in _BENEATH]
    for path in [*sorted([*_HERE.glob("*.py"), *_HERE.glob("*.sql")]), *beneath]:
        digest.update(path.read_bytes())
    return digest.hexdigest()
