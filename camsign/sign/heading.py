"""Which way a deer went, as people take it down beside a sign.

Common practice, no source: a buck rubs the side of the trunk that he comes to, so the bare wood
looks back the way he came. Stand before the bare wood and look at it: you look the way he went. A
bare bearing always means travel; `bare SW` names the side the bare wood is on, and the travel is
opposite. `[field] bare_side_rule = false` in logbook.toml keeps such a side without reading it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

from camsign.errors import UsageError
from camsign.logbook.settings import Settings
from camsign.units import Bearing, compass_word, parse_bearing

_BARE = re.compile(
    r"(?:(?:bare|rubbed)(?:\s+side)?|b|side|fac(?:ing|es?)|look(?:s|ing))\s*[:=]?\s+(?P<rest>.+)"
    r"|(?:on\s+)?(?:the\s+)?(?P<side>\S+(?:\s+\S+)?)\s+side",
    re.I,
)
_GOING = re.compile(
    r"(?:travel(?:l?ed|l?ing|s)?|going|went|to|towards?|head(?:ed|ing))\s*[:=]?\s+(?P<rest>.+)",
    re.I,
)
_FROM = re.compile(r"(?:coming\s+|came\s+)?from\s*[:=]?\s+(?P<rest>.+)", re.I)


@dataclass(frozen=True, slots=True)
class SaidHeading:
    """A bearing as taken down: of travel, or (`bare`) of the side on which the bare wood is."""

    bearing: Bearing
    bare: bool = False


@dataclass(frozen=True, slots=True)
class ReadHeading:
    """What a heading was read as. `travel_deg` [deg true] is None where the rule is off.

    `taken_as` is kept beside it: what was taken down, such as `bare 225M`. `words` echo it.
    """

    travel_deg: float | None
    bare_deg: float | None
    taken_as: str
    words: str


def parse_heading(text: str) -> SaidHeading:
    """Read `NE`, `45`, `120M`, `going NE` as travel, `from SW` as travel away from there.

    `bare SW`, `facing 225T`, `SW side` name the bare side.

    Raises:
        UsageError: no such bearing.
    """
    bare = _BARE.fullmatch(text.strip())
    if bare:
        return SaidHeading(parse_bearing(bare["rest"] or bare["side"]), bare=True)
    origin = _FROM.fullmatch(text.strip())
    if origin:
        said = parse_bearing(origin["rest"])
        return SaidHeading(Bearing((said.deg + 180.0) % 360.0, said.reference))
    going = _GOING.fullmatch(text.strip())
    return SaidHeading(parse_bearing(going["rest"] if going else text))


def read_heading(
    kind: str, heading: SaidHeading, place: tuple[float, float], day: date, settings: Settings
) -> ReadHeading:
    """Turn a heading as taken down into degrees true and say in words what it was read as.

    Place (lat, lon [deg]) and day give the declination; the logbook's settings say which north is
    meant, and whether the rule of the bare side is on.

    Raises:
        UsageError: only a rub has a bare side.
    """
    # No compass is read finer, and what is kept in words then says it all.
    bearing = Bearing(round(heading.bearing.deg, 1), heading.bearing.reference)
    true = settings.to_true(bearing, place, day)
    # Which north was meant is kept even if the setting changes later.
    north = bearing.reference or settings.bearings
    said = f"{bearing.deg:g}{north[0].upper()}"
    named = _named(true, north == "magnetic")
    if not heading.bare:
        who = "he was" if kind in ("rub", "scrape") else "the deer was"
        return ReadHeading(true, None, said, f"read as: {who} headed {named}")
    if kind != "rub":
        raise UsageError(f"a {kind} has no bare side", "give the bearing of travel alone")
    if not settings.bare_side_rule:
        words = (
            f"rubbed side faces {named}; the way he was headed isn't read from it: the rule is off"
        )
        return ReadHeading(None, true, f"bare {said}", words)
    travel = (true + 180.0) % 360.0
    words = f"read as: rubbed side faces {named}, so he was headed {compass_word(travel)}"
    return ReadHeading(travel, true, f"bare {said}", words)


def _named(deg: float, of_magnetic: bool) -> str:
    """Say a bearing; that it is true where the one that was taken down was not."""
    return f"{compass_word(deg)} ({round(deg) % 360}°{' true' if of_magnetic else ''})"
