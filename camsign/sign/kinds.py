"""Kinds of sign, and what can be measured of each: names, limits, words.

Measures are kept in meters and degrees true under names that end in their unit. Heights of a rub
are above bare ground: snow under the observer has been added.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from camsign.errors import UsageError
from camsign.logbook.naming import key, meant
from camsign.logbook.settings import Settings
from camsign.logbook.things import BED_OF, SIGN_KINDS
from camsign.units import UnitSystem, format_bearing, format_length, parse_length

# Kinds that say which way a deer went. A trail is walked both ways; its bearing is one of the two.
TRAVELED = frozenset({"rub", "scrape", "track", "trail"})
_ALIASES = {"shed antler": "shed", "antler": "shed", "tracks": "track", "print": "track"}
_ALIASES |= {"dropping": "droppings", "scat": "droppings", "pellets": "droppings"}
_ALIASES |= {"browsing": "browse", "path": "trail"}


@dataclass(frozen=True, slots=True)
class Measure:
    """What can be measured: its kept name, its sort, its limits [m, deg or number], its words."""

    name: str
    sort: str
    low: float = 0.0
    high: float = 0.0
    words: tuple[str, ...] = ()


def _length(name: str, low: float, high: float) -> Measure:
    return Measure(f"{name}_m", "length", low, high)


# The limits only catch slips: a height of 41 m, a trunk of 3 m.
MEASURES: dict[str, dict[str, Measure]] = {
    "rub": {
        "diameter": _length("diameter", 0.003, 1.5),
        "top": _length("top", 0.1, 3.5),
        "bottom": _length("bottom", 0.0, 3.0),
        "snow": _length("snow", 0.0, 3.0),
        "tine": _length("tine", 0.1, 4.0),
        "far_marks": _length("far_marks", 0.01, 2.0),
        "marks": Measure("marks", "words", words=("nicks", "punctures", "gouges")),
        "damage": Measure("damage", "words", words=("shaved", "broken")),
    },
    "scrape": {
        "length": _length("length", 0.05, 6.0),
        "width": _length("width", 0.05, 6.0),
        "branch": _length("branch", 0.3, 3.5),
    },
    "bed": {
        "length": _length("length", 0.2, 3.0),
        "width": _length("width", 0.2, 3.0),
        "aspect": Measure("aspect_deg", "bearing", 0.0, 360.0),
        "hair": Measure("hair", "flag"),
        "droppings": Measure("droppings", "flag"),
    },
    "track": {"length": _length("length", 0.01, 0.4), "width": _length("width", 0.01, 0.4)},
    "droppings": {
        "length": _length("length", 0.003, 0.2),
        "count": Measure("count", "count", 1, 1000),
    },
    "trail": {"width": _length("width", 0.05, 10.0)},
    "browse": {"height": _length("height", 0.05, 4.0)},
    "shed": {
        "points": Measure("points", "count", 1, 40),
        "side": Measure("side", "words", words=("left", "right")),
    },
}
# A bed so long is likely a buck's (common practice, no source): 50 in.
BUCK_BED_M = 1.27
# A rub's heights that are measured from where the observer stands.
_ABOVE_SNOW = ("top_m", "bottom_m", "tine_m")


def sign_words() -> dict[str, str]:
    """Give every word that names a kind of sign, with the kind; plurals too."""
    known = {**_ALIASES, **{kind: kind for kind in SIGN_KINDS}}
    return {f"{word}s": kind for word, kind in known.items()} | known


_WORDS = sign_words()


def sign_kind(word: str) -> str:
    """Give the kind of sign that a word names; plurals too. Raises UsageError if it names none."""
    kind = _WORDS.get(key(word))
    if kind is None:
        raise UsageError(f"{word.strip()!r} is no kind of sign", meant(word, _WORDS, SIGN_KINDS))
    return kind


def checked_bed_of(kind: str, said: str | None) -> str | None:
    """Give whose a bed is: buck, doe or unknown. Raises UsageError for other words and kinds."""
    if said is None or not said.strip():
        return None
    word = key(said).removesuffix("s")
    if kind != "bed":
        raise UsageError(f"a {kind} is nobody's bed", "leave out whose it is")
    if word not in BED_OF:
        raise UsageError(f"whose bed (--of) is buck, doe or unknown, not {said.strip()!r}")
    return word


def looks_like_bucks(kind: str, bed_of: str | None, measures: Mapping[str, Any]) -> bool:
    """Tell whether a bed nobody ascribed is long enough for a buck's (common practice)."""
    known = bed_of in ("buck", "doe")
    return kind == "bed" and not known and float(measures.get("length_m") or 0) >= BUCK_BED_M


