"""Originals whose bytes a person let go of: which, and the small pictures that stay of them.

A card's let-go.txt has a line for each: a sum of the line (16 hex digits of the SHA-256 of all
behind it), the original's SHA-256, that of its small picture, and its path. It is placed before
any bytes go, and a file that it names may still be there. Its facts, its look and its line in
SHA256SUMS stay as they were.
"""

from __future__ import annotations

import hashlib
import re
import threading
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from camsign.logbook import placing
from camsign.logbook.folder import FILES
from camsign.logbook.inside import is_plain

FILE = "let-go.txt"
_HASH = re.compile(r"[0-9a-f]{64}")
_guard = threading.Lock()
SMALL = "small"
"""The folder of a card that keeps the small pictures."""


@dataclass(frozen=True, slots=True)
class LetGo:
    """One original that was let go: its path below the card, its hash, its small picture's."""

    file: str
    sha256: str
    small: str


def small_path(card: Path, sha256: str) -> Path:
    """Give where the small picture of an original lies."""
    return card / SMALL / f"{sha256[:16]}.jpg"


def read(card: Path) -> dict[str, LetGo]:
    """Give what was let go of in a card's folder, by path; lines that are damaged are left out."""
    return {p[3]: LetGo(p[3], p[1], p[2]) for whole, p in _lines(card) if whole}


def damaged(card: Path) -> set[str]:
    """Give the words of the lines that are damaged; most of a line's hashes and path is right."""
    return {word for whole, p in _lines(card) if not whole for word in p if word}


def _lines(card: Path) -> Iterator[tuple[bool, list[str]]]:
    """Yield whether a line is whole, and its words."""
    try:
        text = (card / FILE).read_bytes().decode(errors="replace")
    except OSError:
        return
    for line in text.split("\n"):
        p = line.split("  ", 3)
        yield len(p) == 4 and p[0] == _sum("  ".join(p[1:])) and _is_right(*p[1:]), p


def _is_right(sha256: str, small: str, file: str) -> bool:
    """Say whether a line leads nowhere else: a friend's line may have its sum and yet be forged."""
    hashes = _HASH.fullmatch(sha256) and _HASH.fullmatch(small)
    return bool(hashes) and is_plain(file) and file.startswith(f"{FILES}/")


def _sum(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def note(card: Path, gone: Iterable[LetGo]) -> None:
    """Place a card's let-go.txt anew with just these lines; the file goes when there are none.

    Raises OSError: the folder cannot be written.
    """
    lines = [f"{g.sha256}  {g.small}  {g.file}" for g in gone]
    text = "".join(f"{_sum(line)}  {line}\n" for line in lines)
    if text:
        placing.place(card / FILE, text.encode(), read_only=False)
    else:
        (card / FILE).unlink(missing_ok=True)
        placing.DISK.fsync_folder(card)


def came_back(card: Path, files: Iterable[str]) -> None:
    """Note that originals are there again: they are missed from now on if they go.

    Raises OSError: the folder cannot be written.
    """
    with _guard:
        gone = read(card)
        back = [gone.pop(file) for file in files if file in gone]
        if back:
            note(card, gone.values())
        for one in back:
            placing.discard(small_path(card, one.sha256))


def small_of(original: Path, frame: str) -> Path | None:
    """Give the small picture that was kept of an original whose bytes were let go, if there is one.

    It lay anywhere below its card's `files`; `frame`: 16 hex digits.
    """
    for above in original.parents:
        if above.name == FILES and (path := small_path(above.parent, frame)).is_file():
            return path
    return None
