"""What the marks of a rub say of the size of its maker: evidence with wide limits, never a verdict.

No validated rule from a rub's height or its trunk to a buck's age was found; every number here is
common practice, no source, and chosen so wide that no single mark decides. Height says more than
the trunk's diameter, a broken trunk more than either.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, hypot, pi, sqrt
from typing import Any

from camsign.logbook.settings import Settings
from camsign.units import UnitSystem, format_length

THICK_M = 0.08
# Marks so far above the bare wood are taken for those of long tines.
LONG_TINES_M = 0.30
# Chances of what is seen on a rub: by a mature buck, by a younger one.
TALL, THICK, BROKEN, TINES = (0.60, 0.25), (0.40, 0.20), (0.15, 0.03), (0.30, 0.12)
# Bare wood and marks on the far side 30 cm apart go with an inside spread of 43 to 46 cm, give or
# take a quarter.
SPREAD_PER_FAR = (0.43 / 0.30, 0.46 / 0.30)
SPREAD_OFF = 0.25
WAIST_M = 1.0
USUAL_SPREAD_M, USUAL_OFF_M = 0.40, 0.09
# The evidence is one-sided and hangs together: no more than this many times for one buck as for
# another, so each buck's own factor stays within its root.
MOST = 5.0
SPREAD_ASSUMES = (
    "if the brow tines or the beams' bases did the rubbing and the beams reached round the trunk"
)


@dataclass(frozen=True, slots=True)
class Builds:
    """What is known of a buck: mature (None: unknown), and his spread with its range [m]."""

    mature: bool | None
    spread_m: tuple[float, float, float] | None = None


@dataclass(frozen=True, slots=True)
class Evidence:
    """One thing seen on a rub, in words, with the chances to see it.

    `if_mature`, `if_young`: how often such a rub of either would show it; None where it speaks of
    the spread instead, `spread_m` from low to high [m], which rests on `assumes`.
    """

    words: str
    if_mature: float | None = None
    if_young: float | None = None
    spread_m: tuple[float, float] | None = None
    assumes: str | None = None


@dataclass(frozen=True, slots=True)
class Mark:
    """What a rub's size shows, and the age of the bucks it points to: mature or young."""

    mark: str
    points_to: str


def size_evidence(
    measures: Mapping[str, Any], waist: float = WAIST_M, units: UnitSystem = "metric"
) -> list[Evidence]:
    """Give what a rub's measures say of its maker; what was not measured says nothing.

    `measures` by kept name, heights above bare ground [m]; a top is held against `waist` [m].
    """
    found = [Evidence(name, round(m, 4), round(y, 4)) for name, m, y in _seen(measures, waist)]
    far = measures.get("far_marks_m")
    if far:
        low, high = spread_range(float(far))
        ends = (format_length(m, units, small=True) for m in (low, high))
        words = f"inside spread {' to '.join(ends)}"
        found.append(Evidence(words, spread_m=(low, high), assumes=SPREAD_ASSUMES))
    return found


def size_marks(measures: Mapping[str, Any], settings: Settings) -> tuple[Mark, ...]:
    """Give what a rub's measures show, each with the age whose rubs show it more often."""
    seen = _seen(measures, settings.waist_m)
    return tuple(Mark(name, "mature" if old > young else "young") for name, old, young in seen)


def spread_range(far_marks_m: float) -> tuple[float, float]:
    """Give the inside spread, low and high [m], that goes with marks so far round the trunk [m]."""
    low, high = SPREAD_PER_FAR
    return far_marks_m * low * (1 - SPREAD_OFF), far_marks_m * high * (1 + SPREAD_OFF)


def size_likelihood(
    measures: Mapping[str, Any], buck: Builds, settings: Settings | None = None
) -> tuple[float, str | None]:
    """Give how much likelier a rub's measures are for this buck than for any, and why in words.

    Between any two bucks it is bounded by MOST, since one buck's marks hang together.
    """
    waist = settings.waist_m if settings else WAIST_M
    factor, words = _by_age(_seen(measures, waist), buck.mature)
    far = measures.get("far_marks_m")
    if far and buck.spread_m:
        by_spread = _by_spread(float(far), buck.spread_m)
        factor *= by_spread
        words.append(
            f"marks on the far side {'fit' if by_spread >= 1 else 'hardly fit'} his spread"
        )
    return min(max(factor, 1 / sqrt(MOST)), sqrt(MOST)), "; ".join(words) or None


_Seen = tuple[str, float, float]


def _seen(measures: Mapping[str, Any], waist: float) -> list[_Seen]:
    """What was looked at: its name, and the chances of a mature and a young buck to show it."""
    found: list[_Seen] = []
    top, diameter, tine = (measures.get(k) for k in ("top_m", "diameter_m", "tine_m"))
    if top:
        tall = float(top) >= waist
        found.append(("tall rub", *TALL) if tall else ("low rub", 1 - TALL[0], 1 - TALL[1]))
    if diameter:
        thick = float(diameter) >= THICK_M
        found.append(
            ("thick trunk", *THICK) if thick else ("thin trunk", 1 - THICK[0], 1 - THICK[1])
        )
    if "broken" in _words(measures.get("damage")):
        found.append(("trunk broken", *BROKEN))
    # Short tines leave their marks nearer; no marks at all may have been overlooked.
    if top and tine and float(tine) - float(top) >= LONG_TINES_M:
        found.append(("marks of long tines", *TINES))
    return found


def _by_age(seen: Sequence[_Seen], mature: bool | None) -> tuple[float, list[str]]:
    factor, words = 1.0, []
    for name, old, young in seen if mature is not None else ():
        by_this = (old if mature else young) / ((old + young) / 2)
        factor *= by_this
        way = "more" if by_this > 1 else "less"
        words.append(f"{name}: {way} likely from a {'mature' if mature else 'young'} buck like him")
    return factor, words


def _by_spread(far_m: float, spread: tuple[float, float, float]) -> float:
    value, low, high = spread
    said = far_m * sum(SPREAD_PER_FAR) / 2
    off = hypot(SPREAD_OFF * said, (high - low) / 4)
    fits = _normal(value - said, off)
    usual = _normal(USUAL_SPREAD_M - said, hypot(SPREAD_OFF * said, USUAL_OFF_M))
    return fits / usual


def _normal(x: float, off: float) -> float:
    return exp(-(x**2) / (2 * off**2)) / (off * sqrt(2 * pi))


def _words(value: Any) -> list[str]:
    if isinstance(value, str):
        return value.replace(",", " ").split()
    return [str(word) for word in value] if isinstance(value, list | tuple) else []
