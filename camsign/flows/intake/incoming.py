"""The folder in which a card is put together before it gets its name, and what a crash left of one.

`cards/.incoming-<random>/files/…` holds finished files only. A small mark beside them says which
machine's ingest it is; a lock of this machine says whether that one is still at work. Whatever is
not at work and ours is taken over by hash.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import secrets
import threading
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from filelock import FileLock, Timeout

from camsign.errors import REFUSED, CamsignError, Damaged
from camsign.logbook import placing, receipts
from camsign.logbook.folder import FILES, Folder
from camsign.logbook.placing import Disk
from camsign.logbook.sealed import hash_of

PREFIX = ".incoming-"
MARK = ".taking"


@dataclass(frozen=True, slots=True)
class Incoming:
    """A card that is being put together; `lock` is held until it is done or given up."""

    root: Path
    lock: FileLock

    @property
    def files(self) -> Path:
        """The card's own tree."""
        return self.root / FILES

    def place(self, name: str, data: bytes, disk: Disk) -> None:
        """Place one file; the folders are forced later, all at once.

        Raises:
            OSError: the disk is full.
            Damaged: the disk gave back other bytes.
        """
        target = self.files / name
        target.parent.mkdir(parents=True, exist_ok=True)
        placing.place(target, data, fsync_folder=False, disk=disk)

    def place_pieces(self, name: str, pieces: Iterable[bytes], disk: Disk) -> str:
        """Place a long file piece by piece; give its SHA-256 in hex. Raises as `place` does."""
        target = self.files / name
        target.parent.mkdir(parents=True, exist_ok=True)
        return place_pieces(target, pieces, disk)

    def take_over(self, name: str, placed: Path, disk: Disk) -> None:
        """Give a file that an earlier, interrupted ingest had placed its place in this one."""
        target = self.files / name
        target.parent.mkdir(parents=True, exist_ok=True)
        disk.rename(placed, target)

    def drop(self, name: str) -> None:
        """Take a placed file away again: its bytes turned out to be there already."""
        placing.discard(self.files / name)

    def force_folders(self, disk: Disk) -> None:
        """Force the entries of every folder of the tree to the disk."""
        for folder, _, _ in os.walk(self.root, topdown=False):
            disk.fsync_folder(Path(folder))

    def close(self) -> None:
        """Let go of it, finished or not."""
        _let_go(self.lock)


def start(folder: Folder, disk: Disk) -> Incoming:
    """Start to put a card together.

    Raises:
        CamsignError: the logbook cannot be written to.
    """
    token = secrets.token_hex(6)
    root = folder.cards / f"{PREFIX}{token}"
    lock = FileLock(_lock_path(folder, token), is_singleton=False)
    lock.acquire(timeout=5)
    try:
        (root / FILES).mkdir(parents=True)
        mark = json.dumps({"writer": folder.writer, "token": token}).encode()
        placing.place(root / MARK, mark, read_only=False, disk=disk)
    except OSError as e:
        remove_tree(root)
        _let_go(lock)
        raise _unwritable(folder, e) from e
    except BaseException:
        lock.release()
        raise
    return Incoming(root, lock)


def _unwritable(folder: Folder, e: OSError) -> CamsignError:
    error = CamsignError(
        f"nothing was taken in: {folder.cards} cannot be written to ({e.strerror})",
        "do not wipe the card; make the folder writable or free some space, then run it again",
    )
    error.exit_code = REFUSED
    return error


def _let_go(lock: FileLock) -> None:
    lock.release()
    with contextlib.suppress(OSError):
        Path(lock.lock_file).unlink(missing_ok=True)


def _lock_path(folder: Folder, token: str) -> Path:
    return folder.cache / f"taking-{token}.lock"


def _stands(root: Path) -> bool:
    return (root / receipts.FILE).exists()


def place_pieces(target: Path, pieces: Iterable[bytes], disk: Disk) -> str:
    """Place a file that is too long to be held at once; as `placing.place`, piece by piece."""
    temp = target.with_name(f"{placing.TEMP_PREFIX}{secrets.token_hex(6)}")
    digest = hashlib.sha256()
    try:
        with temp.open("xb") as f:
            for piece in pieces:
                digest.update(piece)
                f.write(piece)
            f.flush()
            placing.force(f.fileno())
        _compare(temp, digest.hexdigest())
        placing.make_read_only(temp)
        disk.rename(temp, target)
    except BaseException:
        placing.discard(temp)
        raise
    return digest.hexdigest()


