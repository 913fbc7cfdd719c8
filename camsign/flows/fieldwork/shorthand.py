"""The shorthand in which a waypoint is written down: its name and description, read word by word.

Such as `rub alder 2in top 38in fresh S`, `scrape active`, `old rub`, `cam CAM07`, `stand north
oak`, `bedding spruce knob 60yd`. The first word that names a kind decides; words that mean nothing
are kept as a note and reported, never guessed at.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from camsign.errors import UsageError
from camsign.flows.fieldwork.signwords import SignDraft, SignWords
from camsign.logbook.settings import Settings
from camsign.places.areas import KINDS as AREA_KINDS
from camsign.places.points import KINDS as PLACE_KINDS
from camsign.sign.kinds import KINDS as SIGN_KINDS
from camsign.sign.kinds import sign_words
from camsign.units import Bearing, parse_bearing, parse_length

_CAMERA = frozenset({"cam", "camera", "trailcam"})
_BREAK = re.compile(r"[\s,;:()]+|\.(?=\s|$)|(?<=[a-z])_(?=\d)")
_LABEL = re.compile(r"#?\d{1,6}[a-d]?")
_CAMERA_ID = re.compile(r"cam[-_]?\d+[a-z]?")
_RADIUS = re.compile(r"\d[\d.,]*(?:m|yd|yards?|ft|feet)", re.I)
_UNITS = frozenset({"mm", "cm", "in", "inch", "inches", "ft", "feet", "foot", "yd", "yards"})


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
        self._signs = {kind: SignWords(kind, settings) for kind in SIGN_KINDS}

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
        return self._signs[kind].read(rest)


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
    radii = [w for w in words if _RADIUS.fullmatch(w)]
    name = " ".join(w for w in words if w not in radii and w.lower() not in ("area", "radius"))
    radius = parse_length(radii[0], unit) if radii else None
    return AreaDraft(kind, name or kind, radius)
