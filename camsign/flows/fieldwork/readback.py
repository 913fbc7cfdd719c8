"""What was read of a sign, said back in a few words before it is taken."""

from __future__ import annotations

from typing import Any

from camsign.flows.fieldwork.sign_tables import Ready
from camsign.units import UnitSystem, compass_word, format_length

_ARROWS = "↑↗→↘↓↙←↖"
# The bare side is told by its own words.
_ELSEWHERE = frozenset({"bare_deg"})


def way_words(travel: float) -> str:
    """Give a travel [deg true] as an arrow and words, such as `↙ going SW`."""
    return f"{_ARROWS[round(travel % 360 / 45) % 8]} going {compass_word(travel)}"


def facing_words(deg: float) -> str:
    """Give where a camera looks [deg] as an arrow and words, such as `↗ looks NE`."""
    return f"{_ARROWS[round(deg % 360 / 45) % 8]} looks {compass_word(deg)}"


def way_of(r: Ready) -> str:
    """Give which way a sign was read to go, "" if it says none."""
    travel = r.of_sighting.get("travel_deg")
    return "" if travel is None else way_words(travel)


def read_as(r: Ready, units: UnitSystem) -> str:
    """Give what else was read of a sign: its bare side, tree, look and measures."""
    measures = r.of_sighting.get("measures") or {}
    bare = measures.get("bare_deg")
    said = [f"bare side {compass_word(bare)}"] if bare is not None else []
    said += [w for w in (r.of_sign.get("species"), r.of_sighting.get("state")) if w]
    said += [_measure(n, v, units) for n, v in measures.items() if n not in _ELSEWHERE]
    said += ["as you said"] if r.chosen else []
    return ", ".join(said)


def _measure(name: str, value: Any, units: UnitSystem) -> str:
    word = name.removesuffix("_m").removesuffix("_deg").replace("_", " ")
    if value is True:
        return word
    if isinstance(value, list):
        return ", ".join(str(v) for v in value)
    if name.endswith("_m"):
        return f"{word} {format_length(value, units, small=True)}"
    if name.endswith("_deg"):
        return f"{word} {compass_word(value)}"
    return f"{word} {value:g}"