def _compare(path: Path, sha256: str) -> None:
    if hasattr(os, "posix_fadvise"):
        with path.open("rb") as f:
            os.posix_fadvise(f.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
    if hash_of(path) != sha256:
        raise Damaged(
            f"{path.parent} gave back other bytes than were written",
            "do not wipe the card; check this disk and try another",
        )


@dataclass(slots=True)
class Leftovers:
    """What interrupted ingests of this machine had placed already, by hash; safe for threads."""

    by_hash: dict[bytes, list[str]] = field(default_factory=dict)
    roots: list[tuple[Path, FileLock]] = field(default_factory=list)
    _guard: threading.Lock = field(default_factory=threading.Lock)

    def take(self, sha256: str) -> Path | None:
        """Give the file with these bytes, to one caller only."""
        with self._guard:
            paths = self.by_hash.get(bytes.fromhex(sha256))
            return Path(paths.pop()) if paths else None

    @property
    def bytes(self) -> int:
        """The size of the files that were found [bytes]."""
        return sum(Path(p).stat().st_size for paths in self.by_hash.values() for p in paths)

    def drop(self, is_stored: Callable[[str], bool]) -> None:
        """Remove what stands in a card by now, by a test of the frame (16 hex digits)."""
        for digest, paths in self.by_hash.items():
            if is_stored(digest.hex()[:16]):
                for path in paths:
                    placing.discard(Path(path))

    def close(self) -> None:
        """Let go of the locks."""
        for _, lock in self.roots:
            _let_go(lock)
        self.roots.clear()


def find_leftovers(folder: Folder) -> Leftovers:
    """Find the folders of ingests that this machine did not finish and that nobody works on.

    Their files are not hashed yet: see `files_of`, `note`.
    """
    found = Leftovers()
    if not folder.cards.is_dir():
        return found
    for root in sorted(p for p in folder.cards.iterdir() if p.is_dir()):
        token = _token(root, folder)
        if not token:
            continue
        lock = FileLock(_lock_path(folder, token), is_singleton=False)
        try:
            lock.acquire(timeout=0)
        except Timeout:
            continue  # at work right now
        found.roots.append((root, lock))
    return found


def _token(root: Path, folder: Folder) -> str:
    """Give the token of an unfinished folder of this machine; "" for any other folder.

    One that was killed before its mark stood is known by its lock, which was there first.
    """
    if _stands(root):
        placing.discard(root / MARK)
        return ""
    token = root.name.removeprefix(PREFIX)
    if token != root.name and _lock_path(folder, token).exists():
        return token
    try:
        mark = json.loads((root / MARK).read_text(encoding="utf-8"))
        return str(mark["token"]) if mark["writer"] == folder.writer else ""
    except (OSError, ValueError, KeyError, TypeError):
        return ""


def files_of(root: Path) -> Iterator[Path]:
    """Every finished file in an unfinished folder."""
    for folder, _, names in os.walk(root / FILES):
        yield from (Path(folder) / n for n in names if not n.startswith(placing.TEMP_PREFIX))


def note(leftovers: Leftovers, path: Path, sha256: str) -> None:
    """Put a file of an unfinished folder under its hash."""
    leftovers.by_hash.setdefault(bytes.fromhex(sha256), []).append(str(path))


def sweep(leftovers: Leftovers) -> list[tuple[Path, int]]:
    """Remove unfinished folders whose files are all taken over; give the others, with counts."""
    waiting = []
    for root, _ in leftovers.roots:
        count = sum(1 for _ in files_of(root))
        if count:
            waiting.append((root, count))
        else:
            remove_tree(root)
    return waiting


def remove_tree(root: Path) -> None:
    """Remove a folder of this room's making, read-only files too."""
    for folder, _, names in os.walk(root, topdown=False):
        for name in names:
            placing.discard(Path(folder) / name)
        with contextlib.suppress(OSError):
            Path(folder).rmdir()
