"""Who was seen from a stand, as people write it: `8pt 40yd E 4:40pm`, `2 does`, `Split Brow 60yd`.

One phrase each, parted by a semicolon, a comma or `and`. Its words may come in any order, but a
bare number counts them before the word for them and says how near behind it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial

from camsign.errors import UsageError
from camsign.logbook.naming import key
from camsign.sits.hourwords import read_clock
from camsign.tags.vocabulary import subject_of_word
from camsign.units import UnitSystem, parse_bearing, parse_length

_POINTS = re.compile(r"(\d{1,2})[- ]?(?:pts?|points?|pointer)", re.IGNORECASE)
_LENGTH = re.compile(r"\d[\d.]*(?:yds?|yards?|ft|feet|m)", re.IGNORECASE)
_WINDS = r"(?:north|south|east|west)"
_COMPASS = re.compile(rf"(?:{_WINDS}|[NESW])(?:-?(?:{_WINDS}|[NESW])){{0,2}}", re.IGNORECASE)
_GOING = frozenset(("to", "toward", "towards", "going", "went", "heading", "headed", "bound"))
_APART = r"[;,]|\b(?:and|with|but)\b"
_HOW = "write it like 8pt 40yd E 4:40pm, 2 does, or a buck's name"
_MATURE = frozenset(("mature", "shooter"))
_FILLERS = frozenset(("at", "from", "the", "a", "an", "came", "out", "of", "saw", "and"))
_NOTHING = frozenset(("nothing", "none", "no deer"))
MOST = 200
"""At most so many of one kind at once."""


@dataclass(frozen=True, slots=True)
class Seen:
    """Who was seen on a sit; times UTC, `from_deg` where it came from [deg], `distance_m` [m]."""

    what: str
    buck: str | None = None
    points: int | None = None
    mature: bool | None = None
    count: int = 1
    at: datetime | None = None
    from_deg: float | None = None
    distance_m: float | None = None
    spooked: bool = False
    note: str | None = None


def read_seen(
    text: str,
    bucks: Mapping[str, str],
    span: tuple[datetime, datetime],
    tz: str,
    units: UnitSystem,
    spooked: bool = False,
) -> list[Seen]:
    """Read phrases parted by semicolons, commas or `and`; `no bucks` says that none was seen.

    `bucks` by id, which is what `buck` then holds. `span`: from when to when one sat (UTC). `tz`:
    the logbook's zone. `units`: yards or meters where no unit is written.

    Raises:
        UsageError: a phrase names nobody, or what it says cannot be.
    """
    if key(text) in _NOTHING or not text.strip(" ;,"):
        return []
    phrases: list[str] = []
    for mark, piece in _pieces(text, bucks):
        # `8pt, 40yd, from the east` is one buck, and so is `8pt, mature`.
        if phrases and (not _names_one(piece, bucks) or _describes(mark, piece, phrases[-1])):
            phrases[-1] += f" {piece}"
        else:
            phrases.append(piece)
    of_word = partial(_word, span=span, tz=tz, units=units)
    met = [_phrase(p, bucks, of_word) for p in phrases if not _is_none(p, bucks)]
    return [replace(one, spooked=spooked) for one in met]


def _pieces(text: str, bucks: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """Pieces with the mark before each; a mark within a buck's name parts nothing."""
    names = "|".join(re.escape(n) for n in sorted(bucks.values(), key=len, reverse=True) if n)
    kept = rf"(?<!\w)(?:{names})(?!\w)|" if names else ""
    mark, begin = "", 0
    for found in re.finditer(rf"{kept}(?P<mark>{_APART})", text, re.IGNORECASE):
        if found["mark"] is not None:
            yield from ((mark, one) for one in _runs(text[begin : found.start()], bucks))
            mark, begin = found["mark"], found.end()
    yield from ((mark, one) for one in _runs(text[begin:], bucks))


def _runs(piece: str, bucks: Mapping[str, str]) -> Iterator[str]:
    """`8pt 40 2 does` in two: where a count or an article stands before another one's word."""
    words = _joined(piece).split()
    begin = 0
    for i in range(1, len(words) - 1):
        counts = words[i].isdecimal() or words[i].lower() in ("a", "an", "no")
        if counts and _is_who(words[i + 1]) and _names_one(" ".join(words[begin:i]), bucks):
            yield " ".join(words[begin:i])
            begin = i
    if words:
        yield " ".join(words[begin:])


