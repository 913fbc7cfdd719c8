"""Words of others made fit for a terminal: file names, comments, names from a handheld.

A terminal obeys escape codes, and some characters turn the order of those around them: a file name
could write over what camsign says. Such characters are shown as their numbers instead.
Source of the classes: Unicode Standard Annex 44 (general categories), Annex 9 (bidi controls).
"""

from __future__ import annotations

import re
import unicodedata

# Controls (Cc), format characters (Cf, bidi controls among them), separators of lines, surrogates.
# The joiners U+200C and U+200D shape letters and emoji and stay.
_UNFIT = frozenset({"Cc", "Cf", "Zl", "Zp", "Cs"})
_KEPT = frozenset("\u200c\u200d")
_PLAIN = re.compile(r"[\x20-\x7e]*")


def on_screen(text: str, keep: str = "") -> str:
    r"""Give text in which nothing steers a terminal; what would is written as \x1b or \u202e.

    `keep` names characters to leave, such as a line's end inside a cell of CSV.
    """
    if _PLAIN.fullmatch(text):
        return text
    return "".join(c if c in keep or _is_fit(c) else _number(c) for c in text)


def in_json(text: str) -> str:
    r"""Give JSON text in which nothing steers a terminal: the same value, written with \uNNNN."""
    if _PLAIN.fullmatch(text):
        return text
    return "".join(c if c in "\n" or _is_fit(c) else _escape(c) for c in text)


def _is_fit(c: str) -> bool:
    return " " <= c <= "~" or c in _KEPT or unicodedata.category(c) not in _UNFIT


def _number(c: str) -> str:
    code = ord(c)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}"


def _escape(c: str) -> str:
    """The JSON escape of one character, in two halves where it needs them (RFC 8259, 7)."""
    units = c.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[i : i + 2].hex()}" for i in range(0, len(units), 2))
