"""What is kept for pages: things by a token, until newer ones push them out; and answers, until the
logbook says something new, so that the parts of a page share them."""

from __future__ import annotations

import secrets
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import Future
from typing import Any, Generic, TypeVar

T = TypeVar("T")
_ANSWERS = 100


class Kept(Generic[T]):
    """The last things, `most` at the most. Thread-safe."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._known: OrderedDict[str, T] = OrderedDict()
        self._lock = threading.Lock()

    def keep(self, value: T, same: Callable[[T], bool] = lambda _: False) -> str:
        """Keep one; give its token, which is that of a known one that is the `same`."""
        with self._lock:
            token = next((t for t, known in self._known.items() if same(known)), "")
            token = token or secrets.token_hex(8)
            self._known[token] = value
            while len(self._known) > self._most:
                self._known.popitem(last=False)
        return token

    def find(self, token: str) -> T | None:
        """Give what has a token, or None if it was let go; what is asked for stays longer."""
        with self._lock:
            if token in self._known:
                self._known.move_to_end(token)
            return self._known.get(token)


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
                while len(self._known) > _ANSWERS:
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
