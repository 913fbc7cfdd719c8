"""The logbook that the pages show, if there is one yet; what was said in it last can be taken back
through the pages and said again."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass

from starlette.requests import Request

from camsign.errors import InputRefused
from camsign.logbook.folder import Folder, remember_opened
from camsign.logbook.session import Session
from camsign.page.desk import Desk
from camsign.page.events import Hub
from camsign.page.jobs import Comparer
from camsign.page.kept import AnswerCache, Kept
from camsign.page.likely import Digits
from camsign.page.lists import Part, make_strips

MOST_BEFORE = 200
"""So much of what was said before the pages were opened can be taken back in them."""
MOST_LISTS = 12
"""So many of the sorting page's lists are kept while they are worked through."""


class NoLogbookError(Exception):
    """A page needs a logbook and there is none yet."""


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


class AppState:
    """Holds the desk of the logbook, and what was said through these pages for undo."""

    def __init__(self, folder: Folder | None, hub: Hub) -> None:
        self._hub = hub
        self._lock = threading.Lock()
        self._desk: Desk | None = None
        self._comparer = Comparer(hub)
        self.turns = UndoStack()
        if folder is not None:
            self.open(folder)

    @property
    def any(self) -> bool:
        """Whether there is a logbook."""
        return self._desk is not None

    @property
    def desk(self) -> Desk:
        """The open logbook.

        Raises:
            NoLogbookError: there is none yet.
        """
        if self._desk is None:
            raise NoLogbookError
        return self._desk

    def open(self, folder: Folder) -> None:
        """Show this logbook from now on.

        Raises:
            CamsignError: it is busy or damaged.
        """
        with self._lock:
            old, self._desk = self._desk, Desk(folder, self._hub, self._prepare)
            self.turns = UndoStack(_said_before(self._desk))
            self.digits = Digits(folder.cache)
        self.lists, self.answered = Kept[list[Part]](MOST_LISTS), AnswerCache()
        if old is not None:
            old.close()
        remember_opened(folder)

    def close(self) -> None:
        """Let the logbook go."""
        with self._lock:
            if self._desk is not None:
                self._desk.close()
                self._desk = None
        self._comparer.close()

    def _prepare(self, session: Session) -> None:
        make_strips(session)
        self._comparer.want(session.folder)


def _said_before(desk: Desk) -> list[Turn]:
    """Give what this machine's writer said last and what stands, to be taken back."""
    with desk.reading() as session:
        rows = session.con.execute(
            "SELECT act, what FROM acts WHERE NOT undone AND undoes IS NULL AND writer = ?"
            " ORDER BY said DESC LIMIT ?",
            [session.folder.writer, MOST_BEFORE],
        ).fetchall()
    return [Turn(what, (act,)) for act, what in reversed(rows)]


def opened(request: Request) -> AppState:
    """Give what a request's pages show."""
    state: AppState = request.app.state.opened
    return state
