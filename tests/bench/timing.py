"""How long a piece of work takes at its quickest, so that a busy moment does not count."""

from __future__ import annotations

import time
from collections.abc import Callable


def best_of(run: Callable[[], object], times: int = 3) -> float:
    """Give the shortest of some runs [s]."""
    spent = []
    for _ in range(times):
        begin = time.perf_counter()
        run()
        spent.append(time.perf_counter() - begin)
    return min(spent)
