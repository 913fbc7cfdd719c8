"""Pixels measured again, from the originals in the logbook."""

from __future__ import annotations

import time
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from camsign.derive.comparing import compare
from camsign.derive.opening import open_logbook
from camsign.flows.remeasure.originals import Stored, chosen, read, work_through
from camsign.formats.kinds import Kind
from camsign.logbook.far import Progress
from camsign.logbook.folder import Folder
from camsign.logbook.records import Look
from camsign.pixels.decode import Undecodable
from camsign.pixels.look import maker
from camsign.pixels.see import see
from camsign.tags.frames import Skipped, Which


@dataclass(frozen=True, slots=True)
class LookedAgain:
    """What was measured again. `frames`: how many; `seconds`: how long it took [s]."""

    frames: int
    seconds: float
    skipped: tuple[Skipped, ...]


def look_again(
    folder: Folder,
    which: Which,
    every: bool = False,
    executor: Executor | None = None,
    progress: Progress | None = None,
    there: str = "",
) -> LookedAgain:
    """Measure frames again; where none is named, those that another version measured, or none did.

    Each card's looks.parquet is placed anew as soon as its frames are done; nothing else of a card
    is touched. Then whatever has not been compared yet is compared.

    Args:
        folder: the logbook; it is free while pictures are measured.
        which: the frames.
        every: also what this very version measured, where none is named.
        executor: runs the work on files, and compares; default threads.
        progress: is told (frames done, frames in all).
        there: where the executor's workers find the folder, an fsspec address, if they do not mount
            it; frames are then compared here.

    Raises:
        UsageError: no such camera, card or time.
        LogbookBusy: another process holds the logbook.
        OSError: a card's folder cannot be written.
    """
    began = time.monotonic()
    with open_logbook(folder) as session:
        rows, skipped = chosen(session, which, there)
    if not which.named and not every:
        rows = [row for row in rows if row.maker != maker()]
    folder.thumbs.mkdir(parents=True, exist_ok=True)
    work = partial(_measure, thumbs=folder.thumbs)
    frames, left = work_through(folder, rows, work, executor, progress)
    compare(folder, executor=None if there else executor)
    seconds = round(time.monotonic() - began, 3)
    return LookedAgain(frames, seconds, (*skipped, *left))


def _measure(row: Stored, thumbs: Path) -> Look | Skipped:
    data = read(row)
    if isinstance(data, Undecodable):
        return Skipped(row.frame, data.reason)
    here = thumbs if thumbs.is_dir() else None  # another machine has no use for thumbnails
    found, trouble = see(row.frame, Kind(row.kind), data, row.path, here)
    return found or Skipped(row.frame, trouble or f"a {row.kind} cannot be looked at here")
