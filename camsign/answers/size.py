"""What the size of a rub says of the buck that made it: evidence with wide limits, never a verdict.

No validated rule from a rub's height or the trunk's diameter to age was found: all numbers here are
common practice, no source. Height says more than diameter; a broken trunk more than either.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import exp, hypot, pi, sqrt
from typing import Any

WAIST_M = 1.0
THICK_M = 0.08
# Chances of what is seen on a rub: by a mature buck, by a younger one.
TALL, THICK, BROKEN = (0.60, 0.25), (0.40, 0.20), (0.15, 0.03)
# Bare wood and marks on the far side 30 cm apart go with an inside spread of 43 to 46 cm.
SPREAD_PER_FAR = 0.445 / 0.30
SPREAD_OFF = 0.25
USUAL_SPREAD_M, USUAL_OFF_M = 0.40, 0.09
# The evidence is one-sided and hangs together: no more than this many times for or against.
MOST = 5.0


@dataclass(frozen=True, slots=True)
class Builds:
    """What is known of a buck: mature (None: unknown), and his spread with its range [m]."""

    mature: bool | None
    spread_m: tuple[float, float, float] | None = None


def size_likelihood(measures: Mapping[str, Any], buck: Builds) -> tuple[float, str | None]:
    """Give how much likelier a rub's measures are for this buck than for any, and why in words."""
    factor, words = _by_age(measures, buck.mature)
    far = measures.get("far_marks_m")
    if far and buck.spread_m:
        by_spread = _by_spread(float(far), buck.spread_m)
        factor *= by_spread
        words.append(
            f"marks on the far side {'fit' if by_spread >= 1 else 'hardly fit'} his spread"
        )
    bounded = min(max(factor, 1 / MOST), MOST)
    return bounded, "; ".join(words) or None


def _by_age(measures: Mapping[str, Any], mature: bool | None) -> tuple[float, list[str]]:
    signs = []
    if measures.get("top_m"):
        tall = float(measures["top_m"]) >= WAIST_M
        signs.append((TALL, tall, "tall rub" if tall else "low rub"))
    if measures.get("diameter_m"):
        thick = float(measures["diameter_m"]) >= THICK_M
        signs.append((THICK, thick, "thick trunk" if thick else "thin trunk"))
    if "broken" in _words(measures.get("damage")):
        signs.append((BROKEN, True, "trunk broken"))
    factor, words = 1.0, []
    for (old, young), seen, name in signs:
        if mature is not None:
            chances = (old, young) if seen else (1 - old, 1 - young)
            factor *= chances[0 if mature else 1] / (sum(chances) / 2)
            age = "mature" if mature else "young"
            words.append(f"{name}, he is {age}")
    return factor, words


def _by_spread(far_m: float, spread: tuple[float, float, float]) -> float:
    value, low, high = spread
    said = far_m * SPREAD_PER_FAR
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
