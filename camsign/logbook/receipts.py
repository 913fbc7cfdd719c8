"""A card's receipt: whose it is and how that was known, what came in, what was refused and why.

It is placed last into the card's folder: a folder without one is an ingest that did not finish.
"""

from __future__ import annotations

import dataclasses
import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

FILE = "receipt.json"
VERSION = 1


@dataclass(frozen=True, slots=True)
class Left:
    """A file that was not taken in, by its path on the card, and why."""

    file: str
    why: str


@dataclass(frozen=True, slots=True)
class Receipt:
    """What receipt.json holds. taken_in is UTC; first and last are what the camera showed."""

    card: str
    camera: str
    known_by: str
    folder: str
    taken_in: str
    source: str
    files: int
    new: int
    known: int
    refused: tuple[Left, ...] = ()
    left: tuple[Left, ...] = ()
    companions: tuple[Left, ...] = ()
    serials: tuple[str, ...] = ()
    models: tuple[str, ...] = ()
    first: str | None = None
    last: str | None = None
    safe_to_wipe: bool = False
    reasons: tuple[str, ...] = ()
    program: str = ""
    version: int = VERSION
    more: dict[str, Any] = field(default_factory=dict)

    def to_bytes(self) -> bytes:
        """Give the file's content."""
        return (json.dumps(dataclasses.asdict(self), indent=1, ensure_ascii=False) + "\n").encode()


def read(path: Path) -> Receipt:
    """Read a receipt.

    Raises:
        ValueError: it is not one.
    """
    raw = json.loads(path.read_text(encoding="utf-8"))
    known = {f.name for f in dataclasses.fields(Receipt)}
    more = raw.pop("more", {}) | {k: v for k, v in raw.items() if k not in known}
    plain: dict[str, Any] = {k: v for k, v in raw.items() if k in known}
    for name in ("refused", "left", "companions"):
        plain[name] = tuple(Left(x["file"], x["why"]) for x in plain.get(name, []))
    for name in ("serials", "models", "reasons"):
        plain[name] = tuple(plain.get(name, []))
    try:
        return Receipt(**plain, more=more)
    except TypeError as e:
        raise ValueError(f"not a receipt: {e}") from e
