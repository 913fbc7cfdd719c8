"""What an ingest works with."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass

from camsign.flows.intake.read import READER, Reader
from camsign.flows.intake.whose import Ask
from camsign.logbook.folder import Folder
from camsign.logbook.placing import DISK, Disk


@dataclass(frozen=True, slots=True)
class Tools:
    """The arguments of `camsign.flows.intake.ingest`, and how cards are read and disks written."""

    folder: Folder
    executor: Executor
    camera: str | None = None
    ask: Ask | None = None
    dry_run: bool = False
    accept_refused: bool = False
    progress: Callable[[int, int], None] | None = None
    reader: Reader = READER
    disk: Disk = DISK
