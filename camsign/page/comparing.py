"""Frames compared in the background, so that pages show scores without anybody asking for them."""

from __future__ import annotations

import threading

from camsign.derive.comparing import compare
from camsign.logbook.database import first_line
from camsign.logbook.folder import Folder
from camsign.page.events import Hub

_WAIT_S = 60.0


class _ClosingError(Exception):
    """The pages are being closed: what was compared so far is kept, the rest waits."""


class Comparer:
    """Compares what is new whenever it is told that something may be; one round at a time."""

    def __init__(self, hub: Hub) -> None:
        self._hub = hub
        self._guard = threading.Lock()
        self._next: Folder | None = None
        self._thread: threading.Thread | None = None
        self._closing = False

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
            self._next, thread, self._closing = None, self._thread, True
        if thread is not None:
            thread.join(_WAIT_S)

    def _work(self) -> None:
        while (folder := self._take()) is not None:
            try:
                compare(folder, progress=self._go_on)
            except _ClosingError:
                return
            # Whatever it is: a thread that died would never compare again.
            except Exception as e:  # noqa: BLE001
                what = f"frames could not be compared: {first_line(e)}"
                self._hub.tell("trouble", what=what)

    def _go_on(self, done: int, total: int) -> None:
        """Stop between two pieces if the pages are being closed, so that Ctrl+C is quick."""
        if self._closing:
            raise _ClosingError

    def _take(self) -> Folder | None:
        with self._guard:
            folder, self._next = self._next, None
            if folder is None:
                self._thread = None
            return folder
