"""SHA256SUMS as coreutils' `sha256sum -c` reads it, and the id of a card."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path

from camsign.logbook.sealed import hash_of

FILE = "SHA256SUMS"
ID_DIGITS = 12


def card_id(digests: Iterable[bytes]) -> str:
    """Give the id of a card: 12 hex digits of the SHA-256 of its files' sorted SHA-256s.

    It depends on nothing but the bytes of the taken and known files, each counted once, so that
    two people who take in the same card agree.
    """
    whole = hashlib.sha256()
    for digest in sorted(set(digests)):
        whole.update(digest)
    return whole.hexdigest()[:ID_DIGITS]


def said(folder: Path) -> dict[str, str]:
    """Give what a folder's SHA256SUMS says, by path, as far as it can be read."""
    try:
        lines = (folder / FILE).read_bytes().decode().split("\n")
    except (OSError, ValueError):
        return {}
    return {path: sha for sha, _, path in (line.partition("  ") for line in lines if line)}


def hold(card: Path) -> bool:
    """Say whether every file that a card's SHA256SUMS names is there with its bytes."""
    try:
        lines = (card / FILE).read_text(encoding="utf-8").splitlines()
        pairs = (text.split("  ", 1) for text in lines)
        return bool(lines) and all(hash_of(card / path) == digest for digest, path in pairs)
    except (OSError, ValueError):
        return False
