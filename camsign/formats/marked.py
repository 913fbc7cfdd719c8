"""How a thing that camsign wrote into a file is known again when the file comes back.

A thing carries its id and a check of all that was said of it. Unchanged words and place mean that
nobody touched it since; a changed one still says which thing it is. Where a device drops what it
does not know, the mark at the end of the words, such as `[s-3f9c2a17b04e 1a2b3c4d]`, is left.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

CHECK, WORDS = "check", "words_check"
"""The cells with the check of what the cells say, and of what the words say."""
ROUNDED = "rounded_m"
"""The cell that says to how many meters a place was rounded."""
ROUNDED_WORDS = "place rounded to 1 km"
IDS = {"sign": "s", "deployment": "d", "place_id": "p", "area_id": "a", "walk": "w",
       "sit": "t"}  # fmt: skip
"""The cells that hold the id of a thing, and the letter it begins with."""

Position = tuple[float, float]
"""Latitude and longitude [deg]."""

_MARK = re.compile(r"\s*\[([sdpawt]-[0-9a-f]{8,12}) ([0-9a-f]{8})\]\s*")
# The place is checked by itself, to some 10 m: receivers keep no more digits.
_BESIDE = frozenset({CHECK, WORDS, "lat", "lon", "name", "description"})


@dataclass(frozen=True, slots=True)
class Mark:
    """Which thing something in a file is; whether it, and whether its words, are as written."""

    id: str
    untouched: bool
    same_words: bool


def cell_text(value: Any) -> str:
    """Give a value as the text that every format gives back for it."""
    return value.strip() if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def check_of(cells: Mapping[str, Any], where: Sequence[Position]) -> str:
    """Give the check of what cells say of a thing and its places [deg]: eight hex digits."""
    said = {k: cell_text(v) for k, v in cells.items() if k not in _BESIDE and v is not None}
    parts = [f"{k}={v}" for k, v in sorted(said.items()) if v]
    return _digits([*parts, *_rounded(where)])


def words_check(name: str, text: str, where: Sequence[Position] = ()) -> str:
    """Give the check of a thing's words, and of its places [deg] where no cells say them."""
    return _digits([" ".join(name.split()), " ".join(text.split()), *_rounded(where)])


def sealed(
    cells: Mapping[str, Any], name: str, text: str, where: Sequence[Position]
) -> dict[str, Any]:
    """Give cells with both checks among them."""
    kept = {k: v for k, v in cells.items() if v is not None and v != ""}
    return {**kept, WORDS: words_check(name, text), CHECK: check_of(kept, where)}


def marked_text(thing: str, name: str, text: str, where: Sequence[Position]) -> str:
    """Give a thing's words with its mark behind them."""
    return f"{text} [{thing} {words_check(name, text, where)}]".strip()


def without_mark(text: str) -> str:
    """Give words without the mark."""
    return _MARK.sub(" ", text).strip()


def mark_of(
    cells: Mapping[str, str], name: str, text: str, where: Sequence[Position]
) -> Mark | None:
    """Give which thing something is, by its cells or by the mark in its words; None if neither."""
    found, plain = _MARK.search(text), without_mark(text)
    if CHECK in cells:
        made = next((cells[k] for k in IDS if cells.get(k)), "")
        same = cells.get(WORDS) == words_check(name, plain)
        return Mark(made, same and cells[CHECK] == check_of(cells, where), same) if made else None
    if found is None:
        return None
    same = found[2] == words_check(name, plain, where)
    return Mark(found[1], same, same)


def is_rounded(cells: Mapping[str, str], text: str) -> bool:
    """Whether the place was rounded before the thing was handed on."""
    return bool(cells.get(ROUNDED)) or ROUNDED_WORDS in text


def _digits(parts: Sequence[str]) -> str:
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:8]


def _rounded(where: Sequence[Position]) -> list[str]:
    return [f"{lat:.4f},{lon:.4f}" for lat, lon in where]
