"""A few things kept for pages by a token, until newer ones push them out."""

from __future__ import annotations

import secrets
import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Generic, TypeVar

T = TypeVar("T")


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
