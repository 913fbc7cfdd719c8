"""The folder in which a card is put together before it gets its name, and what a crash left of one.

`cards/.incoming-<random>/files/…` holds finished files only. A small mark beside them says which
machine's ingest it is; a lock of this machine says whether that one is still at work. Whatever is
not at work and ours is taken over by hash.

Paths in it are safe for every system; the receipt keeps the card's own. Source: Microsoft, "Naming
Files, Paths, and Namespaces" (reserved characters, names and endings).
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import secrets
import threading
import unicodedata
from collections.abc import Callable, Collection, Iterator
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from itertools import chain, count
from pathlib import Path

from filelock import FileLock, Timeout

from camsign.cards import sums
from camsign.errors import REFUSED, CamsignError
from camsign.logbook import placing, receipts
from camsign.logbook.folder import FILES, Folder
from camsign.logbook.inside import RESERVED
from camsign.logbook.placing import Disk
from camsign.logbook.receipts import Receipt
from camsign.logbook.sealed import hash_of
from camsign.systems import remove_tree

PREFIX = ".incoming-"
MARK = receipts.UNFINISHED
MAX_PATH = 150
"""Longest path inside files/ [characters], so that the whole stays below Windows' 260."""

_BANNED = re.compile(r'[<>:"|?*\\/\x00-\x1f\x7f]')


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


@dataclass(frozen=True, slots=True)
class Incoming:
    """A card that is being put together; `lock` is held until it is done or given up.

    `leftovers`: what interrupted ingests left of its files.
    """

    folder: Folder
    disk: Disk
    root: Path
    lock: FileLock
    leftovers: Leftovers = field(default_factory=Leftovers)

    def target(self, name: str) -> Path:
        """Give where the file of this name comes to lie in the card's own tree."""
        target = self.root / FILES / name
        target.parent.mkdir(parents=True, exist_ok=True)
        return target

    def stand(self, receipt: Receipt) -> Receipt:
        """Give the card its name and place its receipt, the one commit point; give that.

        The name is the day of its last picture, camera and id: two friends who take in one card
        agree on it.

        Raises:
            OSError: the disk is full; the next ingest takes over what is there.
        """
        camera = re.sub(r"\s+", "-", safe_name(receipt.camera))[:40]
        whole = f"{(receipt.last or 'undated')[:10]}-{camera}-{receipt.card}"
        cards = self.folder.cards
        if (cards / whole / receipts.FILE).exists() and sums.hold(cards / whole):
            remove_tree(self.root)  # another ingest of this very card was quicker
            return replace(receipt, folder=whole)
        for folder, _, _ in os.walk(self.root, topdown=False):
            self.disk.fsync_folder(Path(folder))
        names = chain([whole], (f"{whole}-{n}" for n in count(2)))
        target = next(cards / name for name in names if not (cards / name).exists())
        self.disk.rename(self.root, target)
        self.disk.fsync_folder(cards)
        receipt = replace(receipt, folder=target.name)
        placing.place(target / receipts.FILE, receipt.to_bytes(), disk=self.disk)
        placing.discard(target / MARK)
        return receipt

    def close(self) -> None:
        """Let go of it, finished or not."""
        _let_go(self.lock)


def start(folder: Folder, disk: Disk, leftovers: Leftovers | None = None) -> Incoming:
    """Start to put a card together, with what was found left of it.

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
        error = CamsignError(
            f"nothing was taken in: {folder.cards} cannot be written to ({e.strerror})",
            "do not wipe the card; make the folder writable or free some space, then run it again",
        )
        error.exit_code = REFUSED
        raise error from e
    except BaseException:
        lock.release()
        raise
    return Incoming(folder, disk, root, lock, leftovers or Leftovers())


def _let_go(lock: FileLock) -> None:
    lock.release()
    with contextlib.suppress(OSError):
        Path(lock.lock_file).unlink(missing_ok=True)


def _lock_path(folder: Folder, token: str) -> Path:
    return folder.cache / f"taking-{token}.lock"


def find_leftovers(folder: Folder, sizes: Collection[int], executor: Executor) -> Leftovers:
    """Find what ingests that this machine did not finish, and that nobody works on, had placed.

    Only files of these sizes [bytes] are hashed, by the executor.
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
        paths = [p for p in files_of(root) if p.stat().st_size in sizes]
        for path, sha256 in zip(paths, executor.map(hash_of, paths), strict=True):
            found.by_hash.setdefault(bytes.fromhex(sha256), []).append(str(path))
    return found


def _token(root: Path, folder: Folder) -> str:
    """Give the token of an unfinished folder of this machine; "" for any other folder.

    One that was killed before its mark stood is known by its lock, which was there first.
    """
    if (root / receipts.FILE).exists():
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


class SafeNames:
    """Gives each path of one card a path that no other path of it has on any system.

    Which one depends only on the order of the paths asked for.
    """

    def __init__(self) -> None:
        self._is_folder: dict[str, bool] = {}

    def path(self, card_path: str) -> str:
        """Give the safe path, with / between its parts, for this path on the card."""
        parts = [safe_name(part) for part in card_path.split("/")]
        if len("/".join(parts)) > MAX_PATH:
            digest = hashlib.sha256(card_path.encode()).hexdigest()[:12]
            parts = ["long", f"{digest}-{safe_name(parts[-1][-60:])}"]
        folder = ""
        for part in parts[:-1]:
            folder = self._free(folder + part, folder=True) + "/"
        return self._free(folder + parts[-1], folder=False)

    def _free(self, path: str, folder: bool) -> str:
        """The path itself if nothing else has it, or with the first number behind its stem."""
        above, slash, name = path.rpartition("/")
        stem, dot, extension = name.rpartition(".")
        if not dot or not stem:
            stem, dot, extension = name, "", ""
        numbered = (f"{above}{slash}{stem}~{n}{dot}{extension}" for n in count(2))
        # Paths that differ by case only are one on some systems.
        taken = self._is_folder
        found = next(
            p
            for p in chain([path], numbered)
            if p.casefold() not in taken or (folder and taken[p.casefold()])
        )
        taken[found.casefold()] = folder
        return found


def safe_name(name: str) -> str:
    """Give one file or folder name that Linux, macOS and Windows all take as it is."""
    safe = _BANNED.sub("_", unicodedata.normalize("NFC", name)).rstrip(". ") or "_"
    if safe.startswith((".tmp-", ".incoming-")) or RESERVED.fullmatch(safe):
        safe = f"_{safe}"
    return safe
