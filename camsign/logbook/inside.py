"""No path that a logbook names leads out of its own folder: one check for all of them.

A logbook may come from a friend, so a path in its files (frames.parquet, receipts, the journal,
logbook.toml) is data and is never joined to a folder unseen. The rules of every system count at
once, since a logbook written here is opened there.
Source: Microsoft, "Naming Files, Paths, and Namespaces" (reserved characters, names and endings).
"""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

from camsign.errors import Damaged

RESERVED = re.compile(
    r"(con|prn|aux|nul|conin\$|conout\$|clock\$|(com|lpt)[0-9¹²³]) *(\..*)?", re.IGNORECASE
)
"""Names that are devices on Windows, whatever their ending."""

_BANNED = re.compile(r"[:\\\x00-\x1f\x7f\ud800-\udfff]")
_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}")


class OutsideError(Damaged):
    """A logbook names a path that does not stay in the folder where it belongs."""


def is_plain(file: object) -> bool:
    """Say whether a text can only be a path downwards, parts joined by /, on every system."""
    if not isinstance(file, str) or _BANNED.search(file):
        return False
    return all(part.strip(" .") and not RESERVED.fullmatch(part) for part in file.split("/"))


def inside(home: Path, file: object) -> Path:
    """Give the path of `file` (its parts joined by /) below `home`; it need not exist.

    Raises OutsideError: it leads elsewhere, by its words or by a link on the way.
    """
    if is_plain(file):
        path = home / str(file)
        if leads_inside(home, path):
            return path
    raise OutsideError(
        f"{home} holds a path that leads out of it ({file!r})",
        "it was not followed; do not trust this copy of the logbook",
    )


def leads_inside(home: Path, path: Path) -> bool:
    """Say whether a path below `home` is still below it once every link is followed."""
    try:
        real, top = path.resolve(), home.resolve()
    except (OSError, RuntimeError, ValueError):  # links in a ring
        return False
    return real != top and real.is_relative_to(top)


def folder_name(said: str) -> str:
    """Give a text that may name a folder: itself, or its hash if it could lead elsewhere."""
    if _ID.fullmatch(said) and not RESERVED.fullmatch(said):
        return said
    return hashlib.sha256(said.encode("utf-8", "replace")).hexdigest()[:12]
