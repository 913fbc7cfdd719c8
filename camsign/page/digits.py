"""Which buck is on which digit of the sorting page: kept from one opening of the pages to the next.

A hand learns digits. So a buck keeps his as long as he is among the likely ones, on every camera;
it is a habit of this machine and lies in its cache.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

_FILE = "digits.json"
COUNT = 9


class Digits:
    """The bucks on digits 1 to 9, by id; None where no one is. Thread-safe."""

    def __init__(self, cache: Path) -> None:
        self._path = cache / _FILE
        self._lock = threading.Lock()
        self._slots = _read(self._path)

    def place(self, likely: Sequence[str]) -> list[str | None]:
        """Give the digits with these bucks (the likeliest first) on them.

        Who is new takes a free one; who is no longer likely gives his up.
        """
        with self._lock:
            slots = placed(self._slots, likely)
            if slots != self._slots:
                self._slots = slots
                with suppress(OSError):  # a cache: without it digits are placed anew next time
                    self._path.write_text(json.dumps(slots), encoding="utf-8")
            return slots


def placed(slots: Sequence[str | None], likely: Sequence[str]) -> list[str | None]:
    """Keep who is still likely where he is, and put the others on what is free, in their order."""
    wanted = list(dict.fromkeys(likely))[:COUNT]
    kept = [one if one in wanted else None for one in slots]
    free = (i for i, one in enumerate(kept) if one is None)
    for one, i in zip([b for b in wanted if b not in kept], free, strict=False):
        kept[i] = one
    return kept


def _read(path: Path) -> list[str | None]:
    with suppress(OSError, ValueError):
        found = json.loads(path.read_text(encoding="utf-8"))
        if isinstance(found, list) and len(found) == COUNT:
            names = [one if isinstance(one, str) else None for one in found]
            return [one if one not in names[:i] else None for i, one in enumerate(names)]
    return [None] * COUNT
