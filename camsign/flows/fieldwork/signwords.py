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

from camsign.flows.fieldwork.waywords import GROUND, TREES, Way, bearing_at, way_at
from camsign.flows.fieldwork.words import TABLES, listed
from camsign.logbook.settings import Settings
from camsign.sign.aging import ABSENT, rows
from camsign.sign.heading import SaidHeading
from camsign.sign.kinds import MEASURES, TRAVELED, Measure
from camsign.units import parse_day, parse_length

_TREE_KINDS, _UNITS = listed("looks", "tree_kinds"), listed("looks", "units")
_FILLERS, _JOINS = listed("looks", "fillers"), listed("looks", "joins")
# What a measure may be called; the first name that the kind has is meant: a height is a rub's top.
_CALLED = TABLES["called"]
_BEHIND = frozenset((*_CALLED, "diameter")) - {"far", "size"}
_LENGTH = re.compile(
    r"\d[\d.,/]*(?:mm|cm|m|in|inch|inches|ft|feet|foot|yd|yards?|\"|'(?:\d+\")?)", re.I
)
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_ONLY_METERS = re.compile(r"[\d.,/]+m")
_SIZE = re.compile(r"(\d+(?:[.,]\d+)?)x(\d+(?:[.,]\d+)?)(cm|m|in|ft)?", re.I)
_SPAN = re.compile(
    r"(\d+(?:[.]\d+)?) ?(?:in|inches|cm|\")? ?(?:-|to|–) ?(\d+(?:[.]\d+)?)"
    r" ?(?P<unit>in|inches|cm|\")(?!\S)"
)
_COUNTED = re.compile(r"(\d{1,2}) ?(?:points?|pts?)(?!\S)")
_HERS, _BEHIND_WORDS = listed("beds", "hers"), listed("kinds", "behind")
_NOT_HERS = listed("beds", "not_hers")
_SMALL = re.compile(r"(?:mm|cm|in|inch|inches|\")$", re.I)
# Two words for one way may be taken down so far apart [deg].
_AT_ODDS = 60.0
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
# A trunk that bucks rub is no thicker, and what is longer is a height (common practice) [m].
_THICKEST, _LOWEST_TOP, _HIGHEST_TOP = 0.31, 0.45, 2.3


@dataclass(frozen=True, slots=True)
class SignDraft:
    """A sign as written: `measures` by kept name, lengths in meters; `unknown` words in order.

    `bed_of`: doe, where the words say that a bed is hers.
    """

    kind: str
    species: str | None = None
    state: str | None = None
    heading: SaidHeading | None = None
    measures: dict[str, Any] = field(default_factory=dict)
    seen_on: date | None = None
    unknown: tuple[str, ...] = ()
    bed_of: str | None = None


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
        for word, names in _CALLED.items():
            name = next((n for n in names if n in of_kind), None)
            if name and word not in self.lengths:
                self.lengths[word] = of_kind[name]
        self.bearings = {w: m for w, m in of_kind.items() if m.sort == "bearing"}
        self.flags = {w: m for w, m in of_kind.items() if m.sort == "flag"}
        self.flags |= {word: m for m in of_kind.values() for word in m.words}
        self.beginners = self._beginners()

    def read(self, words: list[str]) -> SignDraft:
        """Read the words. Raises UsageError where a measure or day among them cannot be."""
        return _Reading(self, words).draft()

    def _beginners(self) -> dict[str, str]:
        """Which reader a word begins something for; an earlier line here goes before a later."""
        begins = dict.fromkeys(_FILLERS, "filler")
        begins |= dict.fromkeys(_HERS, "hers") if self.kind == "bed" else {}
        begins |= dict.fromkeys(self.flags, "flag")
        begins |= dict.fromkeys(self.bearings, "bearing")
        begins |= dict.fromkeys(self.lengths, "length")
        begins |= dict.fromkeys(TREES | _TREE_KINDS, "tree")
        return begins | dict.fromkeys((said.split()[0] for said in self.states), "state")


