"""The tables of one card: its rows counted, collected and written, with the sums of its files."""

from __future__ import annotations

import dataclasses
import secrets
from contextlib import ExitStack
from dataclasses import dataclass, field

from camsign.cards import sums
from camsign.flows.intake.incoming import Incoming
from camsign.logbook import placing
from camsign.logbook.cardfacts import FRAMES, LOOKS
from camsign.logbook.parquet import RowFile
from camsign.logbook.records import FrameFacts, Look
from camsign.logbook.sealed import hash_of

_BATCH = 500


@dataclass(slots=True)
class Tally:
    """What is counted while the rows of one card go by.

    `first` and `last` are of the times that can be right; of the others if there are none.
    """

    new: int = 0
    known: int = 0
    digests: list[bytes] = field(default_factory=list)
    likely: list[str] = field(default_factory=list)
    unlikely: list[str] = field(default_factory=list)
    serials: set[str] = field(default_factory=set)
    models: set[str] = field(default_factory=set)

    def count(self, row: FrameFacts, again: bool = False) -> None:
        """Count one row; `again`: its bytes stand on the card a second time."""
        self.digests.append(bytes.fromhex(row.sha256))
        if row.beside:
            return
        self.known += row.known or again
        self.new += not (row.known or again)
        self.serials |= {row.serial} if row.serial else set()
        self.models |= {row.model} if row.model else set()
        if row.shown:
            odd = any(d.startswith("the clock showed") for d in row.doubts)
            doubted = odd or row.shown_from == "file"
            span = self.unlikely if doubted else self.likely
            span[:] = [min([row.shown, *span]), max([row.shown, *span])]

    @property
    def first(self) -> str | None:
        """The earliest clock reading."""
        return next(iter(self.likely or self.unlikely), None)

    @property
    def last(self) -> str | None:
        """The latest clock reading."""
        return next(reversed(self.likely or self.unlikely), None)

    @property
    def card(self) -> str:
        """The card's id."""
        return sums.card_id(self.digests)


class CardTables(ExitStack):
    """Collects the rows of one card and writes its tables and sums into the incoming folder."""

    def __init__(self, room: Incoming) -> None:
        super().__init__()
        self.tally = Tally()
        self._room = room
        self._frames = self.enter_context(RowFile(FrameFacts))
        self._looks = self.enter_context(RowFile(Look))
        self._rows: list[FrameFacts] = []
        self._seen: list[Look] = []
        self._sums = room.root / f"{placing.TEMP_PREFIX}{secrets.token_hex(6)}"
        self.callback(placing.discard, self._sums)
        self._out = self.enter_context(self._sums.open("xb"))

    def add(self, row: FrameFacts, look: Look | None, again: bool = False) -> None:
        """Add one file, with what its pixels measure; `again`: its bytes came already."""
        self.tally.count(row, again)
        if again:
            row, look = dataclasses.replace(row, file=None, known=True), None
        self._rows.append(row)
        if look is not None:
            self._seen.append(look)
        if row.file:
            self._out.write(f"{row.sha256}  {row.file}\n".encode())
        if len(self._rows) >= _BATCH:
            self._flush()

    def _flush(self) -> None:
        self._frames.add(self._rows)
        self._looks.add(self._seen)
        self._rows.clear()
        self._seen.clear()

    def write(self) -> None:
        """Place frames.parquet, looks.parquet and SHA256SUMS.

        Raises:
            OSError: the disk is full.
        """
        self._flush()
        root = self._room.root
        for rows, name in ((self._frames, FRAMES), (self._looks, LOOKS)):
            temp = root / f"{placing.TEMP_PREFIX}{secrets.token_hex(6)}"
            rows.write(temp)
            placing.adopt(temp, root / name, disk=self._room.disk)
        self._out.write(f"{hash_of(root / FRAMES)}  {FRAMES}\n".encode())
        self._out.close()
        placing.adopt(self._sums, root / sums.FILE, disk=self._room.disk)
