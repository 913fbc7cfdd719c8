"""What a camera is called, from the words of a waypoint.

Its ID if one is written (`trail cam C07`); else its number behind what parts it from others
(`cell cam 5`, `cam 3`; that it is a trail or game camera parts it from none); else its words
(`ridge cam`, or `ridge` behind `cam`). A number that fits one known camera is that camera.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from camsign.errors import UsageError
from camsign.flows.fieldwork.kindwords import BEHIND, is_camera_word
from camsign.flows.fieldwork.waywords import FACING, bearing_at
from camsign.units import Bearing

_OWN_ID = re.compile(r"cam[-_]?\d+[a-z]?", re.I)
_ID = re.compile(r"[a-z]{1,6}[-_]?\d{1,4}[a-z]?", re.I)
_SHORT = re.compile(r"t?c[-_]?\d{1,3}[a-z]?", re.I)
_NUMBER = re.compile(r"#?\d{1,4}[a-d]?", re.I)
_DAY = re.compile(r"\d{4}-\d\d-\d\d|\d{1,2}/\d{1,2}(?:/\d{2,4})?")
_EVERY = frozenset({"trail", "game", "scouting", "the", "my", "a", "our", "no", "number", "id"})
_SIGHT = frozenset((*FACING, "pointing", "points", "aimed", "aim", "watching")) - {"bare", "rubbed"}


def is_short_id(word: str) -> bool:
    """Whether a word is what people paint on a camera: `C07`, `TC-3`."""
    return bool(_SHORT.fullmatch(word))


def facing_in(words: Sequence[str]) -> tuple[Bearing | None, list[str]]:
    """Give where a camera looks, and the words without those that say so."""
    lower = [w.lower() for w in words]
    for i, word in enumerate(lower):
        j = i + 1 + (lower[i + 1 : i + 2] in (["the"], ["due"], ["to"], ["toward"]))
        if word in _SIGHT and (found := bearing_at(lower, j)):
            return found[0], [*words[:i], *words[j + found[1] :]]
    for i in range(len(lower)):
        found = bearing_at(lower, i, led=False)
        if found and lower[i + found[1] : i + found[1] + 1] in (["facing"], ["side"]):
            return found[0], [*words[:i], *words[i + found[1] + 1 :]]
    return None, list(words)


def camera_name(words: Sequence[str], at: int, known: Mapping[str, str]) -> str:
    """Give the name of a camera.

    Args:
        words: of its waypoint's name, without where it looks.
        at: where its camera word stands.
        known: names of cameras in the logbook, by lower case.

    Raises:
        UsageError: nothing tells it from other cameras.
    """
    word = words[at]
    before = [w for w in words[:at] if w.lower() not in _EVERY]
    behind = _till_place([w for w in words[at + 1 :] if not _DAY.fullmatch(w)])
    named = next((w for w in (*before, *behind) if w.lower() in known), None)
    if named:
        return known[named.lower()]
    if _OWN_ID.fullmatch(word):
        return known.get(word.lower(), word)
    number = word.lstrip("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ-_#")
    after = [w for w in behind if w.lower() not in _EVERY]
    written = next((w for w in (*after[:1], *before) if _is_id(w)), None)
    if written:
        return written
    if not number and after and _NUMBER.fullmatch(after[0]):
        number = after[0].lstrip("#")
    cell = ["cell"] if word.lower().startswith("cell") else []
    if number:
        return _numbered([*before, *cell], number, known)
    return _worded([*before, *cell], after, words[at + 1 :])


def _numbered(before: Sequence[str], number: str, known: Mapping[str, str]) -> str:
    """A number alone is a known camera's if it fits just one."""
    if not before:
        fits = {k for k in known if _bare_number(k) == number.lower().lstrip("0")}
        if len(fits) == 1:
            return known[fits.pop()]
    return " ".join([*before, "cam", number])


def _worded(before: Sequence[str], after: Sequence[str], place: Sequence[str]) -> str:
    if before:
        return " ".join([*before, "cam", *after])
    if after:
        return " ".join(after)
    left = [w for w in place if w.lower() not in BEHIND and w.lower() not in _EVERY]
    if not left:
        raise UsageError("a camera without its ID", "write it like cam CAM07")
    return " ".join([*left, "cam"])


def _till_place(words: Sequence[str]) -> list[str]:
    """The words up to one such as `by` or `on`, behind which a place is named."""
    return list(words[: next((i for i, w in enumerate(words) if w.lower() in BEHIND), len(words))])


def _is_id(word: str) -> bool:
    return bool(_ID.fullmatch(word)) and not is_camera_word(word.lower())


def _bare_number(name: str) -> str:
    found = re.fullmatch(r"(?:(?:trail|game)?[- ]?c(?:am(?:era)?)?[-_ #]?)?0*(\d+[a-d]?)", name)
    return found[1] if found else ""
