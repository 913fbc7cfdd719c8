"""From a finished incoming folder to a card that stands: tables, sums, name, receipt last."""

from __future__ import annotations

import dataclasses
import re
import secrets
from dataclasses import dataclass, field
from types import TracebackType

from camsign.cards import sums
from camsign.flows.intake import incoming
from camsign.flows.intake.incoming import Incoming
from camsign.flows.intake.safe_names import safe_name
from camsign.logbook import placing, receipts
from camsign.logbook.cardfacts import FRAMES, LOOKS
from camsign.logbook.folder import Folder
from camsign.logbook.parquet import RowFile
from camsign.logbook.placing import Disk
from camsign.logbook.receipts import Receipt
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
        if row.beside:
            self.digests.append(bytes.fromhex(row.sha256))
            return
        self.known += row.known or again
        self.new += not (row.known or again)
        self.digests.append(bytes.fromhex(row.sha256))
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


class CardTables:
    """Collects the rows of one card and writes its tables and sums into the incoming folder."""

    def __init__(self, room: Incoming) -> None:
        self.tally = Tally()
        self._room = room
        self._frames, self._looks = RowFile(FrameFacts), RowFile(Look)
        self._rows: list[FrameFacts] = []
        self._seen: list[Look] = []
        self._sums = room.root / f"{placing.TEMP_PREFIX}{secrets.token_hex(6)}"
        self._out = self._sums.open("xb")

    def __enter__(self) -> CardTables:
        """Give the tables being collected."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, e: BaseException | None, t: TracebackType | None
    ) -> None:
        """Let the throw-away tables go."""
        self._out.close()
        placing.discard(self._sums)
        self._frames.__exit__(kind, e, t)
        self._looks.__exit__(kind, e, t)

    def add(self, row: FrameFacts, look: Look | None, again: bool = False) -> None:
        """Add one file, with what its pixels measure; `again`: its bytes came already."""
        self.tally.count(row, again)
        if again:
            row, look = dataclasses.replace(row, file=None, known=True), None
        self._rows.append(row)
        if look is not None:
            self._seen.append(look)
        if row.file:
            self._out.write(sums.line(row.sha256, row.file))
        if len(self._rows) >= _BATCH:
            self._flush()

    def _flush(self) -> None:
        self._frames.add(self._rows)
        self._looks.add(self._seen)
        self._rows.clear()
        self._seen.clear()

    def write(self, disk: Disk) -> None:
        """Place frames.parquet, looks.parquet and SHA256SUMS.

        Raises:
            OSError: the disk is full.
        """
        self._flush()
        root = self._room.root
        for rows, name in ((self._frames, FRAMES), (self._looks, LOOKS)):
            temp = root / f"{placing.TEMP_PREFIX}{secrets.token_hex(6)}"
            rows.write(temp)
            placing.adopt(temp, root / name, disk=disk)
        self._out.write(sums.line(hash_of(root / FRAMES), FRAMES))
        self._out.close()
        placing.adopt(self._sums, root / sums.FILE, disk=disk)


def stand(folder: Folder, room: Incoming, receipt: Receipt, disk: Disk) -> str:
    """Give the card its name and place its receipt, the one commit point; give the name.

    Raises:
        OSError: the disk is full; the next ingest takes over what is there.
    """
    name = _name(receipt)
    if (folder.cards / name / receipts.FILE).exists() and sums.hold(folder.cards / name):
        incoming.remove_tree(room.root)  # another ingest of this very card was quicker
        return name
    room.force_folders(disk)
    name = _free(folder, name)
    target = folder.cards / name
    disk.rename(room.root, target)
    disk.fsync_folder(folder.cards)
    receipt = dataclasses.replace(receipt, folder=name)
    placing.place(target / receipts.FILE, receipt.to_bytes(), disk=disk)
    placing.discard(target / incoming.MARK)
    return name


def _name(receipt: Receipt) -> str:
    """The day of its last picture, camera and id; two friends who take in one card agree on it."""
    day = (receipt.last or "undated")[:10]
    camera = re.sub(r"\s+", "-", safe_name(receipt.camera))[:40]
    return f"{day}-{camera}-{receipt.card}"


def _free(folder: Folder, name: str) -> str:
    candidate, n = name, 1
    while (folder.cards / candidate).exists():
        n += 1
        candidate = f"{name}-{n}"
    return candidate
