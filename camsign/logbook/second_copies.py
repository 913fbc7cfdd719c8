"""Second copies of a logbook: where this machine put them, and when.

It is kept in the user's config folder and not in the cache, which may be deleted at any time; nor
in the logbook, since a friend's machine sees other disks.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from camsign import systems
from camsign.logbook import placing
from camsign.logbook.folder import Folder, config_home
from camsign.logbook.inside import folder_name
from camsign.units import counted

_DAY_S = 86_400


@dataclass(frozen=True, slots=True)
class SecondCopy:
    """One second copy: its folder, when it was brought up to date last (UTC), what was left out."""

    place: str
    at: datetime
    left: int = 0


def _path(folder: Folder) -> Path:
    name = f"{folder_name(folder.settings.id)}-{folder.path_hash}.json"
    return config_home() / "backups" / name


def known(folder: Folder) -> list[SecondCopy]:
    """Give the second copies that this machine made, the latest first."""
    try:
        kept = json.loads(_path(folder).read_text(encoding="utf-8"))
        found = [
            SecondCopy(str(place), datetime.fromisoformat(one["at"]), int(one["left"]))
            for place, one in kept.items()
        ]
    except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError):
        return []
    return sorted((c for c in found if c.at.tzinfo), key=lambda c: c.at, reverse=True)


def note(folder: Folder, copy: SecondCopy) -> None:
    """Remember a second copy. Raises OSError: the config folder cannot be written."""
    every = {c.place: c for c in known(folder)} | {copy.place: copy}
    kept = {place: {"at": c.at.isoformat(), "left": c.left} for place, c in every.items()}
    path = _path(folder)
    path.parent.mkdir(parents=True, exist_ok=True)
    placing.place(path, json.dumps(kept, indent=1).encode(), read_only=False)


def words(folder: Folder, now: datetime | None = None, new: bool = False) -> str:
    """Say in one line how old the latest second copy is, and what to do.

    `now`: the present instant by default; `new`: something just came in that is in no copy yet.
    """
    copies = known(folder)
    if not copies:
        disk = systems.other_disk()
        return f"This logbook has no backup. Make one: camsign backup {disk} (your other disk)"
    last = copies[0]
    days = max(0, int(((now or datetime.now(UTC)) - last.at).total_seconds() // _DAY_S))
    age = "today" if days == 0 else "yesterday" if days == 1 else f"{days} days ago"
    said = f"Last backup {age}, in {last.place}"
    if last.left:
        said += f", without {counted(last.left, 'file')}"
    if new:
        return f"{said}; these pictures are not in it yet: camsign backup"
    return f"{said}."
