"""Opening a logbook with everything derived that answers need."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

from camsign.logbook.folder import Folder
from camsign.logbook.session import Session, opened

_HERE = Path(__file__).parent
# Each step carries what is in `touched` on into its own tables; later steps use earlier ones.
STEPS: tuple[Callable[[Session], None], ...] = ()


@contextmanager
def open_logbook(folder: Folder) -> Iterator[Session]:
    """Open a logbook briefly, brought up to date; see `camsign.logbook.session.opened`."""
    with opened(folder, _maker(), _derive) as session:
        yield session


def _derive(session: Session) -> None:
    if session.con.execute("SELECT 1 FROM touched LIMIT 1").fetchone():
        for step in STEPS:
            step(session)


@cache
def _maker() -> str:
    """Give a text that changes whenever the code of this room changes, so that caches follow."""
    digest = hashlib.sha256()
    for path in sorted([*_HERE.glob("*.py"), *_HERE.glob("*.sql")]):
        digest.update(path.read_bytes())
    return digest.hexdigest()
