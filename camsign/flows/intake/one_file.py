"""One file of a card, from one reading: hashed, described, placed, looked at."""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import BinaryIO

from camsign.cards.sums import is_stub
from camsign.flows.intake import companions, describe
from camsign.flows.intake.card_files import CardFile, long_path
from camsign.flows.intake.describe import Described, NotTaken
from camsign.flows.intake.incoming import Incoming, Leftovers
from camsign.flows.intake.known import KnownFrame, KnownFrames
from camsign.flows.intake.other_times import Beside, from_stamp, timed
from camsign.flows.intake.read import LARGE, CardReadError, Reader, pieces_once, read_whole
from camsign.formats.kinds import CLIPS, HEAD_BYTES, sniff
from camsign.logbook import placing
from camsign.logbook.folder import FILES, Folder
from camsign.logbook.inside import OutsideError
from camsign.logbook.placing import Disk
from camsign.logbook.receipts import Left
from camsign.logbook.records import FrameFacts, Look
from camsign.logbook.sealed import hash_of, hash_pieces

UNREADABLE = "the card does not hand it out"
"""How the reason begins when a file could not be read."""

_HEAD = max(HEAD_BYTES, 262_144)
_LARGEST_PICTURE = 300_000_000


@dataclass(frozen=True, slots=True)
class Bench:
    """What the work on every file of a dump shares.

    `incoming` is None when nothing is written. `patterns` find times in file names; `tz` is the
    logbook's zone. `smalls`: by a clip's path on the card, the small picture that goes with it;
    `clips` the reverse.
    """

    folder: Folder
    reader: Reader
    disk: Disk
    known: KnownFrames
    leftovers: Leftovers
    incoming: Incoming | None
    today: date
    patterns: tuple[re.Pattern[str], ...]
    tz: str
    smalls: Mapping[str, CardFile]
    clips: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a file: a row and a look, or why it was not taken.

    `companion`: what it is if it is not missed. `known_as`: the camera under which the logbook
    holds these bytes already. `worry`: why the copy that the logbook holds could not be trusted.
    `mended`: it was put right from this card.
    """

    file: CardFile
    row: FrameFacts | None = None
    look: Look | None = None
    left: Left | None = None
    companion: str = ""
    known_as: str | None = None
    worry: str = ""
    mended: bool = False

    @property
    def unreadable(self) -> bool:
        """Whether the card did not hand the file out."""
        return self.left is not None and self.left.why.startswith(UNREADABLE)


def take(bench: Bench, file: CardFile, name: str) -> Outcome:
    """Do all there is to do for one file, whose place in the card's folder would be `files/name`.

    Raises:
        OSError: the logbook's disk is full.
        Damaged: the logbook's disk gives back other bytes than were written.
    """
    if file.bytes > LARGE:
        return _take_long(bench, file, name)
    try:
        data = read_whole(bench.reader, file.path, file.bytes)
    except CardReadError as e:
        return _unreadable(file, e)
    return _take_bytes(bench, replace(file, bytes=len(data)), name, data)


def _take_bytes(bench: Bench, file: CardFile, name: str, data: bytes) -> Outcome:
    what = describe.describe(data, file.card_path)
    if isinstance(what, NotTaken):
        return _not_taken(file, what)
    what = _timed(bench, file, what, io.BytesIO(data))
    sha256 = hashlib.sha256(data).hexdigest()
    before = bench.known.get(sha256[:16])
    if before is not None:
        return _known(bench, file, sha256, what, before, data)
    if bench.incoming is not None:
        placed = bench.leftovers.take(sha256)
        if placed is not None:
            bench.incoming.take_over(name, placed, bench.disk)
        else:
            bench.incoming.place(name, data, bench.disk)
    return _seen(bench, file, _row(bench, file, sha256, name, what), what, data)


def examine(reader: Reader, file: CardFile, today: date) -> FrameFacts | None:
    """Read one file only to learn whose card it is; None if it is no picture or long or unreadable.

    Nothing is placed. The file's own turn comes later.
    """
    if file.bytes > LARGE:
        return None
    try:
        data = read_whole(reader, file.path, file.bytes)
    except CardReadError:
        return None
    what = describe.describe(data, file.card_path)
    if isinstance(what, NotTaken):
        return None
    return describe.row(hashlib.sha256(data).hexdigest(), file, None, False, what, today)


def _unreadable(file: CardFile, e: CardReadError) -> Outcome:
    why = f"{UNREADABLE} ({e.why})"
    return Outcome(file, left=Left(file.card_path, why))


def _not_taken(file: CardFile, what: NotTaken) -> Outcome:
    by_name = companions.file(file.card_path.rpartition("/")[2])
    companion = by_name or companions.folder(file.card_path)
    return Outcome(file, left=Left(file.card_path, companion or what.why), companion=companion)


def _row(
    bench: Bench, file: CardFile, sha256: str, name: str | None, what: Described
) -> FrameFacts:
    """The row of a file that is placed under `name`, or of one that the logbook holds already."""
    stored = None if name is None else f"{FILES}/{name}"
    row = describe.row(sha256, file, stored, name is None, what, bench.today)
    return replace(from_stamp(row), beside=bench.clips.get(file.card_path))


def _timed(bench: Bench, file: CardFile, what: Described, clip: BinaryIO | None) -> Described:
    if what.exif.shown is not None:
        return what
    name, small = file.card_path.rpartition("/")[2], b""
    if what.kind in CLIPS and (beside := bench.smalls.get(file.card_path)):
        with contextlib.suppress(CardReadError):
            small = read_whole(bench.reader, beside.path, beside.bytes)
    return timed(what, Beside(name, bench.patterns, bench.tz, file.bytes, clip, small))


def _seen(
    bench: Bench, file: CardFile, row: FrameFacts, what: Described, data: bytes | None
) -> Outcome:
    if bench.incoming is None or row.file is None or row.beside:
        return Outcome(file, row)
    from camsign.pixels.see import see

    path = bench.incoming.root / row.file
    look, trouble = see(row.frame, what.kind, data, path, bench.folder.thumbs)
    return Outcome(file, _doubted(row, trouble) if trouble else row, look)


def _doubted(row: FrameFacts, doubt: str) -> FrameFacts:
    return row if doubt in row.doubts else replace(row, doubts=(*row.doubts, doubt))


def _known(
    bench: Bench, file: CardFile, sha256: str, what: Described, before: KnownFrame, data: bytes
) -> Outcome:
    row = _row(bench, file, sha256, None, what)
    copy, worry = _copy(bench, before, sha256)
    if worry and copy is not None and bench.incoming is not None and not is_stub(copy):
        _mend(copy, data, bench.disk)
        return Outcome(file, row, known_as=before.camera, mended=True)
    return Outcome(file, row, known_as=before.camera, worry=worry)


def _copy(bench: Bench, before: KnownFrame, sha256: str) -> tuple[Path | None, str]:
    """Give where the logbook's own copy lies, and why it cannot stand for the card's; "" if it can.

    The path comes from the logbook, perhaps a friend's: one that leads elsewhere is None.
    """
    try:
        copy = bench.folder.original(before.file)
    except OutsideError as e:
        return None, f"the logbook's copy is not in its card's folder ({e.what})"
    return copy, _worry(copy, sha256)


def _worry(copy: Path, sha256: str) -> str:
    """Say why the logbook's own copy cannot stand for the card's; "" if its bytes are right."""
    try:
        if is_stub(copy):
            return "the logbook's copy is not on this machine"
        return "" if hash_of(copy) == sha256 else "the logbook's copy is damaged"
    except FileNotFoundError:
        return "the logbook's copy is missing"
    except OSError as e:
        return f"the logbook's copy cannot be read ({e.strerror})"


def _mend(copy: Path, data: bytes, disk: Disk) -> None:
    copy.parent.mkdir(parents=True, exist_ok=True)
    with contextlib.suppress(FileNotFoundError):
        placing.make_writable(copy)
    placing.place(copy, data, disk=disk)


def _take_picture(bench: Bench, file: CardFile, name: str, pieces: Iterator[bytes]) -> Outcome:
    """Take a picture that is uncommonly large, or say that no picture is that large."""
    if file.bytes > _LARGEST_PICTURE:
        return _not_taken(file, NotTaken(f"{file.bytes / 1e6:.0f} MB, but no clip"))
    return _take_bytes(bench, file, name, b"".join(pieces))


def _take_long(bench: Bench, file: CardFile, name: str) -> Outcome:
    """Take a file that is too long to be held at once, if it is a clip."""
    try:
        first, pieces = pieces_once(bench.reader, file.path, file.bytes)
        if sniff(first[:HEAD_BYTES]) not in CLIPS:
            return _take_picture(bench, file, name, pieces)
        what = describe.describe(first[:_HEAD], file.card_path)
        if isinstance(what, NotTaken):
            return _not_taken(file, what)
        if bench.incoming is None:
            sha256 = hash_pieces(pieces)
        else:
            sha256 = bench.incoming.place_pieces(name, pieces, bench.disk)
    except CardReadError as e:
        return _unreadable(file, e)
    before = bench.known.get(sha256[:16])
    placed = None if bench.incoming is None else bench.incoming.files / name
    with Path(placed or long_path(file.path)).open("rb") as clip:
        file = replace(file, bytes=clip.seek(0, os.SEEK_END))
        what = _timed(bench, file, what, clip)
    if before is None:
        return _seen(bench, file, _row(bench, file, sha256, name, what), what, None)
    copy, worry = _copy(bench, before, sha256)
    row = _row(bench, file, sha256, None, what)
    mended = bool(worry) and copy is not None and placed is not None and not is_stub(copy)
    if mended and copy is not None and placed is not None:
        _put_back(copy, placed, bench.disk)
    elif bench.incoming is not None:
        bench.incoming.drop(name)
    worry = "" if mended else worry
    return Outcome(file, row, known_as=before.camera, worry=worry, mended=mended)


def _put_back(copy: Path, placed: Path, disk: Disk) -> None:
    """Let the verified copy just placed take the place of a damaged one."""
    copy.parent.mkdir(parents=True, exist_ok=True)
    with contextlib.suppress(FileNotFoundError):
        copy.chmod(0o600)
    disk.rename(placed, copy)
    disk.fsync_folder(copy.parent)
