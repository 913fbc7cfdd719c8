"""A card's receipt: whose it is and how that was known, what came in, what was refused and why.

It is placed last into the card's folder: a folder without one is an ingest that did not finish.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

FILE = "receipt.json"
UNFINISHED = ".taking"
"""A file in the folder of a card that is just being taken in, or whose intake was cut short."""
VERSION = 1
_TEXTS = ("card", "camera", "known_by", "folder", "taken_in", "source")


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
        """Give the file's content, with a sum of it: a bit that flips is never another receipt."""
        held = dataclasses.asdict(self)
        held["sum"] = _sum(held)
        return (json.dumps(held, indent=1, ensure_ascii=False) + "\n").encode()


def read(path: Path) -> Receipt:
    """Read a receipt; one that was written before there were sums has none to fit.

    Raises:
        OSError: it cannot be read.
        ValueError: it is not one, or not what was written.
    """
    try:
        raw = json.loads(path.read_text(encoding="utf-8"))
    except (ValueError, RecursionError) as e:
        raise ValueError(f"{path.name} is damaged ({e})") from e
    if not isinstance(raw, dict):
        raise ValueError(f"{path.name} is damaged: it is no receipt")
    digest = raw.pop("sum", None)
    if digest is not None and digest != _sum(raw):
        raise ValueError(f"{path.name} is damaged: its checksum does not fit")
    try:
        return _receipt(raw)
    except (TypeError, KeyError, AttributeError) as e:
        raise ValueError(f"{path.name} is damaged: {e}") from e


def read_if_whole(path: Path) -> Receipt | None:
    """Read a receipt; None if there is none that is what was written."""
    try:
        return read(path)
    except (OSError, ValueError):
        return None


def _sum(held: Mapping[str, Any]) -> str:
    text = json.dumps(held, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _receipt(raw: dict[str, Any]) -> Receipt:
    known = {f.name for f in dataclasses.fields(Receipt)}
    more = raw.pop("more", {}) | {k: v for k, v in raw.items() if k not in known}
    plain: dict[str, Any] = {k: v for k, v in raw.items() if k in known}
    for name in ("refused", "left", "companions"):
        plain[name] = tuple(Left(x["file"], x["why"]) for x in plain.get(name, []))
    for name in ("serials", "models", "reasons"):
        plain[name] = tuple(plain.get(name, []))
    for name in _TEXTS:
        if not isinstance(plain[name], str):
            raise TypeError(f"{name!r} is {plain[name]!r}")
    datetime.fromisoformat(plain["taken_in"])
    return Receipt(**plain, more=more)
