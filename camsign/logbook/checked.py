"""What a line of the journal may hold: one table of its edits, checked before any is replayed.

A line may come from a friend, a newer version, a hand or a bad disk. One that fits here can be
replayed; any other costs itself alone. Kinds of edits, things and fields that are not known here
pass: a newer version said them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from functools import lru_cache
from typing import Any

from camsign.errors import UsageError
from camsign.logbook.shapes import to_area, to_line
from camsign.logbook.things import THINGS

Check = Callable[[Any], bool]

_STAMP = re.compile(
    r"([0-2]\d{3}-\d\d-\d\d)T([01]\d|2[0-3]):[0-5]\d:[0-5]\d\.\d{3}Z-\d{5}", re.ASCII
)
_MOST = 2**31 - 1
_MOST_LINES = 10**9
# A year mistyped long ago (0205) stands in old lines; beyond these, reckoning by days overflows.
_YEARS = range(2, 9998)


def is_text(value: Any) -> bool:
    """A text that can be kept: no half of a pair of surrogates."""
    if not isinstance(value, str):
        return False
    return value.isascii() or not any("\ud800" <= c <= "\udfff" for c in value)


def is_stamp(value: Any) -> bool:
    """A stamp of the hybrid logical clock, of an instant that there is."""
    found = _STAMP.fullmatch(value) if isinstance(value, str) else None
    return found is not None and _is_in_calendar(found[1])


@lru_cache(1024)
def _is_in_calendar(day: str) -> bool:
    try:
        date.fromisoformat(day)
    except ValueError:
        return False
    return True


def is_whole(low: int, high: int) -> Check:
    """A whole number in a range; true is none."""
    return lambda value: (
        isinstance(value, int | float)
        and not isinstance(value, bool)
        and low <= value <= high
        and value == int(value)
    )


def is_number(value: Any) -> bool:
    """A finite number; true is none."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return abs(value) < 1e300 and math.isfinite(value)


def is_texts(value: Any) -> bool:
    """A list of texts."""
    return isinstance(value, list) and all(is_text(x) for x in value)


def _is_instant(value: Any) -> bool:
    return isinstance(value, str) and _parses(datetime.fromisoformat, value)


def _is_day(value: Any) -> bool:
    return isinstance(value, str) and _parses(date.fromisoformat, value)


def _parses(read: Callable[[str], date], text: str) -> bool:
    try:
        return read(text).year in _YEARS
    except ValueError:
        return False


def _is_note_of_time(value: Any) -> bool:
    """A time that nothing is reckoned from: receivers without a clock write that of year 1."""
    try:
        return isinstance(value, str) and bool(datetime.fromisoformat(value).astimezone(UTC))
    except (ValueError, OverflowError):
        return False


def _is_shape(value: Any) -> bool:
    for read in (to_area, to_line):
        try:
            read(value)
        except (UsageError, LookupError, TypeError, ValueError, AttributeError):
            continue
        return True
    return False


def _is_table(value: Any) -> bool:
    return isinstance(value, dict)


def _is_pins(value: Any) -> bool:
    return isinstance(value, list) and all(
        isinstance(p, list) and len(p) == 4 and all(is_number(x) for x in p) for p in value
    )


# By DuckDB type of a field, or by what it holds beyond that.
_CELLS: dict[str, Check] = {
    "VARCHAR": is_text,
    "DOUBLE": is_number,
    "INTEGER": is_whole(-_MOST, _MOST),
    "BOOLEAN": lambda value: isinstance(value, bool),
    "TIMESTAMP": _is_instant,
    "DATE": _is_day,
    "VARCHAR[]": is_texts,
    "JSON": lambda value: True,
    "note of time": _is_note_of_time,
    "shape": _is_shape,
    "pins": _is_pins,
    "table": _is_table,
}
_FIELDS = {
    thing: {f.name: _CELLS[f.holds or f.type] for f in kind.fields if f.type}
    for thing, kind in THINGS.items()
}


def _is_fields(thing: str, fields: Any) -> bool:
    known = _FIELDS.get(thing, {})
    return isinstance(fields, dict) and all(
        is_text(name) and (value is None or name not in known or known[name](value))
        for name, value in fields.items()
    )


# A key that ends with ? may be missing or null.
_TAG: dict[str, Check] = {
    "what": is_text,
    "buck?": is_text,
    "species?": is_text,
    "sex?": is_text,
    "stage?": is_text,
    "count?": is_whole(0, _MOST),
    "travel_deg?": is_number,
    "sure?": is_text,
    "own?": _CELLS["BOOLEAN"],
}
_EDITS: dict[str, dict[str, Check]] = {
    "set": {"set": is_text, "id": is_text, "to": _is_table},
    "tag": {"tag": lambda value: _misfit(_TAG, value) is None, "frames": is_texts},
    "untag": {"untag?": is_text, "frames": is_texts},
    "undo": {"undo": is_texts},
}
ENVELOPE: dict[str, Check] = {
    "v": is_whole(1, _MOST),
    "writer": is_text,
    "n": is_whole(1, _MOST_LINES),
    "at": is_stamp,
    "act": is_text,
    "what": is_text,
    "edits": lambda value: isinstance(value, list) and all(isinstance(e, dict) for e in value),
}


def check_envelope(line: Any) -> None:
    """Check what every line holds, whatever its edits say.

    Raises ValueError: something is missing or no such thing.
    """
    if (key := _misfit(ENVELOPE, line)) is not None:
        raise ValueError(f"left out: {_words(line, key)}")


def check_edit(edit: Mapping[str, Any]) -> None:
    """Check one edit of a line of this version. Raises ValueError: it cannot be replayed."""
    kind = next((k for k in _EDITS if k in edit), None)
    if kind is None:
        return
    key = _misfit(_EDITS[kind], edit)
    if key is None and kind == "set" and not _is_fields(edit["set"], edit["to"]):
        key = "to"
    if key is not None:
        raise ValueError(f"left out: what it says cannot be ({_words(edit, key)})")


def _misfit(table: Mapping[str, Check], value: Any) -> str | None:
    """Give the first key of a table whose value does not fit; None if all do."""
    if not isinstance(value, dict):
        return next(iter(table))
    for key, check in table.items():
        name = key.removesuffix("?")
        if name != key and value.get(name) is None:
            continue
        if name not in value or not check(value[name]):
            return name
    return None


def _words(value: Any, key: str) -> str:
    if not isinstance(value, dict) or key not in value:
        return f"it has no {key!r}"
    text = ascii(value[key])
    return f"{key!r} is {text if len(text) <= 60 else text[:59] + '…'}"
