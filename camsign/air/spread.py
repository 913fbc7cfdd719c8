"""How wide the wind swings, and the chance that scent let go here is carried over there.

Within an hour the wind's bearing wanders about its mean. How far, by stability class, is the
middle of the class's band of sigma-theta in NRC Regulatory Guide 1.23 (1972), table 2, whose
bounds EPA-454/R-99-005 (2000), table 6-8a, repeats: A above 22.5 degrees, B 17.5 to 22.5, C 12.5
to 17.5, D 7.5 to 12.5, E 3.8 to 7.5, F 2.1 to 3.8, G below (values from memory).
In light wind the air meanders far more than its class says: S. R. Hanna, J. Climate Appl. Meteorol.
22 (1983) 1424-1430. Its crosswind part does not fall below about half a meter a second (value from
memory), so the swing is that over the speed.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, degrees, hypot

# Each class's sigma-theta [deg], A to G: a value inside its band.
SIGMA_DEG = (25.0, 20.0, 15.0, 10.0, 5.0, 2.5, 1.7)
CROSSWIND_MS = 0.5
# A plume's edge is where a tenth of its middle is left: 2.15 standard deviations (Gaussian).
EDGE = 2.15
# How far a forecast's wind is off [deg, standard deviation]; common practice, no source.
FORECAST_DEG = 25.0
# Farther than this scent is not counted [m]; common practice, no source.
SCENT_REACH_M = 400.0
CLEAN_BELOW, BLOWN_FROM = 0.10, 0.40


@dataclass(frozen=True, slots=True)
class Scent:
    """Where the scent of somebody who sits still goes in one hour.

    `toward_deg` is the bearing to which the wind blows [deg true], None for air without a
    direction; `half_width_deg` how far to either side the scent reaches within the hour;
    `doubt_deg` how far the whole stream may be off.
    """

    toward_deg: float | None
    half_width_deg: float
    doubt_deg: float


def swing_deg(stability: int, speed_ms: float) -> float:
    """Standard deviation of the wind's bearing within an hour [deg], at most 104 (any bearing).

    The larger of what turbulence gives (by class, 1 to 7) and what light air's meander gives.
    """
    turbulent = SIGMA_DEG[stability - 1]
    meander = degrees(atan2(CROSSWIND_MS, max(speed_ms, 1e-6)))
    return min(104.0, hypot(turbulent, meander))


def scent(
    from_deg: float | None, speed_ms: float, stability: int, doubt_deg: float = FORECAST_DEG
) -> Scent:
    """Where scent goes in a wind from a bearing [deg true] of a speed at 10 m [m/s].

    A wind without a bearing (calm, variable) carries scent every way.
    """
    if from_deg is None or speed_ms < CROSSWIND_MS:
        return Scent(None, 180.0, doubt_deg)
    half = min(180.0, EDGE * swing_deg(stability, speed_ms))
    return Scent((from_deg + 180) % 360, half, doubt_deg)


def word_for(chance: float) -> str:
    """The word for a chance that scent gets there: clean, risky or blown."""
    if chance < CLEAN_BELOW:
        return "clean"
    return "blown" if chance >= BLOWN_FROM else "risky"
