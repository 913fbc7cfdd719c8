"""Frames compared in the background, so that pages show scores without anybody asking for them."""

from __future__ import annotations

import threading
from collections.abc import Callable

from camsign.errors import CamsignError
from camsign.logbook.folder import Folder

_WAIT_S = 60.0


class Comparer:
    """Compares what is new whenever it is told that something may be; one round at a time."""

    def __init__(self, trouble: Callable[[str], None]) -> None:
        self._trouble = trouble
        self._guard = threading.Lock()
        self._next: Folder | None = None
        self._thread: threading.Thread | None = None

    def want(self, folder: Folder) -> None:
        """Compare a logbook's frames soon; returns at once."""
        with self._guard:
            self._next = folder
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="comparer", daemon=True)
                self._thread.start()

    def close(self) -> None:
        """Begin nothing more, and wait for what is under way."""
        with self._guard:
            self._next, thread = None, self._thread
        if thread is not None:
            thread.join(_WAIT_S)

    def _work(self) -> None:
        import duckdb

        from camsign.flows.intake.comparing import compare

        while (folder := self._take()) is not None:
            try:
                compare(folder)
            except (CamsignError, OSError, duckdb.Error) as e:
                self._trouble(f"frames could not be compared: {str(e).splitlines()[0]}")

    def _take(self) -> Folder | None:
        with self._guard:
            folder, self._next = self._next, None
            if folder is None:
                self._thread = None
            return folder
