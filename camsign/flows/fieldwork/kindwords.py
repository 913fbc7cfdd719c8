"""Which word of a waypoint names what it is, and which words only sound like it.

A camera's name wins over words of sign in it, words behind `by`, `near`, `to` name where it is, and
what also names roads, parks and shops (`trail`, `track`, `path`) is asked about before it is sign.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import takewhile

from camsign.errors import UsageError
from camsign.flows.fieldwork.waywords import FACING, bearing_at
from camsign.flows.fieldwork.words import TABLES, listed, meanings
from camsign.logbook.things import AREA_KINDS, DOE_BEDDING, PLACE_KINDS
from camsign.sign.kinds import sign_words
from camsign.units import Bearing


@dataclass(frozen=True, slots=True)
class Named:
    """What the words `at` to `at + n` name: camera, place, area or sign, and of which kind.

    `keep`: the words belong to its name. `weak`: they also name what is none of a hunter's.
    """

    what: str
    kind: str
    at: int = 0
    n: int = 1
    keep: bool = False
    weak: bool = False


@dataclass(frozen=True, slots=True)
class Asked:
    """A name that may mean `guess`, a kind, and `why` that is asked first."""

    guess: str
    why: str


_OWN_ID = re.compile(r"cam[-_]?\d+[a-z]?", re.I)
_ID = re.compile(r"[a-z]{1,6}[-_]?\d{1,4}[a-z]?", re.I)
_SHORT = re.compile(r"t?c[-_]?\d{1,3}[a-z]?", re.I)
_NUMBER = re.compile(r"#?\d{1,4}[a-d]?", re.I)
_DAY = re.compile(r"\d{4}-\d\d-\d\d|\d{1,2}/\d{1,2}(?:/\d{2,4})?")
_CAMERA_WORDS = listed("kinds", "camera")
_NO_CAMERA = listed("kinds", "no_camera")
_EVERY_CAMERA = listed("kinds", "every_camera")
_BEHIND = listed("kinds", "behind")
_TO = frozenset(("to", "into"))
_WEAK = listed("kinds", "weak")
_OTHERS = listed("kinds", "others")
_MAPS = listed("kinds", "maps")
_DEER = listed("kinds", "deer")
_PLAIN = listed("kinds", "plain") | _DEER | FACING
# How the words go on that say where a camera looks.
_SIGHT = (FACING | {"pointing", "points", "aimed", "aim", "watching"}) - {"bare", "rubbed"}


def _phrases() -> dict[str, Named]:
    known = {word: Named("sign", kind) for word, kind in sign_words().items()}
    known |= {word: Named("sign", kind, keep=True) for word, kind in meanings("sign").items()}
    known |= {form: Named("place", kind) for kind in PLACE_KINDS for form in (kind, f"{kind}s")}
    known |= {kind: Named("area", kind) for kind in AREA_KINDS}
    known |= {word: Named("place", kind, keep=True) for word, kind in meanings("places").items()}
    known |= {word: Named("area", kind, keep=True) for word, kind in meanings("areas").items()}
    known |= dict.fromkeys(TABLES["beds"]["bedding"], Named("area", "bedding"))
    known |= dict.fromkeys(TABLES["beds"]["does"], Named("area", DOE_BEDDING))
    return known | dict.fromkeys(_CAMERA_WORDS, Named("camera", ""))


_PHRASES = _phrases()
_LONGEST = max(len(phrase.split()) for phrase in _PHRASES)


def named_in(words: Sequence[str]) -> list[Named]:
    """Give all phrases that name a kind, in order, the longest at each place."""
    lower = [w.lower() for w in words]
    found, i = [], 0
    while i < len(lower):
        one = _phrase_at(lower, i)
        if one is not None and one.kind + one.what != "sign":
            found.append(one)
        i += one.n if one else 1
    return found


def _phrase_at(lower: Sequence[str], i: int) -> Named | None:
    for n in range(min(_LONGEST, len(lower) - i), 0, -1):
        phrase = " ".join(lower[i : i + n])
        known = _PHRASES.get(phrase)
        if known is None and n == 1:
            # The number that a receiver puts behind a word belongs to its name, not to the word.
            known = _PHRASES.get(phrase.rstrip("0123456789").rstrip("-_#"))
        if known is not None:
            weak = phrase in _WEAK
            return Named(known.what, known.kind, i, n, known.keep, weak)
    return None


def head_of(words: Sequence[str]) -> Named | None:
    """Give the phrase that says what the whole is: `rub by the stand` is a rub, `rub stand` none.

    Cameras are found elsewhere; what stands behind `by` or `to` says where it is.
    """
    lower = [w.lower() for w in words]
    found = [one for one in named_in(words) if one.what != "camera"]
    if not found:
        return None
    first = _first_behind(lower)
    ahead = [one for one in found if one.at < first] or found
    stands = [one for one in ahead[1:] if one.kind == "stand" and one.what == "place"]
    if stands and ahead[0].what == "sign" and stands[0].at == ahead[0].at + ahead[0].n:
        return stands[0]
    # An area's kind stands first or last in its name; between, it is a part of another's.
    ahead = [
        one
        for one in ahead
        if one.what != "area" or one.keep or one.n > 1 or one.at in (0, len(words) - one.n)
    ]
    if not ahead:
        return None
    strong = [one for one in ahead if one.what == "sign" and not one.weak]
    loose = ahead[0].weak or ahead[0].keep or ahead[0].kind == "bedding"
    return strong[0] if strong and loose else ahead[0]


def _first_behind(lower: Sequence[str]) -> int:
    """Where the words begin that say where it is, behind something that says what it is."""
    for i, word in enumerate(lower[1:], 1):
        if word in _BEHIND or (word in _TO and bearing_at(lower, i + 1) is None):
            return i
    return len(lower)


def camera_at(words: Sequence[str]) -> int | None:
    """Give where a camera word stands that names what it is, or None.

    `rub by cam 3` is a rub; `bed cam 9` and `camera on scrape` are cameras.
    """
    lower = [w.lower() for w in words]
    at = next((i for i, w in enumerate(lower) if is_camera_word(w)), None)
    elsewhere = at and (at > _first_behind(lower) or lower[at - 1] in _TO)
    return None if elsewhere else at


def is_camera_word(lower: str) -> bool:
    """Whether a word names a camera, with or without a number: `cam`, `trailcam3`, `cam-07`."""
    return lower.rstrip("0123456789abcd").rstrip("-_#") in _CAMERA_WORDS or lower in _CAMERA_WORDS


def is_errand(words: Sequence[str]) -> bool:
    """Whether words beside a camera speak of one that does not hang: `cam spot`, `check cam 3`."""
    lower = [w.lower() for w in words]
    return not _NO_CAMERA.isdisjoint(lower) or lower[-2:] in (["cam", "tree"], ["camera", "tree"])


def doubt_of(one: Named, words: Sequence[str], unknown: Sequence[str], label: bool) -> str | None:
    """Say why a name is asked about before it is taken as what its words say, or None.

    Args:
        one: what its words name.
        words: all words of the name.
        unknown: those that mean nothing beside it.
        label: whether it ends in a number.
    """
    lower = [w.lower() for w in words]
    around = lower[max(0, one.at - 2) : one.at] + lower[one.at + one.n : one.at + one.n + 1]
    if one.what == "sign":
        other = next((w for w in around if w in _OTHERS), None)
        if other and other not in _BEHIND:
            return f"{other!r} sounds like another animal"
        if "mock" in lower:
            return "a mock scrape is yours, not his"
    ahead = lower[: max(_first_behind(lower), one.at + one.n)]
    if set(ahead) & _DEER:
        return None
    outside = {*lower[: one.at], *lower[one.at + one.n :]} & {u.lower() for u in unknown}
    maps = [w for w in ahead if w in _MAPS and w in outside]
    if maps and (one.weak or one.what == "sign"):
        return f"{maps[0]!r} sounds like a place on the map, not sign"
    if not one.weak or one.what == "place":
        return None
    strange = [w for w in map(str.lower, unknown) if w in ahead and w not in _PLAIN]
    if one.what == "sign" and any(bearing_at([w], 0, led=False) is None for w in strange):
        return (
            f"{' '.join(words[one.at : one.at + one.n])!r} could be something other than deer sign"
        )
    if one.what == "sign" and label and one.kind in ("trail", "track"):
        return f"{' '.join(words)!r} could be a numbered path"
    return None


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

    Its ID if one is written (`trail cam C07`); else its number behind what parts it from others
    (`cell cam 5`, `cam 3`; that it is a trail or game camera parts it from none); else its words
    (`ridge cam`, or `ridge` behind `cam`). A number that fits one known camera is that camera.

    Args:
        words: of its waypoint's name, without where it looks.
        at: where its camera word stands.
        known: names of cameras in the logbook, by lower case.

    Raises:
        UsageError: nothing tells it from other cameras.
    """
    word = words[at]
    before = [w for w in words[:at] if w.lower() not in _EVERY_CAMERA]
    behind = [w for w in words[at + 1 :] if not _DAY.fullmatch(w)]
    behind = list(takewhile(lambda w: w.lower() not in _BEHIND, behind))  # then a place is named
    named = next((w for w in (*before, *behind) if w.lower() in known), None)
    if named:
        return known[named.lower()]
    if _OWN_ID.fullmatch(word):
        return known.get(word.lower(), word)
    number = word.lstrip("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ-_#")
    after = [w for w in behind if w.lower() not in _EVERY_CAMERA]
    for written in (*after[:1], *before):
        if _ID.fullmatch(written) and not is_camera_word(written.lower()):
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
    left = [w for w in place if w.lower() not in _BEHIND and w.lower() not in _EVERY_CAMERA]
    if not left:
        raise UsageError("a camera without its ID", "write it like cam CAM07")
    return " ".join([*left, "cam"])


def _bare_number(name: str) -> str:
    found = re.fullmatch(r"(?:(?:trail|game)?[- ]?c(?:am(?:era)?)?[-_ #]?)?0*(\d+[a-d]?)", name)
    return found[1] if found else ""
