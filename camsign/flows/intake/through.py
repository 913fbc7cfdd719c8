"""Originals worked through, many at once, what comes of them kept card by card."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from pathlib import Path
from typing import TypeVar

from camsign.flows.intake.pool import pool
from camsign.flows.intake.stored import Stored, by_card
from camsign.logbook import lock
from camsign.logbook.folder import Folder
from camsign.tags.frames import Skipped

T = TypeVar("T")
Progress = Callable[[int, int], None]


def work_through(
    folder: Folder,
    rows: Sequence[Stored],
    work: Callable[[Stored], T | Skipped],
    keep: Callable[[Path, list[T]], None],
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> tuple[int, list[Skipped]]:
    """Do one thing with each original; the logbook is held only while a card's results are kept.

    Args:
        folder: the logbook.
        rows: the originals, in the order of their cards.
        work: gives a result, or why there is none.
        keep: is given a card's folder and its results.
        executor: runs the work; default threads.
        progress: is told (originals done, originals in all).

    Returns:
        How many results there are, and what was left.
    """
    kept, skipped, done = 0, [], 0
    with pool(executor) as workers:
        for card, mine in by_card(rows):
            results: list[T] = []
            for found in workers.map(work, mine):
                if isinstance(found, Skipped):
                    skipped.append(found)
                else:
                    results.append(found)
                done += 1
                if progress is not None:
                    progress(done, len(rows))
            with lock.held(folder.cache):
                keep(card, results)
            kept += len(results)
    return kept, skipped
