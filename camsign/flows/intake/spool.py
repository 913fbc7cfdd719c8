"""The rows of a dump while it is read, in a file, so that memory does not grow with the card."""

from __future__ import annotations

import pickle
import tempfile
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import NamedTuple

from camsign.logbook.records import FrameFacts, Look


class Spooled(NamedTuple):
    """One file: the number of its group, its row, and what its pixels measure."""

    group: int
    row: FrameFacts
    look: Look | None


class Spool:
    """Takes rows one by one and gives them back in the same order, as often as wanted."""

    def __init__(self, folder: Path) -> None:
        self._file = tempfile.TemporaryFile(dir=folder)  # noqa: SIM115

    def __enter__(self) -> Spool:
        """Give the spool."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, e: BaseException | None, t: TracebackType | None
    ) -> None:
        """Let the file go."""
        self._file.close()

    def add(self, spooled: Spooled) -> None:
        """Keep one row."""
        pickle.dump(spooled, self._file)

    def __iter__(self) -> Iterator[Spooled]:
        """Give all rows; none may be added meanwhile."""
        self._file.seek(0)
        while True:
            try:
                yield pickle.load(self._file)
            except EOFError:
                return
