"""Answers kept until the logbook says something new, so that the parts of a page share them."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import Future
from typing import Any, TypeVar

T = TypeVar("T")
_KEPT = 100


class AnswerCache:
    """Each answer is computed once; whoever else asks meanwhile waits for it. Thread-safe."""

    def __init__(self) -> None:
        self._version = -1
        self._known: OrderedDict[Hashable, Future[Any]] = OrderedDict()
        self._lock = threading.Lock()

    def give(self, version: int, key: Hashable, work: Callable[[], T]) -> T:
        """Give the answer of `key`, computed by `work` unless it is known.

        Args:
            version: the state of the logbook; answers of another state are let go.
            key: what is asked.
            work: computes the answer; what it raises is raised to all who wait, and not kept.
        """
        with self._lock:
            if version != self._version:
                self._version = version
                self._known.clear()
            mine = key not in self._known
            if mine:
                self._known[key] = Future()
                while len(self._known) > _KEPT:
                    self._known.popitem(last=False)
            future = self._known[key]
            self._known.move_to_end(key)
        if mine:
            try:
                future.set_result(work())
            except BaseException as e:  # noqa: BLE001 - raised below, to all who wait
                with self._lock:
                    if self._known.get(key) is future:
                        del self._known[key]
                future.set_exception(e)
        answer: T = future.result()
        return answer
