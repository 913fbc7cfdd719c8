"""Frames compared with their camera's others, so that the empty ones can be set aside."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from contextlib import ExitStack, contextmanager
from dataclasses import replace

from filelock import FileLock

from camsign.derive.opening import open_logbook
from camsign.logbook.database import sparing
from camsign.logbook.far import Progress
from camsign.logbook.folder import Folder
from camsign.logbook.session import Session
from camsign.pixels.moved_cameras import find_moves, plan_moves
from camsign.pixels.scoring import carry_out, plan


def compare(
    folder: Folder,
    cameras: Sequence[str] | None = None,
    progress: Progress | None = None,
    executor: Executor | None = None,
) -> int:
    """Compare what has not been compared yet, and look for moved cameras; the logbook is free.

    Whoever shows scores calls this first, or `compared`: frames come to be compared anew when the
    cache was deleted, a camera turns out to have hung elsewhere, or a card was put right. The next
    opening takes the scores in. Programs that want the same wait for one another. It takes some
    milliseconds a frame, and hardly any time if nothing is new.

    `progress` is told (frames done, frames in all); what it raises ends the work, and what was
    compared until then is kept. The executor compares some hundred frames of one camera a task;
    default two threads. Gives how many frames were compared.

    Raises:
        LogbookBusy: another process holds the logbook.
        OSError: the cache cannot be written.
    """
    with ExitStack() as opened:
        return _compare(opened, folder, cameras, progress, executor)[2]


@contextmanager
def compared(
    folder: Folder,
    cameras: Sequence[str] | None = None,
    progress: Progress | None = None,
    executor: Executor | None = None,
) -> Iterator[Session]:
    """Open a logbook of which these cameras' frames are compared; as `compare`.

    If something is to be compared the logbook is free meanwhile, and opened again behind it.
    """
    with ExitStack() as opened:
        session, closed, _ = _compare(opened, folder, cameras, progress, executor)
        if closed:
            again = opened.enter_context(open_logbook(folder, progress, spare=True))
            session = replace(again, changed=again.changed or session.changed)
        yield session


def _compare(
    opened: ExitStack,
    folder: Folder,
    cameras: Sequence[str] | None,
    progress: Progress | None,
    executor: Executor | None,
) -> tuple[Session, bool, int]:
    """Compare what is to be compared; give the session, whether it was closed for that, and how
    many frames were compared."""
    with FileLock(folder.cache / "comparing.lock", is_singleton=False):
        session = opened.enter_context(open_logbook(folder, progress, spare=True))
        frames, moves = sparing(
            session.con, lambda: (plan(session, cameras), plan_moves(session, cameras))
        )
        if not (frames.rows or moves.wanted):
            return session, False, 0
        opened.close()
        find_moves(moves, progress and (lambda: progress(0, frames.frames)), executor)
        return session, True, carry_out(frames, progress, executor)
