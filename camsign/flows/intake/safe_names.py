"""Paths of a card made safe for every system, each its own; the receipt keeps the original.

Source: Microsoft, "Naming Files, Paths, and Namespaces" (reserved characters, names and endings).
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Container
from itertools import chain, count

from camsign.logbook.inside import RESERVED

MAX_PATH = 150
"""Longest path inside files/ [characters], so that the whole stays below Windows' 260."""

_BANNED = re.compile(r'[<>:"|?*\\/\x00-\x1f\x7f]')


class _Either:
    """Two sets as one, without copying them."""

    def __init__(self, *sets: set[bytes]) -> None:
        self._sets = sets

    def __contains__(self, item: object) -> bool:
        return any(item in s for s in self._sets)


class SafeNames:
    """Gives each path of one card a path that no other path of it has on any system.

    Which one depends only on the order of the paths asked for.
    """

    def __init__(self) -> None:
        self._files: set[bytes] = set()
        self._folders: set[bytes] = set()

    def path(self, card_path: str) -> str:
        """Give the safe path, with / between its parts, for this path on the card."""
        parts = [safe_name(part) for part in card_path.split("/")]
        if len("/".join(parts)) > MAX_PATH:
            digest = hashlib.sha256(card_path.encode()).hexdigest()[:12]
            parts = ["long", f"{digest}-{safe_name(parts[-1][-60:])}"]
        folder = ""
        for part in parts[:-1]:
            folder = self._free(folder + part, self._files) + "/"
            self._folders.add(_digest(folder[:-1]))
        file = self._free(folder + parts[-1], _Either(self._files, self._folders))
        self._files.add(_digest(file))
        return file

    @staticmethod
    def _free(path: str, taken: Container[bytes]) -> str:
        """The path itself if nothing has it, else with the first number behind its stem."""
        folder, slash, name = path.rpartition("/")
        stem, dot, extension = name.rpartition(".")
        if not dot or not stem:
            stem, dot, extension = name, "", ""
        numbered = (f"{folder}{slash}{stem}~{n}{dot}{extension}" for n in count(2))
        return next(p for p in chain([path], numbered) if _digest(p) not in taken)


def _digest(path: str) -> bytes:
    """Few bytes for a path, the same for paths that differ by case only."""
    return hashlib.sha256(path.casefold().encode()).digest()[:10]


def safe_name(name: str) -> str:
    """Give one file or folder name that Linux, macOS and Windows all take as it is."""
    safe = _BANNED.sub("_", unicodedata.normalize("NFC", name)).rstrip(". ") or "_"
    if safe.startswith((".tmp-", ".incoming-")) or RESERVED.fullmatch(safe):
        safe = f"_{safe}"
    return safe
