"""The second copy as it is written: its sums, its files, and what may take the place of what."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from pathlib import Path

from camsign.cards import sums
from camsign.errors import InputRefused
from camsign.flows.upkeep.originals import BESIDE, Original, damage_beside
from camsign.logbook import journal, placing, receipts, settings
from camsign.logbook.cardfacts import FRAMES
from camsign.logbook.folder import Folder
from camsign.logbook.inside import inside, is_plain
from camsign.logbook.let_go import SMALL
from camsign.logbook.sealed import hash_of, is_hash_of, is_whole
from camsign.pixels.stays_shown import SHOWN

EARLIER = "earlier"
"""The folder of a copy in which settings and maps are kept as they were before they changed."""
_PIECE = 1 << 20


class Copy:
    """A second copy. `sums`: the SHA-256 of each file in it, by its name below the copy."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.sums = sums_of(root)
        self._written = dict(self.sums)
        self._folders: set[Path] = set()
        self._sweep(root)

    def read(self, name: str) -> bytes | None:
        """Give a file's bytes, None if it is not there."""
        try:
            return inside(self.root, name).read_bytes()
        except FileNotFoundError:
            return None

    def holds(self, one: Original) -> bool:
        """Say whether an original is there; what no sum speaks of yet is read (a cut-short run)."""
        path = inside(self.root, one.name)
        try:
            if path.stat().st_size != one.bytes:
                return False
        except OSError:
            return False
        if one.name not in self.sums and hash_of(path) == one.sha256:
            self.sums[one.name] = one.sha256
        return self.sums.get(one.name) == one.sha256

    def holds_bytes(self, name: str, data: bytes) -> bool:
        """Say whether a small file is there with just these bytes."""
        if self.read(name) != data:
            return False
        self.sums[name] = hashlib.sha256(data).hexdigest()
        return True

    def check(self) -> tuple[int, list[str]]:
        """Read every file again; give how many there are, and which are not as they were written.

        Those lose their sum, so that they are copied anew.
        """
        every = sorted(self.sums.items())
        bad = [name for name, sha in every if not is_hash_of(sha, inside(self.root, name))]
        for name in bad:
            del self.sums[name]
        return len(every), bad

    def open(self, changed: Iterable[str]) -> None:
        """Take the files that will be replaced out of the sums on the disk, before they are."""
        for name in changed:
            self.sums.pop(name, None)
        if self._written.keys() - self.sums.keys():
            self._write_sums()

    def put(self, name: str, data: bytes) -> None:
        """Place a small file."""
        path = self._ready(name)
        placing.place(path, data, read_only=False, fsync_folder=False)
        self.sums[name] = hashlib.sha256(data).hexdigest()

    def put_pieces(self, name: str, pieces: Iterable[bytes]) -> None:
        """Place a file of any length, read-only."""
        if name in self._written:  # it is there with other bytes
            self.open([name])
        self.sums[name] = placing.place_pieces(self._ready(name), pieces)

    def close(self) -> None:
        """Force every folder that got a file to the disk, then write the sums."""
        for path in sorted(self._folders, reverse=True):
            placing.DISK.fsync_folder(path)
        if self.sums != self._written or not (self.root / sums.FILE).exists():
            self._write_sums()

    def _ready(self, name: str) -> Path:
        path = inside(self.root, name)
        path.parent.mkdir(parents=True, exist_ok=True)
        for above in path.parents:
            if above in self._folders:
                break
            self._folders.add(above)
            self._sweep(above)
            if above == self.root:
                break
        if path.exists():
            placing.make_writable(path)
        return path

    def _sweep(self, folder: Path) -> None:
        """Remove what a run that was killed left half-written, which no sum speaks of."""
        for path in folder.glob(f"{placing.TEMP_PREFIX}*"):
            name = path.relative_to(self.root).as_posix()
            if name not in self.sums and path.is_file() and not path.is_symlink():
                placing.discard(path)

    def _write_sums(self) -> None:
        text = "".join(f"{sha}  {name}\n" for name, sha in sorted(self.sums.items()))
        placing.place(self.root / sums.FILE, text.encode(), read_only=False)
        self._written = dict(self.sums)


