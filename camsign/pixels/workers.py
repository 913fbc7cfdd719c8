"""Who does the work, and in which order what it gives comes back."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import contextmanager
from typing import TypeVar

T = TypeVar("T")


@contextmanager
def workers(executor: Executor | None, threads: int | None = None) -> Iterator[Executor]:
    """Give the executor, or so many threads; by default two more than processors: disks wait."""
    if executor is not None:
        yield executor
        return
    with ThreadPoolExecutor(threads or 2 + (os.cpu_count() or 2)) as own:
        yield own


def in_order(executor: Executor, tasks: Iterable[Callable[[], T]], ahead: int) -> Generator[T]:
    """Give what each task gives; no more than `ahead` of them are under way or wait to be taken.

    Close it (`contextlib.closing`), so that a task that fails takes back those behind it.

    Args:
        executor: runs them; they are pickled if it runs elsewhere.
        tasks: drawn one by one, as they are handed over.
        ahead: at least 1.
    """
    pending: deque[Future[T]] = deque()
    try:
        for task in tasks:
            pending.append(executor.submit(task))
            if len(pending) >= ahead:
                yield pending.popleft().result()
        while pending:
            yield pending.popleft().result()
    finally:
        for future in pending:
            future.cancel()
        for future in pending:
            if not future.cancelled():
                future.exception()
