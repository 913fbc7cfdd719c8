"""Parquet files that carry a sum of themselves, so that a bit that flipped is never other facts.

The sum stands in the file's own key-value metadata (Apache Parquet, "File metadata"), which every
reader passes over: the SHA-256 of all its bytes with zeros in the sum's place. A file that was
written before there were sums is unsealed and opens as it always did.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable
from pathlib import Path

KEY = "camsign_sum"
BLANK = "0" * 64
_TAIL = 8  # the footer's length in 4 bytes, then PAR1
_MOST = 16 << 20
_PIECE = 1 << 20
_DIGEST = re.compile(rb"[0-9a-f]{64}")
_FLIPPED = 4  # bits of the key


def seal(path: Path) -> None:
    """Put the sum into a file that was written with `KEY` and `BLANK` in its metadata."""
    at = _place(path)
    if at is not None:
        digest = _sum(path, at)
        with path.open("r+b") as f:
            f.seek(at)
            f.write(digest.encode())


def is_whole(path: Path) -> bool | None:
    """Say whether a file is what was written; None if it carries no sum.

    Raises OSError: it cannot be read.
    """
    at = _place(path)
    if at is None:
        return False if _lost_key(path) else None
    with path.open("rb") as f:
        f.seek(at)
        return f.read(len(BLANK)) == _sum(path, at).encode()


def hash_of(path: Path) -> str:
    """Give a file's SHA-256 in hex, in bounded memory. Raises OSError: it cannot be read."""
    with path.open("rb") as f:
        return hash_pieces(iter(lambda: f.read(_PIECE), b""))


def is_hash_of(sha256: str, path: Path) -> bool:
    """Say whether a file is there with just these bytes; one that cannot be read is not."""
    try:
        return hash_of(path) == sha256
    except OSError:
        return False


def hash_pieces(pieces: Iterable[bytes]) -> str:
    """Give the SHA-256 in hex of bytes that come in pieces."""
    digest = hashlib.sha256()
    for piece in pieces:
        digest.update(piece)
    return digest.hexdigest()


def _lost_key(path: Path) -> bool:
    """Say whether a sum stands in the file behind a key in which bits flipped."""
    with path.open("rb") as f:
        f.seek(max(0, path.stat().st_size - _MOST))
        data = f.read()
    behind = (match.start() - 2 for match in _DIGEST.finditer(data))
    return any(_is_nearly(data[max(0, end - len(KEY)) : end]) for end in behind)


def _is_nearly(found: bytes) -> bool:
    wanted = KEY.encode()
    if len(found) != len(wanted):
        return False
    return sum((a ^ b).bit_count() for a, b in zip(found, wanted, strict=True)) <= _FLIPPED


def _place(path: Path) -> int | None:
    """Give the byte at which the sum stands: in the footer, behind its key and two bytes."""
    size = path.stat().st_size
    with path.open("rb") as f:
        f.seek(max(0, size - _TAIL))
        tail = f.read(_TAIL)
        if len(tail) < _TAIL or tail[4:] != b"PAR1":
            return None
        length = min(int.from_bytes(tail[:4], "little") + _TAIL, size, _MOST)
        f.seek(size - length)
        at = f.read(length).rfind(KEY.encode())
    if at < 0:
        return None
    place = size - length + at + len(KEY) + 2
    return place if place + len(BLANK) <= size else None


def _sum(path: Path, at: int) -> str:
    """Give the sum of a file's bytes with zeros in the sum's own place."""
    digest, left = hashlib.sha256(), at
    with path.open("rb") as f:
        while left and (piece := f.read(min(left, _PIECE))):
            left -= len(piece)
            digest.update(piece)
        f.seek(len(BLANK), 1)
        digest.update(BLANK.encode())
        while piece := f.read(_PIECE):
            digest.update(piece)
    return digest.hexdigest()
