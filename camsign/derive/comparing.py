"""Frames compared with their camera's others, so that the empty ones can be set aside."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor

from filelock import FileLock

from camsign.derive.opening import open_logbook
from camsign.logbook.folder import Folder
from camsign.pixels.moved_cameras import find_moves, plan_moves
from camsign.pixels.scoring import carry_out, plan


def compare(
    folder: Folder,
    cameras: Sequence[str] | None = None,
    progress: Callable[[int, int], None] | None = None,
    executor: Executor | None = None,
) -> int:
    """Compare what has not been compared yet, and look for moved cameras; the logbook is free.

    Whoever shows scores calls this first: frames come to be compared anew when the cache was
    deleted, a camera turns out to have hung elsewhere, or a card was put right. The next opening
    takes the scores in. Programs that want the same wait for one another. It takes some
    milliseconds a frame, and hardly any time if nothing is new.

    `progress` is told (frames done, frames in all); what it raises ends the work, and what was
    compared until then is kept. The executor compares some hundred frames of one camera a task;
    default two threads. Gives how many frames were compared.

    Raises:
        LogbookBusy: another process holds the logbook.
        OSError: the cache cannot be written.
    """
    with FileLock(folder.cache / "comparing.lock", is_singleton=False):
        with open_logbook(folder) as session:
            planned = plan(session, cameras)
            moves = plan_moves(session, cameras)
        find_moves(moves, progress and (lambda: progress(0, planned.frames)), executor)
        return carry_out(planned, progress, executor)
