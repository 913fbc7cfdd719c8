"""Tags of EXIF read as numbers and as text, whatever wrote them; comments in any of their codes."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Mapping
from typing import Any

from camsign.formats.jpeg import decode_bytes

Tags = Mapping[str, Any]
_COMMENT_CODES = {b"ASCII\x00\x00\x00": "utf-8", b"JIS\x00\x00\x00\x00\x00": "iso2022_jp"}
_UNICODE = b"UNICODE\x00"


def number(tags: Tags, key: str) -> float | None:
    """A tag's first value as a finite number, None if it is none."""
    found = numbers(tags, key)
    return found[0] if found else None


def numbers(tags: Tags, key: str) -> list[float | None]:
    """A tag's values as finite numbers; None for each that is none, such as the ratio 0/0."""
    values = getattr(tags.get(key), "values", None)
    return [_finite(value) for value in values] if isinstance(values, list) else []


def _finite(value: Any) -> float | None:
    with contextlib.suppress(TypeError, ValueError, ArithmeticError):
        found = float(value)
        return found if math.isfinite(found) else None
    return None


def text_of(tags: Tags, key: str) -> str:
    """A tag's text as one line."""
    return clean(raw_text(tags, key))


def raw_text(tags: Tags, key: str) -> str:
    """A tag's text as it was written."""
    values = getattr(tags.get(key), "values", "")
    return values if isinstance(values, str) else decode_bytes(_bytes(values))


def _bytes(values: Any) -> bytes:
    if not isinstance(values, list):
        return bytes(values)
    return bytes(value for value in values if isinstance(value, int) and 0 <= value < 256)


def raw_value(tags: Tags, block: bytes, tag: int) -> bytes:
    """A value of the Exif directory as its bytes, found by hand; b"" if it is not there.

    exifread drops UserComment and MakerNote unless it also chews the maker's notes.
    """
    order: Any = "little" if block.startswith(b"II") else "big"
    offset = number(tags, "Image ExifOffset")
    if offset is None or not block.startswith((b"II", b"MM")):
        return b""
    start = int(offset)
    count = int.from_bytes(block[start : start + 2], order)
    for entry in range(start + 2, min(start + 2 + 12 * count, len(block) - 11), 12):
        if int.from_bytes(block[entry : entry + 2], order) == tag:
            size = int.from_bytes(block[entry + 4 : entry + 8], order)
            where = int.from_bytes(block[entry + 8 : entry + 12], order)
            place = entry + 8 if size <= 4 else where
            return block[place : place + size]
    return b""


def user_comment(tags: Tags, block: bytes) -> str:
    """UserComment, or the comment that Windows keeps as UTF-16 (XPComment, 0x9C9C)."""
    raw = raw_value(tags, block, 0x9286)
    order = "little" if block.startswith(b"II") else "big"
    if said := _decode_comment(raw, order) if raw else "":
        return said
    values = getattr(tags.get("Image XPComment"), "values", None)
    wide = _bytes(values) if isinstance(values, list) else b""
    return clean(wide.decode("utf-16-le", errors="replace"))


def _decode_comment(raw: bytes, order: str) -> str:
    code, body = raw[:8], raw[8:]
    if code == _UNICODE:
        return clean(_decode_utf16(body, order))
    if code in _COMMENT_CODES:
        return clean(body.decode(_COMMENT_CODES[code], errors="replace"))
    text = decode_bytes(body if code == bytes(8) else raw).strip("\x00 ")
    binary = sum(not c.isprintable() for c in text) > len(text) // 10
    return "" if binary else clean(text)


def _decode_utf16(body: bytes, order: str) -> str:
    if body.startswith((b"\xff\xfe", b"\xfe\xff")):
        return body.decode("utf-16", errors="replace")
    # Writers disagree whether the file's byte order applies; zeros show where the high bytes are.
    high, low = body[0::2].count(0), body[1::2].count(0)
    little = low > high if low != high else order == "little"
    return body.decode("utf-16-le" if little else "utf-16-be", errors="replace")


def clean(text: str) -> str:
    """One line without control characters, trimmed."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
