"""One file of a card, from one reading: read, described, placed, measured.

A file is refused with a reason, found in the logbook already, or placed under its name and looked
at. What the stages work with is a `Job`; what becomes of a file is an `Item`, which grows from
stage to stage.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from pathlib import Path

from camsign.flows.intake import companions
from camsign.flows.intake.card_files import CardFile
from camsign.flows.intake.incoming import Incoming
from camsign.flows.intake.known import Known, KnownFrame
from camsign.flows.intake.other_times import FILE_STAMP, OtherTimes
from camsign.flows.intake.read import (
    LARGE,
    READER,
    CardReadError,
    Reader,
    describe,
    pieces_once,
    read_whole,
)
from camsign.flows.intake.result import Ask
from camsign.formats.kinds import CLIPS, HEAD_BYTES, Kind, sniff
from camsign.logbook import let_go, placing
from camsign.logbook.folder import FILES, Folder
from camsign.logbook.inside import OutsideError
from camsign.logbook.placing import DISK, Disk
from camsign.logbook.receipts import Left
from camsign.logbook.records import FrameFacts, Look
from camsign.logbook.sealed import hash_of, hash_pieces
from camsign.systems import is_stub, long_path

_HEAD = max(HEAD_BYTES, 262_144)
_LARGEST_PICTURE = 300_000_000


@dataclass(frozen=True, slots=True)
class Job:
    """The arguments of `camsign.flows.intake.ingest`, what the logbook knows, and one dump's own.

    One dump's own are: by a clip's path on the card, the small picture that goes with it, in
    `smalls`, and in `pairs` by a file's path that of the file whose name it bears and with which it
    may go; the files that were `described` beforehand, by their path; the `room` in which the card
    is put together, None if nothing is written.
    """

    folder: Folder
    executor: Executor
    known: Known
    times: OtherTimes
    camera: str | None = None
    ask: Ask | None = None
    dry_run: bool = False
    accept_refused: bool = False
    progress: Callable[[int, int], None] | None = None
    reader: Reader = READER
    disk: Disk = DISK
    smalls: Mapping[str, CardFile] = field(default_factory=dict)
    pairs: Mapping[str, str] = field(default_factory=dict)
    described: Mapping[str, FrameFacts] = field(default_factory=dict)
    room: Incoming | None = None


@dataclass(frozen=True, slots=True)
class NotTaken:
    """A file that is not taken in, and why. `companion`: it is one, and nobody misses it.
    `unreadable`: the card did not hand it out."""

    left: Left
    companion: bool = False
    unreadable: bool = False


@dataclass(slots=True)
class Item:
    """What became of a file that was described: its row and, once it is placed, its look.

    `before`: what the logbook holds of these bytes already. `worry`: why that copy could not be
    trusted. `mended`: it was put right from this card. `group`: the number of those pictures of the
    dump that say the same of their camera.
    """

    file: CardFile
    row: FrameFacts
    before: KnownFrame | None
    look: Look | None = None
    worry: str = ""
    mended: bool = False
    group: int = 0


def examine(
    job: Job, file: CardFile, pieces: Iterable[bytes] = ()
) -> tuple[Item | NotTaken, bytes]:
    """Read and describe one file, and give its bytes; of one already being read, in `pieces`.

    If the same bytes of it were described beforehand they are not described again.
    """
    try:
        data = b"".join(pieces) or read_whole(job.reader, file.path, file.bytes)
    except CardReadError as e:
        return _not_read(file, e), b""
    file = replace(file, bytes=len(data))
    sha256 = hashlib.sha256(data).hexdigest()
    row = job.described.get(file.card_path)
    if row is None or row.sha256 != sha256:
        beside = job.pairs.get(file.card_path, "")
        if beside and not companions.goes_with(file.card_path, data):
            beside = ""
        what = describe(data, file, sha256, job.times.today, beside)
        if isinstance(what, str):
            return _not_taken(file, what), data
        row = what if what.shown else job.times.fill(what, io.BytesIO(data), _small(job, what))
    return Item(file, row, job.known.frames.get(row.frame)), data


def take(job: Job, file: CardFile, name: str) -> Item | NotTaken:
    """Do all there is to do for one file, whose place in the card's folder would be `files/name`.

    What cannot be looked at stays with a doubt.

    Raises:
        OSError: the logbook's disk is full.
        Damaged: the logbook's disk gives back other bytes than were written.
    """
    item, source = _examine_large(job, file, name) if file.bytes > LARGE else examine(job, file)
    if isinstance(item, NotTaken):
        return item
    if item.before is not None:
        return _known(job, item, item.before, source)
    row = item.row = replace(item.row, file=f"{FILES}/{name}")
    if (room := job.room) is None:
        return item
    kind, path, data = Kind(row.kind), room.target(name), None
    if isinstance(source, bytes):
        data = source
        if left := room.leftovers.take(row.sha256):
            job.disk.rename(left, path)
        else:  # the folders are forced later, all at once
            placing.place(path, data, fsync_folder=False, disk=job.disk)
    if row.beside:
        return item
    from camsign.pixels.see import see
    from camsign.pixels.strip_words import strip_words

    item.look, trouble = see(row.frame, kind, data, path, job.folder.thumbs)
    if item.look and row.shown_from in (None, FILE_STAMP):
        row = job.times.printed(row, strip_words(kind, data, path))
    doubts = (*row.doubts, trouble) if trouble and trouble not in row.doubts else row.doubts
    item.row = replace(row, doubts=doubts)
    return item


def _examine_large(
    job: Job, file: CardFile, name: str
) -> tuple[Item | NotTaken, bytes | Path | None]:
    """Read a large file in pieces. A clip, too long to be held at once, is described by its first
    piece and placed; what is given of it is where, None if nothing is written."""
    try:
        first, pieces = pieces_once(job.reader, file.path, file.bytes)
        if sniff(first[:HEAD_BYTES]) not in CLIPS:
            if file.bytes > _LARGEST_PICTURE:
                return _not_taken(file, f"{file.bytes / 1e6:.0f} MB, but no clip"), None
            return examine(job, file, pieces)
        what = describe(first[:_HEAD], file, "", job.times.today)
        if isinstance(what, str):
            return _not_taken(file, what), None
        if job.room is None:
            placed, sha256 = None, hash_pieces(pieces)
        else:
            placed = job.room.target(name)
            sha256 = placing.place_pieces(placed, pieces, disk=job.disk)
    except CardReadError as e:
        return _not_read(file, e), None
    with Path(placed or long_path(file.path)).open("rb") as clip:
        size = clip.seek(0, os.SEEK_END)
        row = replace(what, frame=sha256[:16], sha256=sha256, bytes=size)
        row = job.times.fill(row, clip, _small(job, row))
    return Item(replace(file, bytes=size), row, job.known.frames.get(row.frame)), placed


def _small(job: Job, row: FrameFacts) -> bytes:
    """The small picture that the camera wrote to go with a clip; nothing without one."""
    if row.kind in CLIPS and (beside := job.smalls.get(row.card_path)):
        with contextlib.suppress(CardReadError):
            return read_whole(job.reader, beside.path, beside.bytes)
    return b""


def _not_read(file: CardFile, e: CardReadError) -> NotTaken:
    why = f"the card does not hand it out ({e.why})"
    return NotTaken(Left(file.card_path, why), unreadable=True)


def _not_taken(file: CardFile, why: str) -> NotTaken:
    by_name = companions.file(file.card_path.rpartition("/")[2])
    companion = by_name or companions.folder(file.card_path)
    return NotTaken(Left(file.card_path, companion or why), bool(companion))


def _known(job: Job, item: Item, before: KnownFrame, source: bytes | Path | None) -> Item:
    """Check the copy that the logbook holds; put it right from the card's bytes or their copy."""
    item.row = replace(item.row, known=True)
    try:
        copy = job.folder.original(before.file)
        item.worry = _worry(copy, item.row.sha256)
        if item.worry and job.room is not None and source and not is_stub(copy):
            _mend(job, copy, source)
            _, card, inner = before.file.split("/", 2)
            let_go.came_back(job.folder.cards / card, [inner])
            item.worry, item.mended = "", True
    except OutsideError as e:  # the logbook may be a friend's
        item.worry = f"the logbook's copy is not in its card's folder ({e.what})"
    if isinstance(source, Path):
        placing.discard(source)  # unless it took the damaged copy's place
    return item


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


def _mend(job: Job, copy: Path, source: bytes | Path) -> None:
    """Let the card's bytes, or the verified copy just placed, take the place of a damaged one."""
    copy.parent.mkdir(parents=True, exist_ok=True)
    with contextlib.suppress(FileNotFoundError):
        placing.make_writable(copy)
    if isinstance(source, bytes):
        placing.place(copy, source, disk=job.disk)
    else:
        job.disk.rename(source, copy)
        job.disk.fsync_folder(copy.parent)
