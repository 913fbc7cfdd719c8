"""What camsign says to people, held against the units of their logbook."""

from __future__ import annotations

import re

SCRIPT = re.compile(r"<(script|style|code)\b.*?</\1>", re.S)
"""What is no prose; a path keeps the spelling that the disk has."""
SHAPE = re.compile(
    r' (?:d|viewBox|transform|points|href|src|data-[\w-]+|id|value|placeholder)="[^"]*"'
)
ISO = re.compile(r"\b\d{4}-\d\d-\d\d\b")
CLOCK_24 = re.compile(r"\b(?:[01]\d|2[0-3]):[0-5]\d\b(?! [AP]M)")
CLOCK_12 = re.compile(r"\b\d{1,2}:\d\d [AP]M\b")
METRIC_UNITS = re.compile(r"\d(?:&nbsp;|\s)?(?:m|cm|km|mm|ha|meters?|hectares?|kilometers?)\b")
IMPERIAL_UNITS = re.compile(r"\d(?:&nbsp;|\s)?(?:yd|ft|mi|acres?|yards?|miles?|inches)\b")
BARE_BEARING = re.compile(r"(?<![(\d])(?<!°, )(?<!to )\b\d{1,3}°(?!\d|'| [NSEW]\b)")


def shown(html: str) -> str:
    """Give what a page's reader, or a screen reader, is told."""
    return re.sub(r"<[a-z/!][^>]*>", " ", SHAPE.sub("", SCRIPT.sub(" ", html)))


TYPED = re.compile(r"--[a-z][\w-]* \S+")
"""What a reader is told to type has one form for all."""


def faults(text: str, imperial: bool) -> list[str]:
    """Give each place at which a page does not speak its reader's language."""
    rules = [ISO, BARE_BEARING]
    rules += [CLOCK_24, METRIC_UNITS] if imperial else [CLOCK_12, IMPERIAL_UNITS]
    found = (text[max(0, m.start() - 40) : m.end() + 20] for r in rules for m in r.finditer(text))
    return [" ".join(one.split()) for one in found]
