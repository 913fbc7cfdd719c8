"""One dump while it is taken in, and what is noted of it for its receipt and for the summary."""

from __future__ import annotations

import pickle
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from typing import IO

from camsign.flows.intake.card_files import Dump
from camsign.flows.intake.one_file import Item, Job, NotTaken
from camsign.flows.intake.other_times import PRINTED_ALONE
from camsign.flows.intake.result import CardTaken
from camsign.flows.intake.whose import Whose
from camsign.formats.kinds import Kind
from camsign.logbook.receipts import Left

_MAX_DOUBTS = 40
OTHER_DOUBTS = "other doubts, of many kinds: see each picture"


@dataclass(slots=True)
class Report:
    """One dump: what works on it, and the notes on it.

    `spool`: a file in which `items` wait, so that memory does not grow with the card. `stored`
    holds the frames that are in a card by now.
    `left`: what cannot be taken in, and may be accepted as lost. `undecided`, `unsettled`: pictures
    whose camera is not known, and files that came or changed meanwhile: the next run takes them.
    `card_full`: the card had hardly any room left.
    `heic`: how many pictures of that kind came in; `timeless`, `printed`: how many files have no
    time, or only one read off the strip in the picture.
    `partial`: why what was read is not the whole card, "" if it is.
    """

    job: Job
    dump: Dump
    whose: Whose
    spool: IO[bytes]
    card_full: bool
    companions: list[Left]
    left: list[Left]
    undecided: list[Left] = field(default_factory=list)
    unsettled: list[Left] = field(default_factory=list)
    cards: list[CardTaken] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    doubts: dict[str, tuple[int, str]] = field(default_factory=dict)
    worries: dict[str, tuple[int, str]] = field(default_factory=dict)
    stored: set[str] = field(default_factory=set)
    taken: int = 0
    mended: int = 0
    heic: int = 0
    timeless: int = 0
    printed: int = 0
    partial: str = ""

    @property
    def files(self) -> int:
        """How many files the card holds without companions."""
        return self.taken + len(self.left)

    @property
    def lost(self) -> list[Left]:
        """What was accepted as lost."""
        return self.left if self.job.accept_refused else []

    @property
    def not_taken(self) -> list[Left]:
        """Everything that has no copy and is no companion."""
        return [*self.left, *self.undecided, *self.unsettled]

    @property
    def items(self) -> Iterator[Item]:
        """Give what became of its described files, in order; none may come then."""
        self.spool.seek(0)
        with suppress(EOFError):
            while True:
                yield pickle.load(self.spool)

    def note(self, item: Item | NotTaken) -> None:
        """Note what became of one file, hear what it says of its camera, and keep it."""
        if isinstance(item, NotTaken):
            (self.companions if item.companion else self.left).append(item.left)
            return
        row = item.row
        self.taken += 1
        self.heic += row.kind == Kind.HEIC.value and row.file is not None
        self.mended += item.mended
        self.timeless += row.shown is None
        self.printed += row.shown_from == PRINTED_ALONE
        for doubt in () if row.beside else row.doubts:
            kind = doubt if doubt in self.doubts or len(self.doubts) < _MAX_DOUBTS else OTHER_DOUBTS
            _count(self.doubts, kind, row.card_path)
        if item.worry:
            _count(self.worries, item.worry, row.card_path)
        self.whose.hear(item)
        pickle.dump(item, self.spool)

    def reasons(self) -> list[str]:
        """Say why the card is not safe to wipe; nothing if it is."""
        why = [f"{why}: {_first(n, file)}" for why, (n, file) in self.worries.items()]
        missed = [] if self.job.accept_refused else self.left
        for left in filter(None, (missed, self.undecided, self.unsettled)):
            many = "" if len(left) == 1 else f"{len(left):,} files, the first "
            why.append(f"not taken in: {many}{left[0].file} ({left[0].why})")
        if self.unsettled:
            why.append("run the same command again to take in the rest")
        if self.partial:
            why.append(self.partial)
        if self.job.dry_run:
            why.append("this was a dry run: nothing was copied")
        return why


def _count(counts: dict[str, tuple[int, str]], kind: str, file: str) -> None:
    n, first = counts.get(kind, (0, file))
    counts[kind] = (n + 1, first)


def _first(n: int, file: str) -> str:
    return file if n == 1 else f"{file} and {n - 1} more"
