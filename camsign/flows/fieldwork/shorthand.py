"""The shorthand in which a waypoint is written down: its name and description, read word by word.

Such as `rub alder 2in top 38in fresh S`, `scrape active`, `old rub`, `cam CAM07`, `stand north
oak`, `bedding spruce knob 60yd`. The first word that names a kind decides; words that mean nothing
are kept as a note and reported, never guessed at.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from camsign.errors import UsageError
from camsign.flows.fieldwork.kindwords import (
    Asked,
    Named,
    camera_at,
    camera_name,
    doubt_of,
    facing_in,
    head_of,
    is_errand,
    is_short_id,
    named_in,
)
from camsign.flows.fieldwork.signwords import SignDraft, SignWords
from camsign.flows.fieldwork.words import listed, meanings
from camsign.logbook.settings import Settings
from camsign.logbook.things import AREA_KINDS, PLACE_KINDS, SIGN_KINDS
from camsign.sign.kinds import sign_words
from camsign.units import Bearing, parse_length

CHOICES = ("camera", *SIGN_KINDS, *PLACE_KINDS, *AREA_KINDS)
"""What a person may say that a waypoint is."""
NOTHING = "nothing"
"""What a person says of a waypoint that is none of these; it is kept as a note."""

_BREAK = re.compile(
    r"[\s,;:()\[\]{}!?|&+*~]+|\.(?=\s|$)|(?<=[A-Za-z0-9])=(?=\S)|/(?=\s|$)|(?<=\s)/"
)
_QUOTES = str.maketrans("′’‘´ʹ″”“ʺ−–º˚", "'''''\"\"\"\"--°°")
_CAMERA = re.compile(r"(?:[a-z]{0,5}cam|c|tc|camera)[-_ ]?#?\d+[a-z]?", re.I)
_KIND = r"(?:rub|scrape|bed|shed|track|trail|stand|cam)"
_DIR = r"(?:[NS]{1,2}[EW]|[NS]|[EW][NS][EW]|[EW])"
_LENGTH = r"\d+(?:\.\d+)?(?:in|inch|cm|ft|yd|\"|')"
# rubNE34in, scrapeSW, RUB12, rub2inNE; a word in lower case needs a number, so that `rube` is none.
_RUN = re.compile(rf"(?P<kind>{_KIND})(?P<rest>(?:{_DIR}|{_LENGTH}|\d+)+)", re.I)
_PART = re.compile(rf"{_LENGTH}|\d+|{_DIR}", re.I)
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])|(?<=[A-Za-z])(?=\d)")
_JOINED = re.compile(r"[-_/.]+")
_TAIL = re.compile(rf"({_LENGTH})({_DIR}|dia|diam|diameter|thick|tall|high|wide|long)", re.I)
_WITH = re.compile(r"\bw/\s*", re.I)

_SLIPS, _FIRST = meanings("slips"), listed("joined", "first")
_LABEL = re.compile(r"#?\d{1,6}[a-d]?")
_CAMERA_ID = re.compile(r"cam[-_]?\d+[a-z]?", re.I)
_RADIUS = re.compile(r"\d[\d.,]*(?:m|yd|yards?|ft|feet)", re.I)
_AFTER_NUMBER = listed("looks", "no_label")
_DROPPED = frozenset((*sign_words(), "tree", "poop"))


@dataclass(frozen=True, slots=True)
class SpotDraft:
    """A camera, place or area as written: its kind, `camera` or one of theirs, and its name or ID.

    `facing`: where a camera looks; `radius_m`: an area's radius [m], if one was given.
    """

    kind: str
    name: str
    facing: Bearing | None = None
    radius_m: float | None = None


Draft = SignDraft | SpotDraft


class Shorthand:
    """Reads waypoints of one logbook.

    Args:
        settings: the logbook's, for units and the words of the aging table.
        cameras: known camera IDs; a name that is one of them, in whatever case, is that camera.
    """

    def __init__(self, settings: Settings, cameras: Iterable[str] = ()) -> None:
        self.settings = settings
        self._cameras = {camera.lower(): camera for camera in cameras}
        self._signs = {kind: SignWords(kind, settings) for kind in SIGN_KINDS}

    def read(self, name: str, description: str = "", hint: str = "") -> Draft | Asked | None:
        """Read a waypoint's words; None if no word names a kind, Asked if one may.

        A number right behind the kind in its name (`rub 12`) is a label, and says nothing.

        Args:
            name: its name.
            description: whatever else was written with it.
            hint: its type or symbol, which counts only where the words name no kind.

        Raises:
            UsageError: a word names a kind, but what stands beside it cannot be.
        """
        if name.strip().lower() in self._cameras:
            facing, _ = facing_in(words_of_text(description))
            return SpotDraft("camera", name.strip(), facing)
        words, text = words_of_text(name), words_of_text(description)
        for known in (words, text):
            camera = self._camera(known, text)
            if camera is not None:
                return camera
            head = head_of(known)
            if head is not None:
                return self._headed(head, words, text)
        if hint.strip().lower() in CHOICES:
            return self.read_as(hint.strip().lower(), name, description)
        if len(words) == 1 and is_short_id(words[0]):
            return Asked("camera", f"{words[0]!r} could be a camera")
        return None

    def read_as(self, kind: str, name: str, description: str = "") -> Draft:
        """Read a waypoint as what a person says that it is, one of CHOICES. Raises UsageError."""
        words, text = words_of_text(name), words_of_text(description)
        if kind == "camera":
            facing, rest = facing_in(words)
            at = camera_at(rest)
            named = " ".join(rest) if at is None else camera_name(rest, at, self._cameras)
            return SpotDraft("camera", named, facing or facing_in(text)[0])
        if kind in SIGN_KINDS:
            rest, labeled = _without_kind(kind, words)
            return self._signs[kind].read(_without_label(rest) + text if labeled else rest + text)
        if kind in PLACE_KINDS:
            return SpotDraft(kind, name.strip() or kind)
        if kind in AREA_KINDS:
            return _area(Named("area", kind, keep=True), words or [kind], self.settings)
        raise UsageError(f"there is no kind {kind!r}", f"say {', '.join(CHOICES)}")

    def _camera(self, words: list[str], text: list[str]) -> Draft | Asked | None:
        """A camera, if the words name one that hangs."""
        facing, rest = facing_in(words)
        facing = facing or (facing_in(text)[0] if words is not text else None)
        first = rest[0] if rest else ""
        alone = len(rest) == 1 or head_of(rest) is None
        if first.lower() in self._cameras or (_CAMERA_ID.fullmatch(first) and alone):
            return SpotDraft("camera", self._cameras.get(first.lower(), first), facing)
        if facing and len(rest) == 1 and is_short_id(first):
            return SpotDraft("camera", first, facing)
        at = camera_at(rest)
        if at is None:
            return None
        if words is text and at > 1:
            return None
        named = camera_name(rest, at, self._cameras)
        if is_errand(rest) and named.lower() not in self._cameras:
            return Asked("camera", f"{' '.join(words)!r} may be no camera that hangs")
        return SpotDraft("camera", named, facing)

    def _headed(self, head: Named, words: list[str], text: list[str]) -> Draft | Asked:
        """What the words say whose head is known; the head stands in the name, else in the text."""
        in_name = head_of(words) is not None
        own = words if in_name else text
        behind = own[head.at + head.n :]
        rest = own[: head.at] + behind
        draft: Draft
        if head.what == "sign":
            labeled = in_name and bool(behind) and behind != _without_label(behind)
            kept = [w for w in own[head.at : head.at + head.n] if w.lower() not in _DROPPED]
            rest = [*own[: head.at], *(kept if head.keep else []),
                    *(_without_label(behind) if in_name else behind)]  # fmt: skip
            draft = self._signs[head.kind].read(rest if in_name else [*words, *rest])
            own_unknown = self._signs[head.kind].read(rest).unknown
            if in_name:
                draft = self._signs[head.kind].read([*rest, *text])
            why = doubt_of(head, own, own_unknown, labeled)
            return Asked(head.kind, why) if why else draft
        why = doubt_of(head, own, rest, False)
        if why:
            return Asked(head.kind, why)
        all_words = [*rest, *text] if in_name else [*words, *rest]
        if head.what == "place":
            named = own if head.keep and in_name else all_words
            phrase = " ".join(own[head.at : head.at + head.n])
            return SpotDraft(head.kind, " ".join(named) or (phrase if head.keep else head.kind))
        return _area(head, [*own, *text] if head.keep and in_name else all_words, self.settings)


def _without_kind(kind: str, words: list[str]) -> tuple[list[str], bool]:
    """The words without the one that names the kind, and whether a label may follow it."""
    found = next((one for one in named_in(words) if one.kind == kind), None)
    if found is None:
        return words, False
    behind = words[found.at + found.n :]
    return words[: found.at] + behind, found.at == 0 and bool(behind)


def _without_label(rest: list[str]) -> list[str]:
    """Leave out the number that a receiver or a person puts behind a kind."""
    numbered = rest and _LABEL.fullmatch(rest[0].lower())
    unit = len(rest) > 1 and rest[1].lower() in _AFTER_NUMBER
    return rest[1:] if numbered and not unit else rest


def _area(head: Named, words: list[str], settings: Settings) -> SpotDraft:
    unit = "yd" if settings.units == "imperial" else "m"
    radii = [w for w in words if _RADIUS.fullmatch(w)]
    name = " ".join(w for w in words if w not in radii and w.lower() not in ("area", "radius"))
    radius = parse_length(radii[0], unit) if radii else None
    return SpotDraft(head.kind, name or head.kind, radius_m=radius)


def words_of_text(text: str) -> list[str]:
    """Give the words of a text as people meant them; those of unknown meaning as they stand."""
    plain = _WITH.sub("with ", text.translate(_QUOTES))
    return [
        _SLIPS.get(part.lower(), part)
        for word in _BREAK.split(plain)
        if word
        for part in _parts(word)
        if part
    ]


def _parts(word: str) -> Iterator[str]:
    """Part what was run together: `rubNE34in`, `rub_NE_34in`, `RubAlder2in`, `N-facing`."""
    if _CAMERA.fullmatch(word):
        yield word
        return
    run = _RUN.fullmatch(word)
    if run and (run["rest"][0].isupper() or any(c.isdigit() for c in run["rest"])):
        yield run["kind"]
        yield from _PART.findall(run["rest"])
        return
    pieces = _JOINED.split(word)
    joined = len(pieces) > 1 and _is_first(pieces[0])
    joined |= len(pieces) == 2 and pieces[1].lower() in ("facing", "side", "bound")
    if joined or "_" in word:
        for piece in filter(None, pieces if joined else word.split("_")):
            yield from _parts(piece)
        return
    camel = _CAMEL.split(word)
    if len(camel) > 1 and _is_first(camel[0]) and not camel[0].isupper():
        yield from camel
        return
    tail = _TAIL.fullmatch(word)
    yield from tail.groups() if tail else (word,)


def _is_first(piece: str) -> bool:
    lower = piece.lower()
    return _SLIPS.get(lower, lower) in _FIRST
