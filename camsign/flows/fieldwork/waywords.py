"""The words that say which way: `going NE`, `from N`, `facing S`, `on the N side of the tree`.

Of a rub, words that name the bare side are kept as the bare side, and his travel is the opposite
(`camsign.sign.heading`). A bearing that belongs to a place, as in `N ridge`, says no way at all.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from camsign.errors import UsageError
from camsign.flows.fieldwork.words import listed
from camsign.sign.heading import SaidHeading
from camsign.units import Bearing, parse_bearing

_GOING, FACING = listed("ways", "going"), listed("ways", "facing")
_EITHER, GROUND = listed("ways", "either"), listed("ways", "ground")
_TREE, TREES = listed("ways", "tree"), listed("looks", "trees")
_POINTS, _PACES = listed("ways", "points"), listed("ways", "paces")
_BETWEEN, _AFTER_NUMBER = listed("ways", "between"), listed("ways", "degrees")
_DEGREES = re.compile(r"\d{1,3}(?:\.\d+)?(?:°|deg)?[mt]|\d{1,3}(?:\.\d+)?(?:°|deg)", re.I)
_NUMBER = re.compile(r"\d{1,3}(?:\.\d+)?")
_BOUND = re.compile(r"(.+?)-?(?:bound|ward|wards)")
_DISTANCE = re.compile(r"\d[\d.,]*(?:yds?|yards?|ft|feet|m|paces|steps)?")


@dataclass(frozen=True, slots=True)
class Way:
    """What a phrase of `words` words says: a heading of travel or of a bare side, or neither."""

    words: int
    heading: SaidHeading | None = None
    facing: bool = False


def bearing_at(lower: Sequence[str], i: int, led: bool = True) -> tuple[Bearing, int] | None:
    """Give the bearing that begins at a word, and how many words it takes.

    A plain number is one only where a word such as `going` led to it.
    """
    if i >= len(lower):
        return None
    word, after = lower[i], lower[i + 1] if i + 1 < len(lower) else ""
    if _NUMBER.fullmatch(word):
        if after in _AFTER_NUMBER and (found := _bearing(f"{word} {after}")):
            return found, 2
        return ((found, 1) if (found := _bearing(word)) else None) if led else None
    if word in ("north", "south", "east", "west") and after in _WORDS and (
        found := _bearing(f"{word} {after}")
    ):  # fmt: skip
        return found, 2
    if word in _POINTS or word in _WORDS or _DEGREES.fullmatch(word):
        found = _bearing(word)
        both = _bearing(f"{word} {after}") if after in ("true", "magnetic", "mag") else None
        return (both, 2) if both else (found, 1) if found else None
    return None


def way_at(lower: Sequence[str], i: int) -> Way | None:
    """Read the phrase that begins at word `i`, all in lower case, or None if none begins there.

    A side of a tree is a side of the rubbed trunk.
    """
    word = lower[i]
    if word == "away" and lower[i + 1 : i + 2] == ["from"]:
        return Way(min(3, len(lower) - i))
    if word == "from" or word in _EITHER:
        if (way := _from(lower, i)) or word == "from":
            return way
        found = bearing_at(lower, j := _past(lower, i + 1))
        return Way(j + found[1] - i) if found else None
    if word in FACING or word == "side":
        return _facing(lower, i)
    if word in _GOING:
        return _going(lower, i)
    bound = _BOUND.fullmatch(word)
    if bound and (bearing := _bearing(bound[1])) and not _NUMBER.fullmatch(bound[1]):
        return Way(1, SaidHeading(bearing))
    return _plain(lower, i)


def turned(heading: SaidHeading) -> SaidHeading:
    """Give the same heading the other way round."""
    was = heading.bearing
    return SaidHeading(Bearing((was.deg + 180.0) % 360.0, was.reference), heading.bare)


def _is_count(lower: Sequence[str], j: int) -> bool:
    """Whether a number behind `to` counts something: `close to 12 others`; three digits do not."""
    loose = lower[j - 1] in ("to", "toward", "towards", "head", "from", "go")
    return loose and j < len(lower) and lower[j].isdigit() and len(lower[j]) < 3


def _from(lower: Sequence[str], i: int) -> Way | None:
    at = next((j for j in range(i, min(i + 3, len(lower))) if lower[j] == "from"), None)
    if at is None or (i and (lower[i - 1] in _PACES or _DISTANCE.fullmatch(lower[i - 1]))):
        return None
    j = _past(lower, at + 1)
    bearing, end = _side_at(lower, j, led=not _is_count(lower, j))
    return Way(end - i, turned(SaidHeading(bearing)) if bearing else None) if end else None


def _facing(lower: Sequence[str], i: int) -> Way | None:
    bearing, end = _side_at(lower, _past(lower, i + 1))
    said = SaidHeading(bearing, bare=True) if bearing else None
    return Way(end - i, said, facing=True) if end else None


def _side_at(lower: Sequence[str], j: int, led: bool = True) -> tuple[Bearing | None, int]:
    """Give the bearing at a word, None if it names a place, and where it ends; 0: there is none."""
    found = bearing_at(lower, j, led)
    if found is None:
        return None, 0
    end = j + found[1]
    end += lower[end : end + 1] == ["side"]
    return None if _names_ground(lower, end) else found[0], end


def _going(lower: Sequence[str], i: int) -> Way | None:
    j = i + 1
    while j < len(lower) and (lower[j] in _BETWEEN or lower[j] in _GOING):
        j += 1
    if lower[j : j + 1] == ["from"]:
        behind = _from(lower, j)
        return Way(j - i + behind.words, behind.heading) if behind else None
    found = bearing_at(lower, j, led=not _is_count(lower, j))
    if found is None:
        return None
    end = j + found[1]
    if lower[end : end + 1] == ["side"] or _names_ground(lower, end):
        return Way(end - i)
    return Way(end - i, SaidHeading(found[0]))


def _plain(lower: Sequence[str], i: int) -> Way | None:
    """A bearing that nothing led to: travel, unless what stands behind it says otherwise."""
    found = bearing_at(lower, i, led=False)
    if found is None:
        return None
    bearing, n = found
    behind = lower[i + n] if i + n < len(lower) else ""
    if behind in ("side", "facing", "faces", "face"):
        return _sided(lower, i, n, bearing)
    if behind == "bare":
        return Way(n + 1, SaidHeading(bearing, bare=True), facing=True)
    if behind == "bound":
        return Way(n + 1, SaidHeading(bearing))
    if behind == "to" and (goal := bearing_at(lower, i + n + 1)):
        return Way(n + 1 + goal[1], SaidHeading(goal[0]))
    full = lower[i] in _WORDS
    if behind == "of" or _names_ground(lower, i + n) or (full and behind in TREES):
        return Way(n)
    return Way(n, SaidHeading(bearing))


def _sided(lower: Sequence[str], i: int, n: int, bearing: Bearing) -> Way:
    """`N side`, `N facing`, `N face of the tree`: of the trunk it is the bare side."""
    end = i + n + 1
    # `N side facing` says it twice; `N side facing S` leaves open which.
    if lower[end : end + 1] == ["of"]:
        j = end + 1
        while j < len(lower) and lower[j] in ("the", "a", "this", "that", "its", "big", "small"):
            j += 1
        of_tree = j < len(lower) and (lower[j] in _TREE or lower[j] in TREES)
        # The tree itself is left for the reader of trees.
        used = j if of_tree and lower[j] in TREES else min(j + 1, len(lower))
        return Way(used - i, SaidHeading(bearing, bare=True) if of_tree else None, facing=of_tree)
    word = lower[i + n]
    if _names_ground(lower, end) or word == "face":
        return Way(end - i, facing=word == "facing")
    return Way(end - i, SaidHeading(bearing, bare=True), facing=True)


def _past(lower: Sequence[str], i: int) -> int:
    while i < len(lower) and lower[i] in _BETWEEN:
        i += 1
    return i


def _names_ground(lower: Sequence[str], i: int) -> bool:
    return i < len(lower) and lower[i] in GROUND


def _full_words() -> frozenset[str]:
    sides = ("north", "south", "east", "west")
    pairs = [f"{a}{dash}{b}" for a in sides[:2] for b in sides[2:] for dash in ("", "-")]
    thirds = [f"{a}{dash}{b}" for a in sides for b in pairs for dash in ("", "-")]
    return frozenset((*sides, *pairs, *thirds))


_WORDS = _full_words()


# Fifty thousand waypoints have few bearings.
@lru_cache(maxsize=4096)
def _bearing(text: str) -> Bearing | None:
    try:
        return parse_bearing(text)
    except UsageError:
        return None
