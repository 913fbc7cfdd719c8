"""The clock rule of a deployment, as people say it: one spelling, checked in one place."""

from __future__ import annotations

from camsign.errors import UsageError
from camsign.formats.shown import read_offset


def checked_rule(text: str) -> str:
    """Give a clock rule in its one spelling.

    Raises:
        UsageError: it is none of `hung`, `local`, `±HH:MM`.
    """
    word = text.strip().lower().replace("−", "-")
    if word in ("hung", "local"):
        return word
    minutes = read_offset(word)
    if minutes is None or word == "z":
        raise UsageError(f"{text!r} is no clock rule", "say hung, local, or an offset like -05:00")
    return offset_text(minutes)


def offset_text(minutes: int) -> str:
    """Write an offset from UTC as `±HH:MM`."""
    sign = "-" if minutes < 0 else "+"
    return f"{sign}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"