class _Reading:
    """One sign's words on their way to a draft. Each reader gives how many words it took."""

    def __init__(self, known: SignWords, words: list[str]) -> None:
        self.known = known
        self.words = words
        self.lower = [w.lower() for w in words]
        self.state: str | None = None
        self.species: str | None = None
        self.ways: list[Way] = []
        self.seen_on: date | None = None
        self.measures: dict[str, Any] = {}
        self.unknown: list[str] = []
        self.bed_of: str | None = None

    def draft(self) -> SignDraft:
        i = 0
        while i < len(self.words):
            way = None if self.lower[i][0].isdigit() else way_at(self.lower, i)
            if way:
                taken = way.words if self._way(way) else 0
                self.unknown += [] if taken else self.words[i : i + way.words]
                i += way.words
                continue
            taken = self._number(i) if self.lower[i][0].isdigit() else self._word(i)
            if not taken:
                self.unknown.append(self.words[i])
            i += taken or 1
        heading = self._heading()
        return SignDraft(
            self.known.kind,
            self.species,
            self.state,
            heading,
            self.measures,
            self.seen_on,
            tuple(self.unknown),
            self.bed_of,
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
        return (
            self._size(i) or self._span(i) or self._plain_length(i) or self._degrees(i)
            or self._points(i) or self._day(i)
        )  # fmt: skip

    def _points(self, i: int) -> int:
        """`4 points`, `4pt`: how many an antler has."""
        found = _COUNTED.match(" ".join(self.lower[i : i + 2]))
        if found is None or self.known.kind != "shed":
            return 0
        self.measures["points"] = int(found[1])
        return len(found[0].split())

    def _degrees(self, i: int) -> int:
        way = way_at(self.lower, i)
        return way.words if way and self._way(way) else 0

    def _hers(self, i: int) -> int:
        """`doe beds`, `family group`; not `above a doe bed`, nor beside a word for a buck."""
        his = not _NOT_HERS.isdisjoint((*self.lower[:i], *self.lower[i + 1 :]))
        if self.known.kind != "bed" or self.lower[i] not in _HERS or his:
            return 0
        if not _BEHIND_WORDS.isdisjoint(self.lower[:i]):
            return 0
        self.bed_of = "doe"
        return 1

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
        if len(two) == 2 and two[0] in _TREE_KINDS and two[1] in TREES:
            self.species = " ".join(two)
            return 2
        # An oak ridge is no tree.
        if self.lower[i + 1 : i + 2] and self.lower[i + 1] in GROUND:
            return 0
        if self.lower[i] in TREES:
            self.species = self.lower[i]
            return 1
        return 0

    def _named_length(self, i: int) -> int:
        measure = self.known.lengths.get(self.lower[i])
        if measure is None:
            return 0
        skip = 1
        while self.lower[i + skip : i + skip + 1] and self.lower[i + skip] in _JOINS:
            skip += 1
        text, n = self._length(i + skip)
        if not n:
            return 0
        if measure.sort == "count":
            self.measures[measure.name] = int(float(text)) if _NUMBER.fullmatch(text) else 0
        else:
            self.measures[measure.name] = _meters(text, self.known.unit)
        return skip + n

    def _named_bearing(self, i: int) -> int:
        measure = self.known.bearings.get(self.lower[i])
        found = bearing_at(self.lower, i + 1)
        if measure is None or found is None:
            return 0
        self.measures[measure.name] = found[0].deg
        return 1 + found[1]

    def _way(self, way: Way) -> bool:
        """Take what a phrase says of the way; False if it says nothing that this kind can hold."""
        if way.heading is None:
            return False
        if self.known.kind == "bed" and way.facing:
            self.measures.setdefault("aspect_deg", way.heading.bearing.deg)
            return True
        if self.known.kind not in TRAVELED:
            return False
        if way.facing and self.known.kind != "rub":
            # A print faces where it goes; a scrape or trail faces nowhere.
            if self.known.kind != "track" or not way.heading.bare:
                return False
            way = Way(way.words, SaidHeading(way.heading.bearing))
        self.ways.append(way)
        return True

    def _heading(self) -> SaidHeading | None:
        """The one heading that was written; what contradicts itself is none, and is told."""
        said = [way.heading for way in self.ways if way.heading]
        travels = [h.bearing.deg + 180.0 * h.bare for h in said]
        if any(abs((t - travels[0] + 180.0) % 360.0 - 180.0) > _AT_ODDS for t in travels[1:]):
            self.unknown.append("(which way: the words contradict each other)")
            return None
        return next((h for h in said if not h.bare), said[0] if said else None)

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
        sizes = [_meters(found[k], unit or self.known.unit) for k in (1, 2)]
        self.measures |= {"length_m": max(sizes), "width_m": min(sizes)}
        return n

    def _span(self, i: int) -> int:
        """`18-40in`, `18 to 40in`: a rub's bare wood from its bottom to its top."""
        found = _SPAN.match(" ".join(self.lower[i : i + 4]))
        if found is None or self.known.kind != "rub":
            return 0
        low, high = (_meters(f"{found[k]} {found['unit']}", self.known.unit) for k in (1, 2))
        if not low < high or high < _LOWEST_TOP:
            return 0
        self.measures |= {"bottom_m": low, "top_m": high}
        return len(found[0].split())

    def _plain_length(self, i: int) -> int:
        """A length with a unit: what the word behind it says, else what it can only be."""
        text, n = self._length(i)
        # 120m beside a rub is a bearing from magnetic north.
        if not n or _NUMBER.fullmatch(text) or _ONLY_METERS.fullmatch(text):
            return 0
        behind = self.lower[i + n] if i + n < len(self.lower) else ""
        if behind in ("from", "off", "away"):
            return 0
        if behind in ("height", "ht") and self._length(i + n + 1)[1]:
            behind = ""
        measure, used = self.known.lengths.get(behind if behind in _BEHIND else ""), 1
        if measure is None:
            measure, used = self._unsaid(_meters(text, self.known.unit), text, behind)
        if measure is None or measure.name in self.measures:
            return 0
        self.measures[measure.name] = _meters(text, self.known.unit)
        return n + used

    def _unsaid(self, length: float, text: str, behind: str) -> tuple[Measure | None, int]:
        """Which measure a length is that no word names: a thin one a trunk, a tall one a height."""
        of_kind = MEASURES[self.known.kind]
        if behind == "snow":
            return of_kind.get("snow"), 1
        if behind in _CALLED or not _SMALL.search(text):
            return None, 0
        if self.known.kind in ("track", "droppings"):
            return of_kind["length"], 0
        if self.known.kind != "rub":
            return None, 0
        if length <= _THICKEST:
            return of_kind["diameter"], 0
        return (of_kind["top"] if _LOWEST_TOP <= length <= _HIGHEST_TOP else None), 0

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
    "hers": _Reading._hers,
    "state": _Reading._state,
    "tree": _Reading._tree,
    "length": _Reading._named_length,
    "bearing": _Reading._named_bearing,
    "flag": _Reading._flag,
}


# Fifty thousand waypoints have few lengths and bearings.
@lru_cache(maxsize=4096)
def _meters(text: str, unit: str) -> float:
    return parse_length(text, unit)
