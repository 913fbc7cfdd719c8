"""Paths of a card made safe for every system, each its own; the receipt keeps the original.

Source: Microsoft, "Naming Files, Paths, and Namespaces" (reserved characters, names and endings).
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from itertools import chain, count

from camsign.logbook.inside import RESERVED

MAX_PATH = 150
"""Longest path inside files/ [characters], so that the whole stays below Windows' 260."""

_BANNED = re.compile(r'[<>:"|?*\\/\x00-\x1f\x7f]')


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
