"""What was said in the logbook last, to be taken back through the pages and said again."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass

from camsign.errors import InputRefused


@dataclass(frozen=True, slots=True)
class Turn:
    """One thing that the user did: its words, the acts that said it, the frames it spoke of."""

    what: str
    acts: tuple[str, ...]
    frames: tuple[str, ...] = ()


class UndoStack:
    """Undo and redo without limit, shared by all windows. Thread-safe."""

    def __init__(self, before: Sequence[Turn] = ()) -> None:
        self._done: list[Turn] = list(before)
        self._undone: list[Turn] = []
        self._lock = threading.Lock()

    def did(self, what: str, acts: Sequence[str], frames: Sequence[str]) -> tuple[int, int]:
        """Note something new; what had been taken back can no longer be said again. As `counts`."""
        with self._lock:
            if acts:
                self._done.append(Turn(what, tuple(acts), tuple(frames)))
                self._undone.clear()
            return len(self._done), len(self._undone)

    def counts(self) -> tuple[int, int]:
        """Give how many can be taken back, and how many said again."""
        with self._lock:
            return len(self._done), len(self._undone)

    def pop(self, redo: bool) -> Turn:
        """Take off the last turn to be said again (`redo`) or taken back; the caller says so.

        Raises:
            InputRefused: there is none.
        """
        with self._lock:
            stack = self._undone if redo else self._done
            if not stack:
                raise InputRefused(f"there is nothing to {'redo' if redo else 'undo'}")
            return stack.pop()

    def push(self, turn: Turn, redo: bool) -> None:
        """Put a turn where `pop(redo)` finds it next."""
        with self._lock:
            (self._undone if redo else self._done).append(turn)
