"""The shorthand in which a waypoint is written down: its name and description, read word by word.

Such as `rub alder 2in top 38in fresh S`, `scrape active`, `old rub`, `cam CAM07`, `stand north
oak`, `bedding spruce knob 60yd`. The first word that names a kind decides; words that mean nothing
are kept as a note and reported, never guessed at.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from typing import Any

from camsign.errors import UsageError
from camsign.logbook.settings import Settings
from camsign.places.areas import KINDS as AREA_KINDS
from camsign.places.points import KINDS as PLACE_KINDS
from camsign.sign.ageing import ABSENT, rows
from camsign.sign.heading import Heading
from camsign.sign.kinds import KINDS as SIGN_KINDS
from camsign.sign.kinds import MEASURES, TRAVELLED, sign_words
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
# fmt: on
_CAMERA = frozenset({"cam", "camera", "trailcam"})
_BREAK = re.compile(r"[\s,;:()]+|\.(?=\s|$)|(?<=[a-z])_(?=\d)")
_LABEL = re.compile(r"#?\d{1,4}[a-d]?")
_METRES = re.compile(r"[\d.,/]+m")
_CAMERA_ID = re.compile(r"cam[-_]?\d+[a-z]?")
_LENGTH = re.compile(
    r"\d[\d.,/]*(?:mm|cm|m|in|inch|inches|ft|feet|foot|yd|yards?|\"|'(?:\d+\")?)", re.I
)
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_UNITS = frozenset({"mm", "cm", "in", "inch", "inches", "ft", "feet", "foot", "yd", "yards"})
_SIZE = re.compile(r"(\d+(?:[.,]\d+)?)x(\d+(?:[.,]\d+)?)(cm|m|in|ft)?", re.I)
_DEGREES = re.compile(r"\d{1,3}(?:\.\d+)?(?:°|deg)?[mt]|\d{1,3}(?:\.\d+)?(?:°|deg)", re.I)
_POINT = re.compile(r"[NSEW]|[NS][EW]|(?:NN|EN|ES|SS|WS|WN|NN|SS)[EW]|[EW][NS][EW]", re.I)
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_GOING = frozenset({"going", "travel", "traveling", "travelling", "went", "to", "towards"})
_FILLERS = frozenset({"a", "an", "the", "on", "at", "with", "and", "is", "in", "of", "sign", "-"})
# What a measure may be called in front of its length, and behind it.
_BEFORE = {"dia": "diameter", "thick": "diameter", "trunk": "diameter", "far_marks": "far_marks"}
_BEFORE |= {"far": "far_marks", "long": "length", "wide": "width", "high": "height"}
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


@dataclass(frozen=True, slots=True)
class CameraDraft:
    """A camera as written: its ID and where it looks."""

    camera: str
    facing: Bearing | None = None


@dataclass(frozen=True, slots=True)
class PlaceDraft:
    """A place as written."""

    kind: str
    name: str


@dataclass(frozen=True, slots=True)
class AreaDraft:
    """An area as written: a point with a name, and a radius [m] if one was given."""

    kind: str
    name: str
    radius_m: float | None = None


Draft = SignDraft | CameraDraft | PlaceDraft | AreaDraft


class Shorthand:
    """Reads waypoints of one logbook.

    Args:
        settings: the logbook's, for units and the words of the ageing table.
        cameras: known camera IDs; a name that is one of them, in whatever case, is that camera.
    """

    def __init__(self, settings: Settings, cameras: Iterable[str] = ()) -> None:
        self.settings = settings
        self._cameras = {camera.lower() for camera in cameras}
        self._states = {kind: _states(kind, settings) for kind in SIGN_KINDS}

    def read(self, name: str, description: str = "") -> Draft | None:
        """Read a waypoint's words; None if no word names a kind.

        A number right behind the kind in its name (`rub 12`) is a label, and says nothing.

        Raises:
            UsageError: a word names a kind, but what stands beside it cannot be.
        """
        if name.strip().lower() in self._cameras:
            return CameraDraft(name.strip())
        words = _words(name)
        found = _kind(words)
        labelled = found is not None
        words += _words(description)
        found = found or _kind(words)
        if found is None:
            return None
        what, kind, at, n = found
        before, behind = words[:at], words[at + n :]
        if what == "camera":
            return _camera(kind, before + behind)
        if what == "place":
            return PlaceDraft(kind, " ".join(before + behind) or kind)
        if what == "area":
            return _area(kind, before + behind, self.settings)
        rest = before + (_without_label(behind) if labelled else behind)
        return _Reader(kind, rest, self.settings, self._states[kind]).draft()


def _words(text: str) -> list[str]:
    return [w for w in _BREAK.split(text) if w]


def _kind(words: list[str]) -> tuple[str, str, int, int] | None:
    """The first words that name a kind: what, which, where, how many words."""
    lower = [w.lower() for w in words]
    for i, word in enumerate(lower):
        if i + 1 < len(lower) and (two := _KINDS.get(f"{word} {lower[i + 1]}")):
            return *two, i, 2
        # The number that a receiver puts behind a word belongs to its name, not to the word.
        one = _KINDS.get(word) or _KINDS.get(word.rstrip("0123456789").rstrip("-_#"))
        if _CAMERA_ID.fullmatch(word):
            return "camera", words[i], i, 1
        if one and (one[0] != "area" or i == 0):
            return *one, i, 1
    return None


def _all_kinds() -> dict[str, tuple[str, str]]:
    """Every word or two that name a kind, with what it is and which."""
    known = {word: ("sign", kind) for word, kind in sign_words().items()}
    known |= {form: ("place", kind) for kind in PLACE_KINDS for form in (kind, f"{kind}s")}
    known |= {kind: ("area", kind) for kind in AREA_KINDS}
    return known | dict.fromkeys(_CAMERA, ("camera", ""))


_KINDS = _all_kinds()


def _without_label(rest: list[str]) -> list[str]:
    """Leave out the number that a receiver or a person puts behind a kind."""
    numbered = rest and _LABEL.fullmatch(rest[0].lower())
    unit = len(rest) > 1 and rest[1].lower() in _UNITS
    return rest[1:] if numbered and not unit else rest


def _camera(camera: str, rest: list[str]) -> CameraDraft:
    words = list(rest)
    name = camera or (words.pop(0) if words else "")
    if not name:
        raise UsageError("a camera without its ID", "write it like cam CAM07")
    lower = [w.lower() for w in words]
    for i, word in enumerate(lower[:-1]):
        if word in ("facing", "looks", "looking"):
            return CameraDraft(name, parse_bearing(words[i + 1]))
    return CameraDraft(name)


def _area(kind: str, words: list[str], settings: Settings) -> AreaDraft:
    unit = "yd" if settings.units == "imperial" else "m"
    radii = [w for w in words if _LENGTH.fullmatch(w)]
    name = " ".join(w for w in words if w not in radii and w.lower() not in ("area", "radius"))
    radius = parse_length(radii[0], unit) if radii else None
    return AreaDraft(kind, name or kind, radius)


# Fifty thousand waypoints have few lengths.
_metres = lru_cache(maxsize=4096)(parse_length)


def _states(kind: str, settings: Settings) -> dict[str, str]:
    """Every word for a look of this kind of sign, with the row it stands for."""
    table = rows(kind, settings)
    words = {word: state for state, row in table.items() for word in (state, *row["words"])}
    return words | {"absent": ABSENT, "not there": ABSENT, "not there yet": ABSENT}


class _Reader:
    """Reads the words of one sign from left to right; what no reader takes is unknown."""

    def __init__(
        self, kind: str, words: list[str], settings: Settings, states: dict[str, str]
    ) -> None:
        self.kind = kind
        self.words = words
        self.lower = [w.lower() for w in words]
        self.unit = "in" if settings.units == "imperial" else "cm"
        self.of_kind = MEASURES[kind]
        self.states = states
        self.state: str | None = None
        self.species: str | None = None
        self.heading: Heading | None = None
        self.seen_on: date | None = None
        self.measures: dict[str, Any] = {}
        self.unknown: list[str] = []

    def draft(self) -> SignDraft:
        of_words = (self._state, self._tree, self._named_length, self._heading, self._flag)
        of_numbers = (self._size, self._plain_length, self._heading, self._day)
        i = 0
        while i < len(self.words):
            readers = of_numbers if self.words[i][0].isdigit() else of_words
            taken = next((n for read in readers if (n := read(i))), 0)
            if not taken and self.lower[i] not in _FILLERS:
                self.unknown.append(self.words[i])
            i += taken or 1
        return SignDraft(
            self.kind,
            self.species,
            self.state,
            self.heading,
            self.measures,
            self.seen_on,
            tuple(self.unknown),
        )

    def _length(self, i: int) -> tuple[str, int]:
        """The length at a word, with its unit, and how many words it takes; 0 if there is none."""
        if i >= len(self.lower):
            return "", 0
        if _LENGTH.fullmatch(self.lower[i]):
            return self.lower[i], 1
        if _NUMBER.fullmatch(self.lower[i]):
            if i + 1 < len(self.lower) and self.lower[i + 1] in _UNITS:
                return f"{self.lower[i]} {self.lower[i + 1]}", 2
            return self.lower[i], 1
        return "", 0

    def _named_length(self, i: int) -> int:
        name = _BEFORE.get(self.lower[i], self.lower[i])
        measure = self.of_kind.get(name)
        if measure is None or measure.sort not in ("length", "count", "bearing"):
            return 0
        skip = 2 if self.lower[i + 1 : i + 2] in (["marks"], ["to"]) else 1
        text, n = self._length(i + skip)
        if measure.sort == "bearing":
            return self._bearing_measure(measure.name, i)
        if not n:
            return 0
        value = _metres(text, self.unit) if measure.sort == "length" else int(float(text))
        self.measures[measure.name] = value
        return skip + n

    def _bearing_measure(self, name: str, i: int) -> int:
        if i + 1 >= len(self.words):
            return 0
        self.measures[name] = parse_bearing(self.words[i + 1]).deg
        return 2

    def _size(self, i: int) -> int:
        found = _SIZE.fullmatch(self.lower[i])
        if not found or not {"length", "width"} <= set(self.of_kind):
            return 0
        unit, n = found[3], 1
        if not unit and i + 1 < len(self.lower) and self.lower[i + 1] in _UNITS:
            unit, n = self.lower[i + 1], 2
        sizes = [parse_length(found[k], unit or self.unit) for k in (1, 2)]
        self.measures |= {"length_m": max(sizes), "width_m": min(sizes)}
        return n

    def _plain_length(self, i: int) -> int:
        """A length with a unit: what the word behind it says, else a rub's trunk."""
        text, n = self._length(i)
        # 120m beside a rub is a bearing from magnetic north.
        if not n or _NUMBER.fullmatch(text) or _METRES.fullmatch(text):
            return 0
        behind = self.lower[i + n : i + n + 1]
        name = _BEHIND.get(behind[0]) if behind else None
        if name == "top" and "top" not in self.of_kind:
            name = "height"
        used = name in self.of_kind
        name = name if used else "diameter"
        if name not in self.of_kind or self.of_kind[str(name)].name in self.measures:
            return 0
        self.measures[self.of_kind[str(name)].name] = _metres(text, self.unit)
        return n + used

    def _state(self, i: int) -> int:
        for n in (3, 2, 1):
            said = " ".join(self.lower[i : i + n])
            if said in self.states and self.state is None:
                self.state = self.states[said]
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

    def _heading(self, i: int) -> int:
        if self.kind not in TRAVELLED or self.heading is not None:
            return 0
        said = self.lower[i]
        led = said == "bare" or said in _GOING
        skip = 2 if self.lower[i + 1 : i + 2] == ["side"] else 1 if led else 0
        if i + skip >= len(self.words):
            return 0
        word = self.words[i + skip]
        is_bearing = bool(_POINT.fullmatch(word) or _DEGREES.fullmatch(word))
        if not (is_bearing or led) or self.lower[i + skip + 1 : i + skip + 2] == ["of"]:
            return 0
        try:
            self.heading = Heading(parse_bearing(word), bare=said == "bare")
        except UsageError:
            return 0
        return skip + 1

    def _flag(self, i: int) -> int:
        for measure in self.of_kind.values():
            if self.lower[i] in measure.words:
                self.measures[measure.name] = [*self.measures.get(measure.name, []), self.lower[i]]
                return 1
            if measure.sort == "flag" and measure.name == self.lower[i]:
                self.measures[measure.name] = True
                return 1
        return 0

    def _day(self, i: int) -> int:
        if not _DAY.fullmatch(self.words[i]):
            return 0
        self.seen_on = parse_day(self.words[i])
        return 1
