"""What was said through the pages since they were opened, to be taken back and said again."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass, replace

from camsign.errors import InputRefused


@dataclass(frozen=True, slots=True)
class Turn:
    """One thing that the user did: its words, the acts that said it, the frames it spoke of."""

    what: str
    acts: tuple[str, ...]
    frames: tuple[str, ...] = ()


class Turns:
    """Undo and redo without limit, shared by all windows. Thread-safe."""

    def __init__(self) -> None:
        self._done: list[Turn] = []
        self._undone: list[Turn] = []
        self._lock = threading.Lock()

    def did(self, what: str, acts: Sequence[str], frames: Sequence[str] = ()) -> None:
        """Note something new; what had been taken back can no longer be said again."""
        with self._lock:
            if acts:
                self._done.append(Turn(what, tuple(acts), tuple(frames)))
                self._undone.clear()

    def counts(self) -> tuple[int, int]:
        """Give how many can be taken back, and how many said again."""
        with self._lock:
            return len(self._done), len(self._undone)

    def take_back(self) -> Turn:
        """Take the last turn off; the caller says so and hands the taking back to `taken_back`.

        Raises:
            InputRefused: there is none.
        """
        with self._lock:
            if not self._done:
                raise InputRefused("there is nothing to take back since this page was opened")
            return self._done.pop()

    def taken_back(self, turn: Turn, acts: Sequence[str]) -> None:
        """Keep a turn for redo: taking back `acts` says it again."""
        with self._lock:
            self._undone.append(replace(turn, acts=tuple(acts)))

    def say_again(self) -> Turn:
        """Take the last one that was taken back.

        Raises:
            InputRefused: there is none.
        """
        with self._lock:
            if not self._undone:
                raise InputRefused("there is nothing to say again")
            return self._undone.pop()

    def said_again(self, turn: Turn, acts: Sequence[str]) -> None:
        """Keep it for undo once more."""
        with self._lock:
            self._done.append(replace(turn, acts=tuple(acts)))

    def put_back(self, turn: Turn, redo: bool) -> None:
        """Keep a turn after all: the journal could not be written."""
        with self._lock:
            (self._undone if redo else self._done).append(turn)
