"""Typed results without the names of places in them, for pages that are shown to others."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

from camsign.flows.handover.rounded import without_places

T = TypeVar("T")
Hidden = Mapping[str, str] | None
"""What each name of a place becomes; None where places may be shown."""


def aliases(areas: Sequence[str], places: Sequence[str], cameras: Sequence[str]) -> dict[str, str]:
    """Give every name of a place another: `area A`, `place 1`, `camera 1`."""
    found = {name: f"area {_letter(i)}" for i, name in enumerate(areas)}
    found |= {name: f"place {i}" for i, name in enumerate(places, 1)}
    return found | {name: f"camera {i}" for i, name in enumerate(cameras, 1)}


def nameless(value: T, names: Hidden) -> T:
    """Give a result in which each of `names` reads as its alias, and no number is a place."""
    if names is None:
        return value
    words = "|".join(re.escape(w) for w in sorted(names, key=len, reverse=True)) or "(?!)"
    found: T = _walk(value, names, re.compile(rf"(?<!\w)(?:{words})(?!\w)", re.IGNORECASE))
    return found


def _walk(value: Any, names: Mapping[str, str], pattern: re.Pattern[str]) -> Any:
    if isinstance(value, str):
        low = {name.lower(): alias for name, alias in names.items()}
        return without_places(pattern.sub(lambda m: low[m[0].lower()], value))
    if isinstance(value, tuple | list):
        return type(value)(_walk(v, names, pattern) for v in value)
    if isinstance(value, dict):
        return {_walk(k, names, pattern): _walk(v, names, pattern) for k, v in value.items()}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        said = {f.name: _walk(getattr(value, f.name), names, pattern)
                for f in dataclasses.fields(value) if f.init}  # fmt: skip
        return dataclasses.replace(value, **said)
    return value


def _letter(i: int) -> str:
    return chr(ord("A") + i) if i < 26 else f"{i + 1}"
