"""Who does the work: the executor that is handed in, or threads of our own."""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import contextmanager


@contextmanager
def workers(executor: Executor | None) -> Iterator[Executor]:
    """Give the executor, or for the while threads: two more than processors, since disks wait."""
    if executor is not None:
        yield executor
        return
    with ThreadPoolExecutor(max_workers=2 + (os.cpu_count() or 2)) as threads:
        yield threads
