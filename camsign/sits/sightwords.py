"""Who was seen from a stand, as people write it: `8pt 40yd E 4:40pm`, `2 does`, `Split Brow 60yd`.

One phrase each, parted by a semicolon or comma. Its words may come in any order.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from camsign.errors import UsageError
from camsign.logbook.naming import key
from camsign.sits.hourwords import read_clock
from camsign.tags.vocabulary import subject_of_word
from camsign.units import parse_bearing, parse_length

if TYPE_CHECKING:
    from camsign.units import UnitSystem

_POINTS = re.compile(r"(\d{1,2})[- ]?(?:pts?|points?|pointer)", re.IGNORECASE)
_LENGTH = re.compile(r"\d[\d.]*(?:yds?|yards?|ft|feet|m)", re.IGNORECASE)
_COMPASS = re.compile(r"[NS]?[NESW][EW]?", re.IGNORECASE)
_HOW = "write it like 8pt 40yd E 4:40pm, 2 does, or a buck's name"
_MATURE = frozenset(("mature", "shooter"))
_FILLERS = frozenset(("at", "from", "the", "a", "an", "came", "out", "of", "saw", "and"))
_NOTHING = frozenset(("nothing", "none", "no deer"))
MOST = 200
"""At most so many of one kind at once."""


@dataclass(frozen=True, slots=True)
class Met:
    """Who was seen: `what`, the word for it; `buck`, his id; points, mature, how many; when (UTC);
    where it came from [deg] and how near it was [m]; whether it noticed you.
    """

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


def read_met(
    text: str,
    bucks: Mapping[str, str],
    span: tuple[datetime, datetime],
    tz: str,
    units: UnitSystem,
    spooked: bool = False,
) -> list[Met]:
    """Read phrases parted by semicolons or commas.

    Args:
        text: what was written; `nothing` gives none.
        bucks: names by id.
        span: from when to when one sat (UTC).
        tz: the logbook's zone.
        units: yards or meters where no unit is written.
        spooked: these noticed you.

    Raises:
        UsageError: a phrase names nobody, or what it says cannot be.
    """
    if key(text) in _NOTHING or not text.strip(" ;,"):
        return []
    phrases: list[str] = []
    for piece in filter(str.strip, re.split("[;,]", text)):
        # `8pt, 40yd, from the east` is one buck.
        if phrases and not _names_one(piece, bucks):
            phrases[-1] += f" {piece}"
        else:
            phrases.append(piece)
    return [replace(_phrase(p, bucks, span, tz, units), spooked=spooked) for p in phrases]


def _names_one(text: str, bucks: Mapping[str, str]) -> bool:
    """Whether a piece says who was seen."""
    who, rest = _named(text, bucks)
    return who is not None or any(
        _POINTS.fullmatch(w) or w.lower() in _MATURE or subject_of_word(w) for w in _words(rest)
    )


def _phrase(
    text: str,
    bucks: Mapping[str, str],
    span: tuple[datetime, datetime],
    tz: str,
    units: UnitSystem,
) -> Met:
    who, rest = _named(text, bucks)
    met, left = who or Met(""), []
    for word in _words(rest):
        read = _word(met, word, span, tz, units)
        if read is None:
            left.append(word)
        else:
            met = read
    if not met.what:
        raise UsageError(f"who was seen is not understood in {text[:60]!r}", _HOW)
    if not 1 <= met.count <= MOST:
        raise UsageError(f"{met.count} at once is not between 1 and {MOST}", _HOW)
    return replace(met, note=" ".join(left) or None)


def _named(text: str, bucks: Mapping[str, str]) -> tuple[Met | None, str]:
    """The buck whose name a phrase holds, the longest first, and what is left of it."""
    for buck, name in sorted(bucks.items(), key=lambda one: -len(one[1])):
        found = re.search(rf"(?<!\w){re.escape(name)}(?!\w)", text, re.IGNORECASE)
        if found:
            return Met("buck", buck=buck), text[: found.start()] + " " + text[found.end() :]
    return None, text


def _words(text: str) -> Iterator[str]:
    """Words of a phrase: `40 yd`, `8 pt` and `4:40 pm` are one each."""
    joined = re.sub(
        r"(\d)\s+(yds?|yards?|ft|feet|m|pts?|points?|pointer|am|pm)\b", r"\1\2", text, flags=re.I
    )
    for word in joined.replace(",", " ").split():
        if word.lower() not in _FILLERS:
            yield word


def _word(
    met: Met, word: str, span: tuple[datetime, datetime], tz: str, units: UnitSystem
) -> Met | None:
    """What one word adds; None if it means nothing here."""
    points = _POINTS.fullmatch(word)
    if points:
        return replace(met, what="buck", points=int(points[1]))
    if _LENGTH.fullmatch(word):
        return replace(met, distance_m=parse_length(word, "yd" if units == "imperial" else "m"))
    if _COMPASS.fullmatch(word):
        return replace(met, from_deg=parse_bearing(word).deg)
    if word.lower() in _MATURE:
        return replace(met, what=met.what or "buck", mature=True)
    if word.isdecimal() and len(word) < 4:
        return replace(met, count=int(word))
    at = read_clock(word, *span, tz)
    if at is not None:
        return replace(met, at=at)
    subject = subject_of_word(word)
    if subject is None or subject.what == "nothing":
        return None
    return replace(met, what=_one_word(word))


def _one_word(word: str) -> str:
    """The word for one of them: `does` is doe."""
    plain = key(word)
    single = plain.removesuffix("s")
    return single if subject_of_word(single) == subject_of_word(plain) else plain
