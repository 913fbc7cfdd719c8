"""Who waits for a busy logbook waits in line: whoever came first gets it first.

A place in the line is a file named by its number, whose time its owner renews while it waits. One
that is not renewed belongs to a program that was killed or put to sleep: it is passed over.
"""

from __future__ import annotations

import os
import secrets
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

_RENEWED_S = 0.5
_ASLEEP_S = 3.0
_FORGOTTEN_S = 3600.0


class Turn:
    """A place in the line of `folder`."""

    def __init__(self, folder: Path) -> None:
        number = 1 + max((int(n.split("-")[0]) for n in _names(folder)), default=0)
        self._path = folder / f"{number:012d}-{os.getpid()}-{secrets.token_hex(4)}"
        self._renew()

    def is_next(self) -> bool:
        """Say whether nobody who is awake came before."""
        if time.monotonic() - self._renewed > _RENEWED_S:
            self._renew()
        return not anybody(self._path.parent, before=self._path.name)

    def _renew(self) -> None:
        with suppress(OSError):  # a full disk: then without a place, as luck will have it
            self._path.parent.mkdir(exist_ok=True)
            self._path.touch()
        self._renewed = time.monotonic()

    def leave(self) -> None:
        """Give the place up."""
        with suppress(OSError):
            self._path.unlink(missing_ok=True)


@contextmanager
def in_line(folder: Path) -> Iterator[Turn]:
    """Wait in line inside; a killed program leaves its place to be passed over."""
    turn = Turn(folder)
    try:
        yield turn
    finally:
        turn.leave()


def anybody(folder: Path, before: str = "~") -> bool:
    """Say whether somebody who is awake waits in line, before a place if one is named."""
    return any(name < before and _is_awake(folder / name) for name in _names(folder))


def _names(folder: Path) -> list[str]:
    try:
        return sorted(n for n in os.listdir(folder) if n.split("-")[0].isdecimal())  # noqa: PTH208
    except OSError:
        return []


def _is_awake(path: Path) -> bool:
    try:
        age = abs(time.time() - path.stat().st_mtime)
    except OSError:
        return False
    if age > _FORGOTTEN_S:
        with suppress(OSError):
            path.unlink()
    return age <= _ASLEEP_S