def _describes(mark: str, piece: str, before: str) -> bool:
    """Whether `mature` alone speaks of the buck before it; `and a shooter` is another one."""
    words = piece.lower().split() if mark.isalpha() else [w.lower() for w in _words(piece)]
    subjects = [w for w in _words(before) if subject_of_word(w)]
    bucks = all(_one_word(w) not in ("doe", "fawn") for w in subjects)
    return bool(words) and bucks and all(w in _MATURE for w in words)


def _is_none(phrase: str, bucks: Mapping[str, str]) -> bool:
    """Whether a phrase says that there was none: `no bucks`."""
    _, rest = _named(phrase, bucks)
    return key(phrase) in _NOTHING or next(_words(rest), "").lower() == "no"


def _names_one(text: str, bucks: Mapping[str, str]) -> bool:
    """Whether a piece says who was seen."""
    who, rest = _named(text, bucks)
    return who is not None or any(map(_is_who, _words(rest)))


def _is_who(word: str) -> bool:
    """Whether a word says who was seen."""
    return bool(_POINTS.fullmatch(word) or word.lower() in _MATURE or subject_of_word(word))


def _phrase(
    text: str, bucks: Mapping[str, str], of_word: Callable[[Seen, str], Seen | None]
) -> Seen:
    who, rest = _named(text, bucks)
    met = who or Seen("")
    left: list[str] = []
    for word in _words(rest):
        # `going east` is not where it came from.
        going = bool(left) and left[-1].lower() in _GOING and _COMPASS.fullmatch(word)
        read = None if going else of_word(met, word)
        if read is None:
            left.append(word)
        else:
            met = read
    if not met.what:
        raise UsageError(f"who was seen is not understood in {text[:60]!r}", _HOW)
    if not 1 <= met.count <= MOST:
        raise UsageError(f"{met.count} at once is not between 1 and {MOST}", _HOW)
    return replace(met, note=" ".join(left) or None)


def _named(text: str, bucks: Mapping[str, str]) -> tuple[Seen | None, str]:
    """The buck whose name a phrase holds, the longest first, and what is left of it."""
    for buck, name in sorted(bucks.items(), key=lambda one: -len(one[1])):
        found = re.search(rf"(?<!\w){re.escape(name)}(?!\w)", text, re.IGNORECASE)
        if found:
            return Seen("buck", buck=buck), text[: found.start()] + " " + text[found.end() :]
    return None, text


def _words(text: str) -> Iterator[str]:
    """Words of a phrase that say something."""
    for word in _joined(text).replace(",", " ").split():
        if word.lower() not in _FILLERS:
            yield word


def _joined(text: str) -> str:
    """`40 yd`, `8 pt`, `4:40 pm` and `north east` as one word each."""
    joined = re.sub(
        r"(\d)\s+(yds?|yards?|ft|feet|m|pts?|points?|pointer|am|pm)\b", r"\1\2", text, flags=re.I
    )
    return re.sub(rf"\b({_WINDS})\s+(?={_WINDS}\b)", r"\1", joined, flags=re.I)


def _word(
    met: Seen, word: str, span: tuple[datetime, datetime], tz: str, units: UnitSystem
) -> Seen | None:
    """What one word adds; None if it means nothing here."""
    points = _POINTS.fullmatch(word)
    if points:
        return replace(met, what="buck", points=int(points[1]))
    if _LENGTH.fullmatch(word):
        return replace(met, distance_m=parse_length(word, "yd" if units == "imperial" else "m"))
    if _COMPASS.fullmatch(word):
        return _came_from(met, word)
    if word.lower() in _MATURE:
        return replace(met, what=met.what or "buck", mature=True)
    if word.isdecimal() and len(word) < 4:
        return _numbered(met, word, units)
    at = read_clock(word, *span, tz)
    if at is not None:
        return replace(met, at=at)
    subject = subject_of_word(word)
    if subject is None or subject.what == "nothing":
        return None
    return replace(met, what=_one_word(word))


def _came_from(met: Seen, word: str) -> Seen | None:
    """A compass point or its words; None for what only looks like one: `we`."""
    try:
        return replace(met, from_deg=parse_bearing(word).deg)
    except UsageError:
        return None


def _numbered(met: Seen, word: str, units: UnitSystem) -> Seen | None:
    """A bare number: how many before the word for them, how near behind it."""
    if not met.what:
        return replace(met, count=int(word))
    if met.distance_m is not None:
        return None
    return replace(met, distance_m=parse_length(word, "yd" if units == "imperial" else "m"))


def _one_word(word: str) -> str:
    """The word for one of them: `does` is doe."""
    plain = key(word)
    single = plain.removesuffix("s")
    return single if subject_of_word(single) == subject_of_word(plain) else plain
