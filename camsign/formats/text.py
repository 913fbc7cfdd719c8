"""Text files as they come: byte-order marks, UTF-16, old Windows encodings."""

from __future__ import annotations

import codecs
import math
import re
from pathlib import Path

from camsign.errors import InputRefused, UsageError
from camsign.units import read_angle

MAX_TEXT_BYTES = 100_000_000
"""A table or a GeoJSON larger than this is refused [bytes]."""

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)
_PLAIN = str.maketrans("′″º", "'\"°")
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def read_bytes(path: Path, limit: int = MAX_TEXT_BYTES) -> bytes:
    """The whole file.

    Raises InputRefused: it is missing, unreadable, a folder, empty or larger than `limit` [bytes].
    """
    try:
        if path.is_dir():
            raise InputRefused(f"{path} is a folder", "name the file in it")
        size = path.stat().st_size
        if size == 0:
            raise InputRefused(f"{path} is empty", "export it again")
        if size > limit:
            told = f"{size / 1e6:.0f} MB, more than the {limit / 1e6:.0f} MB that are taken at once"
            raise InputRefused(f"{path} has {told}", "export it in parts")
        return path.read_bytes()
    except OSError as err:
        raise unreadable(path, err) from err


def unreadable(path: Path, err: OSError) -> InputRefused:
    """What to tell people when the system does not hand a file out."""
    if isinstance(err, FileNotFoundError):
        return InputRefused(f"there is no file {path}", "check the name")
    told = f"{path} cannot be read: {err.strerror or err}"
    return InputRefused(told, "check the name and permissions")


def decode(raw: bytes) -> tuple[str, str]:
    """Text, and a doubt about its encoding ("" if it is Unicode).

    Byte-order marks first, then UTF-16 by its zero bytes, UTF-8, and at last Windows-1252.
    """
    for mark, encoding in _MARKS:
        if raw.startswith(mark):
            return _lenient(raw, encoding)
    high, low = raw[:2000:2].count(0), raw[1:2000:2].count(0)
    if max(high, low) > len(raw[:2000]) // 8:
        return _lenient(raw, "utf-16-le" if low > high else "utf-16-be")
    try:
        return raw.decode("utf-8"), ""
    except UnicodeDecodeError:
        doubt = "it is not UTF-8 and was read as Windows-1252: check accents and umlauts"
        return raw.decode("cp1252", errors="replace"), doubt


def plain_number(text: str | None) -> float | None:
    """A finite decimal number with a point, as XML and CSV of machines write it; else None."""
    if text is None or not _NUMBER.fullmatch(text.strip()):
        return None
    number = float(text)
    return number if math.isfinite(number) else None


def degrees(text: str | None, letters: str) -> float | None:
    """An angle [deg] as a number, or as `N44 36.600`, `44.62N`, `44°37'12"N`; else None.

    `letters`: "NS" or "EW", the letters that it may have.
    """
    number = plain_number(text)
    if number is not None or text is None:
        return number
    plain = text.upper().translate(_PLAIN).strip()
    if ":" in plain or not plain.replace("°", "").isascii():
        return None
    try:
        value, letter = read_angle(plain, text)
    except UsageError:
        return None
    return value if letter and letter in letters else None


def _lenient(raw: bytes, encoding: str) -> tuple[str, str]:
    try:
        return raw.decode(encoding), ""
    except UnicodeDecodeError:
        doubt = f"it holds bytes that are no {encoding.upper()}; they were replaced"
        return raw.decode(encoding, errors="replace"), doubt
