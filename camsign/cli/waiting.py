"""What is shown on stderr while a person waits."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def bar(quiet: bool, what: str = "frames") -> Iterator[Callable[[int, int], None] | None]:
    """Show a progress bar on stderr, if that is a terminal; gives what is told (done, of)."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TimeRemainingColumn

    columns = (BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as shown:
        task = shown.add_task(what, total=None)
        yield lambda n, of: shown.update(task, completed=n, total=of)
