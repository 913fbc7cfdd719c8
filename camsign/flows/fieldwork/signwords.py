"""The words beside a kind of sign, read from left to right: tree, look, bearing, measures, day.

Each word that can begin something is looked up once; what begins nothing is kept and told.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from typing import Any

from camsign.errors import UsageError
from camsign.logbook.settings import Settings
from camsign.sign.ageing import ABSENT, rows
from camsign.sign.heading import Heading
from camsign.sign.kinds import MEASURES, TRAVELLED, Measure
from camsign.units import Bearing, parse_bearing, parse_day, parse_length

# fmt: off
_TREES = frozenset((
    "alder", "apple", "ash", "aspen", "balsam", "basswood", "beech", "birch", "cedar", "cherry",
    "cottonwood", "dogwood", "elm", "fir", "hazel", "hemlock", "hickory", "hornbeam", "ironwood",
    "juniper", "larch", "locust", "maple", "moosewood", "oak", "pine", "poplar", "sassafras",
    "spruce", "sumac", "sweetgum", "tamarack", "viburnum", "walnut", "willow",
))
_TREE_KINDS = frozenset((
    "balsam", "black", "gray", "grey", "mountain", "paper", "quaking", "red", "silver", "striped",
    "sugar", "white", "yellow",
))
_POINTS = frozenset((
    "n", "nne", "ne", "ene", "e", "ese", "se", "sse", "s", "ssw", "sw", "wsw", "w", "wnw", "nw",
    "nnw",
))
# fmt: on
_LENGTH = re.compile(
    r"\d[\d.,/]*(?:mm|cm|m|in|inch|inches|ft|feet|foot|yd|yards?|\"|'(?:\d+\")?)", re.I
)
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_ONLY_METRES = re.compile(r"[\d.,/]+m")
_UNITS = frozenset({"mm", "cm", "in", "inch", "inches", "ft", "feet", "foot", "yd", "yards"})
_SIZE = re.compile(r"(\d+(?:[.,]\d+)?)x(\d+(?:[.,]\d+)?)(cm|m|in|ft)?", re.I)
_DEGREES = re.compile(r"\d{1,3}(?:\.\d+)?(?:°|deg)?[mt]|\d{1,3}(?:\.\d+)?(?:°|deg)", re.I)
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_GOING = frozenset({"going", "travel", "traveling", "travelling", "went", "to", "towards"})
_FILLERS = frozenset({"a", "an", "the", "on", "at", "with", "and", "is", "in", "of", "sign", "-"})
# What a measure may be called in front of its length, and behind it.
_BEFORE = {"dia": "diameter", "thick": "diameter", "trunk": "diameter", "far": "far_marks"}
_BEFORE |= {"long": "length", "wide": "width", "high": "height"}
_BEHIND = {"thick": "diameter", "dia": "diameter", "diameter": "diameter", "trunk": "diameter"}
_BEHIND |= {"high": "top", "tall": "top", "wide": "width", "long": "length", "snow": "snow"}


@dataclass(frozen=True, slots=True)
class SignDraft:
    """A sign as written: `measures` by kept name, lengths in metres; `unknown` words in order."""

    kind: str
    species: str | None = None
    state: str | None = None
    heading: Heading | None = None
    measures: dict[str, Any] = field(default_factory=dict)
    seen_on: date | None = None
    unknown: tuple[str, ...] = ()


class SignWords:
    """The words of one kind of sign under one logbook's settings."""

    def __init__(self, kind: str, settings: Settings) -> None:
        table = rows(kind, settings)
        self.kind = kind
        self.unit = "in" if settings.units == "imperial" else "cm"
        self.states = {word: s for s, row in table.items() for word in (s, *row["words"])}
        self.states |= {"absent": ABSENT, "not there": ABSENT, "not there yet": ABSENT}
        of_kind = MEASURES[kind]
        self.lengths = {w: m for w, m in of_kind.items() if m.sort in ("length", "count")}
        self.lengths |= {w: of_kind[n] for w, n in _BEFORE.items() if n in self.lengths}
        self.bearings = {w: m for w, m in of_kind.items() if m.sort == "bearing"}
        self.flags = {w: m for w, m in of_kind.items() if m.sort == "flag"}
        self.flags |= {word: m for m in of_kind.values() for word in m.words}
        self.beginners = self._beginners()

    def read(self, words: list[str]) -> SignDraft:
        """Read the words. Raises UsageError where a measure or day among them cannot be."""
        return _Reading(self, words).draft()

    def _beginners(self) -> dict[str, str]:
        """Which reader a word begins something for; an earlier line here goes before a later."""
        led = _POINTS | _GOING | {"bare"} if self.kind in TRAVELLED else frozenset[str]()
        begins = dict.fromkeys(_FILLERS, "filler")
        begins |= dict.fromkeys(self.flags, "flag")
        begins |= dict.fromkeys(led, "heading")
        begins |= dict.fromkeys(self.bearings, "bearing")
        begins |= dict.fromkeys(self.lengths, "length")
        begins |= dict.fromkeys(_TREES | _TREE_KINDS, "tree")
        return begins | dict.fromkeys((said.split()[0] for said in self.states), "state")


