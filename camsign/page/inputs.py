"""What a page sends, read into plain values; whatever does not fit is one line."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date
from pathlib import Path, PurePath
from typing import Any

from starlette.requests import Request

from camsign.errors import UsageError
from camsign.units import parse_day

MOST_CHARS = 200


async def body(request: Request) -> dict[str, Any]:
    """Give the JSON object that a page sent; of an empty body an empty one.

    Raises:
        UsageError: it is none.
    """
    text = await request.body()
    try:
        value = json.loads(text) if text else {}
        if b"\\u" in text:  # half of a pair, which no file and no answer can hold
            json.dumps(value, ensure_ascii=False).encode()
    except (ValueError, RecursionError) as e:
        raise UsageError("the page sent something that is no JSON", "load the page again") from e
    if not isinstance(value, dict):
        raise UsageError("the page sent something that is no object", "load the page again")
    return value


def text(sent: Mapping[str, Any], name: str, most: int = MOST_CHARS) -> str | None:
    """Give a text without outer blanks, or None if it is missing or empty.

    Raises:
        UsageError: it is something else, or too long.
    """
    value = sent.get(name)
    if value is None:
        return None
    if not isinstance(value, str):
        raise UsageError(f"{name} is no text", "load the page again")
    if len(value) > most:
        raise UsageError(f"{name} has {len(value)} characters", f"{most} are the most")
    return value.strip() or None


def path(sent: Mapping[str, Any], name: str, most: int) -> Path | None:
    """Give a path, `~` read as the home of whoever it names, or None if it is missing.

    Raises:
        UsageError: it is something else, or `~` names nobody.
    """
    said = text(sent, name, most)
    try:
        return None if said is None else Path(said).expanduser()
    except RuntimeError as e:
        raise UsageError(f"{said} names no home on this machine", "type the whole path") from e


def number(sent: Mapping[str, Any], name: str) -> float | None:
    """Give a finite number, or None if it is missing.

    Raises:
        UsageError: it is something else.
    """
    value = sent.get(name)
    if value is None or value == "":
        return None
    try:
        out = float(value)
    except (TypeError, ValueError) as e:
        raise UsageError(f"{name} {value!r} is no number") from e
    if out != out or out in (float("inf"), float("-inf")):
        raise UsageError(f"{name} is no number")
    return out


def day(sent: Mapping[str, Any], name: str) -> date | None:
    """Give a day such as 2026-03-14, or None. Raises UsageError if it is none."""
    said = text(sent, name)
    return parse_day(said) if said else None


def one_of(sent: Mapping[str, Any], name: str, *words: str) -> str | None:
    """Give one of these words, or None. Raises UsageError for others."""
    said = text(sent, name)
    if said is not None and said not in words:
        raise UsageError(f"{name} {said!r} is none of {', '.join(words)}")
    return said


def file_name(named: Mapping[str, str], usual: str) -> str:
    """Give the name of a file that was sent, as it stands in the address."""
    said = named.get("name", "").replace("\\", "/")
    return PurePath(said).name[:120] or usual
