"""What became of a dump's files while it is read, in a file: memory does not grow with the card."""

from __future__ import annotations

import pickle
import tempfile
from collections.abc import Iterator
from pathlib import Path

from camsign.flows.intake.one_file import Item


class Spool:
    """Takes items one by one and gives them back in the same order, as often as wanted."""

    def __init__(self, folder: Path) -> None:
        self._file = tempfile.TemporaryFile(dir=folder)  # noqa: SIM115

    def close(self) -> None:
        """Let the file go."""
        self._file.close()

    def add(self, item: Item) -> None:
        """Keep one item."""
        pickle.dump(item, self._file)

    def __iter__(self) -> Iterator[Item]:
        """Give all items; none may be added meanwhile."""
        self._file.seek(0)
        while True:
            try:
                yield pickle.load(self._file)
            except EOFError:
                return
