"""The page's own copy of the logbook's database, in memory and never behind for long.

The file on the disk is opened once, briefly, and copied; from then on the copy follows the journal
and the cards by the same code that brings the file up to date. So a tag is acknowledged as soon as
it is in the journal, questions wait for nobody, and commands find the logbook free beside an open
page.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, TypeVar

from camsign.derive.opening import OutdatedError, open_logbook, refresh
from camsign.logbook import journal, lock, receipts, settings
from camsign.logbook.cardfacts import measured_stamp
from camsign.logbook.database import first_line, in_memory
from camsign.logbook.edits import Edit, TagFrames, UntagFrames
from camsign.logbook.folder import Folder, stamp_of
from camsign.logbook.session import Session
from camsign.page.events import Hub
from camsign.pixels.news_cache import names_of

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

T = TypeVar("T")
_LOOK_EVERY_S = 1.0
_SETTLE_S = 0.1
_AFTER_TROUBLE_S = 5.0
_WAIT_S = 60.0
_BY_FRAME = ("tags", "tag_edits", "frame_times")
"""Tables of the copy that each tag is looked up in by its pictures, among a million others."""
MOST_FRAMES = 5000
"""So many changed frames are named to open pages at most."""
# Things on which a frame's camera, time or burst hang.
_MOVING = frozenset({"deployment", "clock_fix", "card", "camera"})


@dataclass(frozen=True)
class Speaking(Session):
    """A session over the copy that gathers what one request says, for one line of the journal.

    A request that is refused half-way has then said nothing. `acts`: the act that then stands in
    the journal, none if nothing was said.
    """

    words: list[str] = field(default_factory=list)
    edits: list[Edit] = field(default_factory=list)
    acts: list[str] = field(default_factory=list)

    def say(self, what: str, edits: Sequence[Edit]) -> str:
        """Gather an act; it gets its id when all is noted."""
        self.words.append(what)
        self.edits.extend(edits)
        return ""

    @property
    def what(self) -> str:
        """What was said, in words."""
        return "; ".join(dict.fromkeys(self.words))

    @property
    def frames(self) -> list[str]:
        """The frames that it tags."""
        tags = (edit for edit in self.edits if isinstance(edit, TagFrames | UntagFrames))
        return list(dict.fromkeys(frame for tag in tags for frame in tag.frames))

    @property
    def only_frames(self) -> bool:
        """Whether it says nothing else."""
        return all(isinstance(edit, TagFrames | UntagFrames) for edit in self.edits)


class Desk:
    """One open logbook. Every method may be called from any thread."""

    def __init__(
        self,
        folder: Folder,
        hub: Hub,
        prepare: Callable[[Session], None],
    ) -> None:
        """Copy a logbook's database and begin to follow the logbook.

        Args:
            folder: the logbook.
            hub: told what changed, and why the logbook cannot be followed for the moment.
            prepare: makes what pages keep beside the copy; called again whenever frames move.

        Raises:
            CamsignError: the logbook is busy, or its database cannot be made.
        """
        self.folder = folder
        self._hub, self._prepare = hub, prepare
        self._signature = _signature(folder)
        self._con = _copy(folder)
        self.version = 0
        """Another number whenever the copy took something in."""
        self._cards = _cards(self._con)
        prepare(Session(folder, self._con))
        self._refreshing = threading.Lock()
        self._wanted = threading.Event()
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._follow, name="desk", daemon=True)
        self._thread.start()

    @contextmanager
    def reading(self, settled: bool = False) -> Iterator[Session]:
        """Give a session for questions; it sees the copy as it is now.

        Args:
            settled: wait first until all that was said here has been taken in.
        """
        if settled:
            self.catch_up()
        con = self._con.cursor()
        try:
            yield Session(self.folder, con)
        finally:
            con.close()

    def say(self, verb: Callable[[Session], T]) -> tuple[T, Speaking]:
        """Let a verb of a room speak; when this returns, its words are on the disk.

        Gives what the verb gave, and what it said.

        Raises:
            CamsignError: as the verb does; or the logbook is busy or cannot be written.
        """
        with self._con.cursor() as con:
            said = Speaking(self.folder, con)
            result = verb(said)
            if said.edits:
                with lock.held(self.folder.cache):
                    line = journal.append(self.folder, said.what, said.edits, said.latest)
                    said.acts.append(line.act)
        self._wanted.set()
        return result, said

    def catch_up(self) -> None:
        """Take in whatever is new, and tell of it, before this returns.

        What was said is in the journal by then: if it cannot be taken in, that is told as trouble
        and tried again, and the copy stays as it was.
        """
        try:
            self._refresh()
        except Exception as e:  # noqa: BLE001 - the words are safe, and the answer must say so
            self._hub.tell("trouble", what=first_line(e))
            self._wanted.set()

    def close(self) -> None:
        """Let the copy go."""
        self._closing.set()
        self._wanted.set()
        self._thread.join(_WAIT_S)
        self._con.close()

    def _follow(self) -> None:
        indexed = None
        while not self._closing.is_set():
            asked = self._wanted.wait(_LOOK_EVERY_S)
            try:
                if indexed is not self._con:
                    indexed = self._lay_indexes()
                if asked:  # words often come in a row: the next is not to wait for this one's rows
                    self._closing.wait(_SETTLE_S)
                self._refresh()
            # Whatever it is: a thread that died would never follow again.
            except Exception as e:  # noqa: BLE001
                self._hub.tell("trouble", what=first_line(e))
                self._closing.wait(_AFTER_TROUBLE_S)

    def _lay_indexes(self) -> DuckDBPyConnection:
        """Index the copy, which the file is not, so that a tag costs the same in any logbook."""
        with self._refreshing:
            for table in _BY_FRAME:
                self._con.execute(f"CREATE INDEX IF NOT EXISTS {table}_by_frame ON {table} (frame)")
            return self._con

    def _refresh(self) -> None:
        """Take in what is new, and tell of it."""
        import duckdb

        with self._refreshing:
            self._wanted.clear()
            now, before = _signature(self.folder), self._signature
            if now == before:
                return
            try:
                if now.settings != before.settings:
                    raise OutdatedError
                session = Session(self.folder, self._con)
                refresh(session)
                changes = self._changes()
                if changes["moved"] or now.pieces != before.pieces:
                    self._prepare(session)
            except (OutdatedError, duckdb.FatalException, duckdb.InternalException):
                changes = self._copied_anew()
            self._signature = now
            self._hub.tell("changes", **changes)

    def _copied_anew(self) -> dict[str, Any]:
        self.folder = Folder(self.folder.root)
        con = _copy(self.folder)
        self._prepare(Session(self.folder, con))
        self._con = con  # whoever still reads the old one reads on
        self._cards = _cards(con)
        self.version += 1
        return {"frames": None, "things": [], "moved": True}

    def _changes(self) -> dict[str, Any]:
        """Give what changed with the last catching up, as the pages are told.

        `frames` whose tags did (None: too many to name), kinds of `things`; `moved`: frames came
        in, or belong to another camera, time or visit than before.
        """
        rows = self._con.execute(
            "SELECT list(DISTINCT thing) FILTER (thing IS NOT NULL), (SELECT list(frame) FROM"
            " (SELECT DISTINCT frame FROM changed WHERE frame IS NOT NULL LIMIT ?)) FROM changed",
            [MOST_FRAMES + 1],
        ).fetchall()
        things, frames = (found or [] for found in rows[0])
        cards, before = _cards(self._con), self._cards
        self._cards = cards
        self.version += 1
        return {
            "frames": frames if len(frames) <= MOST_FRAMES else None,
            "things": sorted(things),
            "moved": cards != before or not _MOVING.isdisjoint(things),
        }


@dataclass(frozen=True, slots=True)
class _Signature:
    """What changes when there is something new: journals by size and time (what is none, by why),
    cards by name and by what their pixels measure, the settings, and what was compared."""

    journals: tuple[tuple[str, str], ...]
    cards: tuple[tuple[str, str], ...]
    settings: bytes
    pieces: str


def _signature(folder: Folder) -> _Signature:
    found, strange = journal.files(folder)
    journals = [*((p.name, stamp_of(p)) for p in found), *strange]
    homes = (p.parent for p in folder.cards.glob(f"*/{receipts.FILE}"))
    cards = sorted((home.name, measured_stamp(home)) for home in homes)
    text = (folder.root / settings.FILE).read_bytes()
    return _Signature(tuple(journals), tuple(cards), text, names_of(folder))


def _cards(con: DuckDBPyConnection) -> set[str]:
    return {card for (card,) in con.execute("SELECT card FROM cards").fetchall()}


def _copy(folder: Folder) -> DuckDBPyConnection:
    con = in_memory()
    with lock.held(folder.cache):
        with open_logbook(folder):
            pass
        path = str(folder.database).replace("'", "''")
        con.execute(f"ATTACH '{path}' AS file (READ_ONLY)")
        con.execute("COPY FROM DATABASE file TO memory")
        con.execute("DETACH file")
    return con
