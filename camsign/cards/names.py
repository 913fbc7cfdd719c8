"""Paths of a card made safe for every system, each its own; the receipt keeps the original.

Source: Microsoft, "Naming Files, Paths, and Namespaces" (reserved characters, names and endings).
"""

from __future__ import annotations

import hashlib
import re
import unicodedata

MAX_PATH = 150
"""Longest path inside files/ [characters], so that the whole stays below Windows' 260."""

_BANNED = re.compile(r'[<>:"|?*\\/\x00-\x1f\x7f]')
_RESERVED = re.compile(r"(con|prn|aux|nul|clock\$|(com|lpt)[0-9¹²³])(\..*)?", re.IGNORECASE)


class SafeNames:
    """Gives each path of one card a path that no other path of it has on any system.

    Which one depends only on the order of the paths asked for.
    """

    def __init__(self) -> None:
        self._taken: set[bytes] = set()

    def path(self, card_path: str) -> str:
        """Give the safe path, with / between its parts, for this path on the card."""
        safe = "/".join(safe_name(part) for part in card_path.split("/"))
        if len(safe) > MAX_PATH:
            digest = hashlib.sha256(card_path.encode()).hexdigest()[:12]
            safe = f"long/{digest}-{safe_name(safe.rpartition('/')[2][-60:])}"
        return self._unique(safe)

    def _unique(self, safe: str) -> str:
        stem, dot, extension = safe.rpartition(".")
        if not dot or "/" in extension:
            stem, extension = safe, ""
        candidate, n = safe, 1
        while self._digest(candidate) in self._taken:
            n += 1
            candidate = f"{stem}~{n}{dot and '.'}{extension}" if extension else f"{safe}~{n}"
        self._taken.add(self._digest(candidate))
        return candidate

    @staticmethod
    def _digest(path: str) -> bytes:
        """Few bytes for a path, the same for paths that differ by case only."""
        return hashlib.sha256(path.casefold().encode()).digest()[:10]


def safe_name(name: str) -> str:
    """Give one file or folder name that Linux, macOS and Windows all take as it is."""
    safe = _BANNED.sub("_", unicodedata.normalize("NFC", name)).rstrip(". ") or "_"
    if safe.startswith((".tmp-", ".incoming-")) or _RESERVED.fullmatch(safe):
        safe = f"_{safe}"
    return safe
