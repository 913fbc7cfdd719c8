"""A file is placed, not written: after any crash it is either whole under its name, or not there.

temp file in the target folder → fsync → read back from the disk and compare → rename → fsync the
folder → read-only. `Disk` is the few calls this needs, so that tests can stand in a failing one.
"""

from __future__ import annotations

import errno
import hashlib
import math
import os
import secrets
import shutil
import stat
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from camsign import systems
from camsign.errors import Damaged
from camsign.logbook.sealed import hash_pieces

TEMP_PREFIX = ".tmp-"
_REFUSED = systems.UNKNOWN_CALL | {errno.EPERM, errno.EACCES}
UNFORCED = (
    "this disk does not say when files are safe on it; wait a minute, or eject it, before a card is"
    " wiped or the power goes"
)
UNLOCKED = "this disk does not let files be made read-only: nothing keeps other programs from them"
unpromised: set[str] = set()
"""What the disks of this run do not promise, in words; told once at the end."""
_PIECE = 262_144  # read back so many bytes at a time, since small buffers are used again


class Disk:
    """The system's file calls as placing uses them; a test overrides one to make it fail."""

    def write(self, path: Path, data: bytes) -> None:
        """Write a new file and force it to the disk."""
        with path.open("xb") as f:
            f.write(data)
            f.flush()
            force(f.fileno())

    def read_back(self, path: Path) -> Iterator[bytes]:
        """Read the file again, from the disk where the system lets go of its page cache."""
        with path.open("rb", buffering=0) as f:
            if hasattr(os, "posix_fadvise"):
                os.posix_fadvise(f.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
            while piece := f.read(_PIECE):
                yield piece

    def rename(self, source: Path, target: Path) -> None:
        """Give the file its name; a scanner that holds it for a moment (Windows) is waited for."""
        systems.replace(source, target)

    def fsync_folder(self, folder: Path) -> None:
        """Force the folder's own entries to the disk."""
        with _promised(UNFORCED, _REFUSED):
            systems.flush_folder(folder)


DISK = Disk()


def force(handle: int) -> None:
    """Force an open file to the disk; one that knows no such call is noted in `unpromised`.

    Raises OSError: the disk is full or broken.
    """
    with _promised(UNFORCED, systems.UNKNOWN_CALL):
        systems.flush(handle)


@contextmanager
def _promised(words: str, refusals: frozenset[int]) -> Iterator[None]:
    try:
        yield
    except OSError as e:
        if e.errno not in refusals:
            raise
        unpromised.add(words)


def place(
    target: Path,
    data: bytes,
    *,
    read_only: bool = True,
    fsync_folder: bool = True,
    disk: Disk = DISK,
) -> None:
    """Put `data` under the name `target`, whole or not at all.

    Its folder exists; a file already there is replaced. `read_only` takes the write permission
    away at the end; `fsync_folder` is False when many files follow and the caller forces the
    folder once at the end.

    Raises:
        Damaged: what came back from the disk is not what was written.
        OSError: the disk is full, or the folder is not writable. The target is as it was.
    """
    with beside(target) as temp:
        disk.write(temp, data)
        if not _same(disk.read_back(temp), data):
            raise _other_bytes(temp)
        if read_only:
            make_read_only(temp)
        disk.rename(temp, target)
    if fsync_folder:
        disk.fsync_folder(target.parent)


def place_pieces(target: Path, pieces: Iterable[bytes], *, disk: Disk = DISK) -> str:
    """Place a file that is too long to be held at once, read-only; give its SHA-256 in hex.

    The caller forces the folder. Raises as `place` does.
    """
    digest = hashlib.sha256()
    with beside(target) as temp:
        with temp.open("xb") as f:
            for piece in pieces:
                digest.update(piece)
                f.write(piece)
            f.flush()
            force(f.fileno())
        if hash_pieces(disk.read_back(temp)) != digest.hexdigest():
            raise _other_bytes(temp)
        make_read_only(temp)
        disk.rename(temp, target)
    return digest.hexdigest()


@contextmanager
def beside(target: Path) -> Iterator[Path]:
    """Give a name for a temp file beside its target; it goes if it does not get the target's."""
    temp = target.with_name(f"{TEMP_PREFIX}{secrets.token_hex(6)}")
    try:
        yield temp
    except BaseException:
        discard(temp)
        raise


def adopt(temp: Path, target: Path, *, read_only: bool = True, disk: Disk = DISK) -> None:
    """Place a file that another library wrote beside its target: force, rename, force folder."""
    with temp.open("rb+") as f:
        force(f.fileno())
    if read_only:
        make_read_only(temp)
    disk.rename(temp, target)
    disk.fsync_folder(target.parent)


def free_bytes(path: Path) -> float:
    """Give how much room there is where a folder lies [bytes]; inf where its disk does not say.

    Some FUSE and network file systems answer zero for all there is of them.

    Raises OSError: the folder is not there.
    """
    usage = shutil.disk_usage(path)
    return usage.free if usage.total else math.inf


def make_read_only(path: Path) -> None:
    """Take write permission from everyone, where the disk knows permissions."""
    with _promised(UNLOCKED, _REFUSED):
        path.chmod(path.stat().st_mode & ~(stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH))


def make_writable(path: Path) -> None:
    """Give the owner write permission again, where the disk knows permissions."""
    with _promised(UNLOCKED, _REFUSED):
        path.chmod(0o600)


def discard(path: Path) -> None:
    """Remove a temp file if it is there, read-only or not."""
    with suppress(OSError):
        make_writable(path)
        path.unlink()


def _other_bytes(temp: Path) -> Damaged:
    return Damaged(
        f"{temp.parent} gave back other bytes than were written",
        "do not wipe the card; check this disk and try another",
    )


def _same(pieces: Iterable[bytes], data: bytes) -> bool:
    at = 0
    for piece in pieces:
        if not data.startswith(piece, at):
            return False
        at += len(piece)
    return at == len(data)
