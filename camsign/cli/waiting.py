"""What is shown on stderr while a person waits."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager

Progress = Callable[[int, int], None] | None
"""What is told (done, of)."""
_LATE_S = 1.0  # what is done by then needs no bar, and is not to wait for rich


@contextmanager
def bar(quiet: bool) -> Iterator[Progress]:
    """Show how far work is and how long it will take yet, on stderr if that is a terminal.

    Gives what is told (done, of). It is shown once that took a moment.
    """
    if quiet or not sys.stderr.isatty():
        yield None
        return
    began = time.monotonic()
    with ExitStack() as stack:
        shown: list[Callable[[int, int], None]] = []

        def tell(done: int, of: int) -> None:
            if not shown and time.monotonic() - began > _LATE_S:
                shown.append(_shown(stack))
            if shown:
                shown[0](done, of)

        yield tell


def _shown(stack: ExitStack) -> Callable[[int, int], None]:
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TimeRemainingColumn

    columns = (BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    progress = stack.enter_context(Progress(*columns, console=Console(stderr=True), transient=True))
    task = progress.add_task("", total=None)
    return lambda done, of: progress.update(task, completed=done, total=of)
