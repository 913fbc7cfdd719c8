"""How far work has come of which more becomes known while it is done."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[int, int], None]


class Far:
    """Counts pieces of work, and tells `progress` (done, of) after each."""

    def __init__(self, progress: Progress | None, of: int = 0) -> None:
        self._progress, self._done, self._of = progress, 0, of

    def more(self, pieces: int) -> None:
        """There are so many more to do."""
        self._of += pieces

    def one(self) -> None:
        """One more is done."""
        self._done += 1
        if self._progress is not None:
            self._progress(self._done, self._of)
