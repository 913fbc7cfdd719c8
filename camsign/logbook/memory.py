"""What this machine remembers of a logbook beside its database, so that what is gone can be told.

It lies in the cache: the highest `n` of each writer, the cards that were read, and what a person
said is gone for good. Nothing but warnings hangs on it, and on what receipts say (`knew`).
"""

from __future__ import annotations

import contextlib
import json
import secrets
from collections.abc import Mapping
from typing import Any

from camsign import systems
from camsign.logbook.folder import Folder

LINES, CARDS, ACCEPTED = "journals.json", "cards.json", "accepted.json"
"""Lines by writer; folder and camera by card; how many lines by writer, and cards, are accepted."""


def counts(folder: Folder, name: str) -> dict[str, int]:
    """Give the numbers above 0 that are remembered under a name."""
    return {key: n for key, n in _read(folder, name).items() if isinstance(n, int) and n > 0}


def cards(folder: Folder) -> dict[str, tuple[str, str]]:
    """Give folder and camera of each card that this machine has ever read, by its id."""
    found = {}
    for card, about in _read(folder, CARDS).items():
        if isinstance(about, list) and len(about) == 2 and all(isinstance(x, str) for x in about):
            found[card] = (about[0], about[1])
    return found


def keep(folder: Folder, name: str, said: Mapping[str, Any]) -> None:
    """Keep these beside what is kept under a name; what cannot be is not: it is only a memory."""
    before = _read(folder, name)
    now = before | dict(said)
    if now == before:
        return
    path = folder.cache / name
    temp = path.with_name(f".{name}-{secrets.token_hex(4)}")
    with contextlib.suppress(OSError):
        temp.write_text(json.dumps(now), encoding="utf-8")
        systems.replace(temp, path)


def _read(folder: Folder, name: str) -> dict[str, Any]:
    try:
        kept = json.loads((folder.cache / name).read_text(encoding="utf-8"))
        return dict(kept) if isinstance(kept, dict) else {}
    except (OSError, ValueError, RecursionError):
        return {}