def parse_measures(kind: str, said: Mapping[str, str], settings: Settings) -> dict[str, Any]:
    """Read measures as people write them: `top` → `34in`, `hair` → `yes`, `marks` → `nicks`.

    A length without a unit is in inches or centimeters, by the setting `units`. Names may also be
    the kept ones (`top_m`), whose bare numbers are in that unit.

    Raises:
        UsageError: this kind has no such measure, or its text cannot be read.
    """
    usual = "in" if settings.units == "imperial" else "cm"
    values: dict[str, Any] = {}
    for name, text in said.items():
        measure = _measure(kind, name)
        unit = "m" if name == measure.name else usual
        values[measure.name] = _read(measure, text, unit, f"{name} of a {kind}")
    return values


def checked_measures(kind: str, values: Mapping[str, Any]) -> dict[str, Any]:
    """Give measures as they are kept: within limits, a rub's heights above bare ground.

    `values` by kept name [m, deg, number, flag or list of words].

    Raises:
        UsageError: no such measure, outside its limits, or top below bottom.
    """
    kept = {name: value for name, value in values.items() if value is not None}
    for name, value in kept.items():
        _check(_measure(kind, name), value, f"{name.removesuffix('_m')} of a {kind}")
    snow = kept.get("snow_m", 0.0)
    if snow:
        kept |= {n: round(kept[n] + snow, 4) for n in _ABOVE_SNOW if n in kept}
    top, bottom = kept.get("top_m"), kept.get("bottom_m")
    if top is not None and bottom is not None and top <= bottom:
        raise UsageError(
            f"the top of the bare wood ({_cm(top)}) lies below its bottom ({_cm(bottom)})",
            "swap them or mend one",
        )
    return kept


def measure_words(name: str, value: Any, units: UnitSystem) -> str:
    """Write one measure by its kept name, which says its unit: `top_m` 0.99 as `top 39 in`."""
    if name.endswith("_m"):
        said = format_length(value, units, small=True)
    elif name.endswith("_deg"):
        said = format_bearing(value)
    elif isinstance(value, list):
        said = " ".join(value)
    else:
        said = ("yes" if value else "no") if isinstance(value, bool) else f"{value:g}"
    return f"{name.removesuffix('_m').removesuffix('_deg').replace('_', ' ')} {said}"


def _measure(kind: str, name: str) -> Measure:
    of_kind, name = MEASURES[kind], name.strip().replace(" ", "_")
    for word, measure in of_kind.items():
        if name in (word, measure.name):
            return measure
    raise UsageError(f"a {kind} has no {name!r}", f"it has {', '.join(of_kind)}")


def _read(measure: Measure, text: str, unit: str, where: str) -> Any:
    if measure.sort == "length":
        return parse_length(text, unit)
    if measure.sort == "flag":
        return _yes(text, where)
    if measure.sort == "words":
        return [word for word in text.lower().replace(",", " ").replace(";", " ").split() if word]
    try:
        return float(text) if measure.sort == "bearing" else int(text)
    except ValueError:
        raise UsageError(f"{where} is {text.strip()!r}, which is no number") from None


def _yes(text: str, where: str) -> bool:
    said = text.strip().lower()
    if said in ("yes", "y", "true", "1", "x"):
        return True
    if said in ("no", "n", "false", "0", ""):
        return False
    raise UsageError(f"{where} is {text.strip()!r}", "say yes or no")


def _check(measure: Measure, value: Any, where: str) -> None:
    if measure.sort == "words":
        unknown = [word for word in value if word not in measure.words]
        if unknown:
            raise UsageError(
                f"{where} cannot be {', '.join(unknown)}", f"say {', '.join(measure.words)}"
            )
    elif measure.sort != "flag" and not measure.low <= value <= measure.high:
        low, high = measure.low, measure.high
        span = f"{_cm(low)} to {_cm(high)}" if measure.sort == "length" else f"{low:g} to {high:g}"
        told = f"{value:g} m" if measure.sort == "length" else f"{value:g}"
        raise UsageError(f"{where} cannot be {told}: {span} is possible", "mend the number or unit")


def _cm(m: float) -> str:
    return format_length(m, "metric", small=True)