def sums_of(place: Path) -> dict[str, str]:
    """Give what a second copy says of itself: the SHA-256 of each file by its name."""
    return {n: sha for n, sha in sums.said(place).items() if len(sha) == 64 and is_plain(n)}


def checked(path: Path, sha256: str) -> Iterator[bytes]:
    """Give a file's bytes in pieces, and at the end refuse them if they are not what they must be.

    Raises:
        InputRefused: they are not; raised behind the last piece.
        OSError: it cannot be read.
    """
    digest = hashlib.sha256()
    with path.open("rb") as f:
        while piece := f.read(_PIECE):
            digest.update(piece)
            yield piece
    if digest.hexdigest() != sha256:
        raise InputRefused("its bytes were changed", "camsign verify tells more")


def words_of(folder: Folder, copy: Copy, left: list[str]) -> Iterator[tuple[str, bytes]]:
    """Give settings, journals and maps as they shall be in the copy; what gives way is kept."""
    text = (folder.root / settings.FILE).read_bytes()
    yield settings.FILE, text
    yield from _earlier(copy, settings.FILE, text)
    for path in journal.files(folder)[0]:
        yield from _journal(path, copy)
    maps = folder.root / "maps"
    for path in sorted(maps.iterdir()) if maps.is_dir() else ():
        if not path.is_file() or path.name.startswith("."):
            continue
        if not is_plain(path.name):
            left.append(f"maps/{path.name}: give it a plain name")
            continue
        data = path.read_bytes()
        yield f"maps/{path.name}", data
        yield from _earlier(copy, f"maps/{path.name}", data)


def _earlier(copy: Copy, name: str, data: bytes) -> Iterator[tuple[str, bytes]]:
    before = copy.read(name)
    if before is not None and before != data:
        yield f"{EARLIER}/{name}-{hashlib.sha256(before).hexdigest()[:8]}", before


def _journal(path: Path, copy: Copy) -> Iterator[tuple[str, bytes]]:
    """A journal only grows: one that does not go on from the copy's stands beside that one."""
    name = f"journal/{path.name}"
    data = path.read_bytes()
    data = data[: data.rfind(b"\n") + 1]  # a line without its end was never acknowledged
    before = copy.read(name)
    if before and before.startswith(data):
        data = before
    elif before and not data.startswith(before):
        digest = hashlib.sha256(before).hexdigest()[:8]
        yield f"journal/{path.stem}-{digest}.jsonl", before
    yield name, data


def facts_of(home: Path, copy: Copy, left: list[str]) -> Iterator[tuple[str, bytes]]:
    """Give what lies beside a card's originals; of a card whose facts are damaged nothing."""
    name = f"cards/{home.name}"
    try:
        _refuse_damaged(home)
        bad = {found.file: found for found in damage_beside(home)}
        left += [f"{file}: {found.what}; {found.cure}" for file, found in bad.items()]
        small = (p.relative_to(home).as_posix() for p in sorted(home.glob(f"{SMALL}/*.jpg")))
        for file in (*BESIDE, *small, receipts.FILE):
            path = home / file
            if not path.is_file() or f"{name}/{file}" in bad:
                continue
            if path.suffix == ".parquet" and is_whole(path) is False:
                left.append(f"{name}/{file}: is damaged; camsign look makes it again")
                continue
            data = path.read_bytes()
            yield f"{name}/{file}", _grown(copy, f"{name}/{file}", data)
    except (OSError, ValueError, InputRefused) as e:
        left.append(f"{name}: {e}")


def _refuse_damaged(home: Path) -> None:
    named = sums_of(home)
    changed = named.get(FRAMES) not in (None, hash_of(home / FRAMES))
    if not named or changed or is_whole(home / FRAMES) is False:
        raise InputRefused("what is written of this card is damaged", "camsign verify tells more")


def _grown(copy: Copy, name: str, data: bytes) -> bytes:
    """Give shown.txt with the lines of both, in their order; anything else as it is."""
    before = copy.read(name) if name.endswith(f"/{SHOWN}") else None
    if not before or data.startswith(before):
        return data
    lines = dict.fromkeys([*before.splitlines(), *data.splitlines()])
    return b"".join(line + b"\n" for line in lines)