class _Reading:
    """One sign's words on their way to a draft. Each reader gives how many words it took."""

    def __init__(self, known: SignWords, words: list[str]) -> None:
        self.known = known
        self.words = words
        self.lower = [w.lower() for w in words]
        self.state: str | None = None
        self.species: str | None = None
        self.heading: Heading | None = None
        self.seen_on: date | None = None
        self.measures: dict[str, Any] = {}
        self.unknown: list[str] = []

    def draft(self) -> SignDraft:
        i = 0
        while i < len(self.words):
            taken = self._number(i) if self.lower[i][0].isdigit() else self._word(i)
            if not taken:
                self.unknown.append(self.words[i])
            i += taken or 1
        return SignDraft(
            self.known.kind,
            self.species,
            self.state,
            self.heading,
            self.measures,
            self.seen_on,
            tuple(self.unknown),
        )

    def _word(self, i: int) -> int:
        begins = self.known.beginners.get(self.lower[i])
        if begins is None:
            return 0
        if begins == "filler":
            return 1
        # `black` may begin a tree or a look, `droppings` a flag: the next reader gets its turn.
        taken = _READERS[begins](self, i)
        return taken or next((n for r in _READERS.values() if (n := r(self, i))), 0)

    def _number(self, i: int) -> int:
        return self._size(i) or self._plain_length(i) or self._heading(i) or self._day(i)

    def _state(self, i: int) -> int:
        if self.state is not None:
            return 0
        for n in (3, 2, 1):
            said = " ".join(self.lower[i : i + n])
            if said in self.known.states:
                self.state = self.known.states[said]
                return n
        return 0

    def _tree(self, i: int) -> int:
        if self.species is not None:
            return 0
        two = self.lower[i : i + 2]
        if len(two) == 2 and two[0] in _TREE_KINDS and two[1] in _TREES:
            self.species = " ".join(two)
            return 2
        if self.lower[i] in _TREES:
            self.species = self.lower[i]
            return 1
        return 0

    def _named_length(self, i: int) -> int:
        measure = self.known.lengths.get(self.lower[i])
        if measure is None:
            return 0
        skip = 2 if self.lower[i + 1 : i + 2] in (["marks"], ["to"]) else 1
        text, n = self._length(i + skip)
        if not n:
            return 0
        if measure.sort == "count":
            self.measures[measure.name] = int(float(text)) if _NUMBER.fullmatch(text) else 0
        else:
            self.measures[measure.name] = _metres(text, self.known.unit)
        return skip + n

    def _named_bearing(self, i: int) -> int:
        measure = self.known.bearings.get(self.lower[i])
        bearing = _bearing_or_none(self.lower[i + 1]) if i + 1 < len(self.lower) else None
        if measure is None or bearing is None:
            return 0
        self.measures[measure.name] = bearing.deg
        return 2

    def _heading(self, i: int) -> int:
        if self.known.kind not in TRAVELLED or self.heading is not None:
            return 0
        bare = self.lower[i] == "bare"
        skip = int(bare or self.lower[i] in _GOING)
        skip += bare and self.lower[i + 1 : i + 2] == ["side"]
        if i + skip >= len(self.lower) or self.lower[i + skip + 1 : i + skip + 2] == ["of"]:
            return 0
        word = self.lower[i + skip]
        if not skip and word not in _POINTS and not _DEGREES.fullmatch(word):
            return 0
        bearing = _bearing_or_none(word)
        if bearing is None:
            return 0
        self.heading = Heading(bearing, bare=bare)
        return skip + 1

    def _flag(self, i: int) -> int:
        word = self.lower[i]
        measure: Measure | None = self.known.flags.get(word)
        if measure is None:
            return 0
        before = self.measures.get(measure.name, [])
        self.measures[measure.name] = True if measure.sort == "flag" else [*before, word]
        return 1

    def _size(self, i: int) -> int:
        found = _SIZE.fullmatch(self.lower[i])
        if not found or not {"length", "width"} <= set(self.known.lengths):
            return 0
        unit, n = found[3], 1
        if not unit and self.lower[i + 1 : i + 2] and self.lower[i + 1] in _UNITS:
            unit, n = self.lower[i + 1], 2
        sizes = [_metres(found[k], unit or self.known.unit) for k in (1, 2)]
        self.measures |= {"length_m": max(sizes), "width_m": min(sizes)}
        return n

    def _plain_length(self, i: int) -> int:
        """A length with a unit: what the word behind it says, else a rub's trunk."""
        text, n = self._length(i)
        # 120m beside a rub is a bearing from magnetic north.
        if not n or _NUMBER.fullmatch(text) or _ONLY_METRES.fullmatch(text):
            return 0
        behind = self.lower[i + n : i + n + 1]
        name = _BEHIND.get(behind[0], "") if behind else ""
        if name == "top" and "top" not in self.known.lengths:
            name = "height"
        used = name in self.known.lengths
        measure = self.known.lengths.get(name if used else "diameter")
        if measure is None or measure.name in self.measures:
            return 0
        self.measures[measure.name] = _metres(text, self.known.unit)
        return n + used

    def _day(self, i: int) -> int:
        if not _DAY.fullmatch(self.lower[i]):
            return 0
        self.seen_on = parse_day(self.lower[i])
        return 1

    def _length(self, i: int) -> tuple[str, int]:
        """The length at a word, with its unit, and how many words it takes; 0 if there is none."""
        if i >= len(self.lower):
            return "", 0
        word = self.lower[i]
        if _LENGTH.fullmatch(word):
            return word, 1
        if not _NUMBER.fullmatch(word):
            return "", 0
        if i + 1 < len(self.lower) and self.lower[i + 1] in _UNITS:
            return f"{word} {self.lower[i + 1]}", 2
        return word, 1


_READERS: dict[str, Callable[[_Reading, int], int]] = {
    "state": _Reading._state,
    "tree": _Reading._tree,
    "length": _Reading._named_length,
    "bearing": _Reading._named_bearing,
    "heading": _Reading._heading,
    "flag": _Reading._flag,
}


# Fifty thousand waypoints have few lengths and bearings.
@lru_cache(maxsize=4096)
def _metres(text: str, unit: str) -> float:
    return parse_length(text, unit)


@lru_cache(maxsize=4096)
def _bearing_or_none(word: str) -> Bearing | None:
    try:
        return parse_bearing(word)
    except UsageError:
        return None
