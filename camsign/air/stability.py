"""How steady the air is: Turner's seven stability classes from sun, cloud and wind.

Source: D. B. Turner, A diffusion model for an urban area, J. Appl. Meteorol. 3 (1964) 83-91, as
printed in EPA-454/R-99-005 (2000), section 6.4.1, tables 6-4 to 6-6. Class 1 (A) is air that
tumbles, 4 (D) is neutral, 7 (G) is air that lies still in layers.
"""

from __future__ import annotations

from bisect import bisect_right

KNOT = 1852 / 3600  # [m/s]
LOW_CEILING_M, MIDDLE_CEILING_M = 7000 * 0.3048, 16000 * 0.3048

# Rows by wind speed rounded to whole knots, columns by net radiation index 4, 3, 2, 1, 0, -1, -2.
_ROWS_FROM_KN = (0, 2, 4, 6, 7, 8, 10, 11, 12)
_TABLE = (
    (1, 1, 2, 3, 4, 6, 7),
    (1, 2, 2, 3, 4, 6, 7),
    (1, 2, 3, 4, 4, 5, 6),
    (2, 2, 3, 4, 4, 5, 6),
    (2, 2, 3, 4, 4, 4, 5),
    (2, 3, 3, 4, 4, 4, 5),
    (3, 3, 4, 4, 4, 4, 5),
    (3, 3, 4, 4, 4, 4, 4),
    (3, 4, 4, 4, 4, 4, 4),
)
_INSOLATION_FROM_DEG = (15.0, 35.0, 60.0)


def insolation_class(sun_deg: float) -> int:
    """How strongly the sun heats the ground, 1 (weak) to 4 (strong), by its height [deg]."""
    above = sum(sun_deg > bar for bar in _INSOLATION_FROM_DEG)
    return 1 + above


def net_radiation_index(
    sun_deg: float, night: bool, cloud: float, ceiling_m: float | None = None
) -> int:
    """What sun and sky do to the air near the ground: 4 (strong heating) to -2 (strong cooling).

    Args:
        sun_deg: height of the sun [deg].
        night: from an hour before sunset to an hour after sunrise.
        cloud: share of the sky that is covered, 0 to 1.
        ceiling_m: height of the cloud base [m]; None where nobody knows it, taken as high.
    """
    low = ceiling_m is not None and ceiling_m < LOW_CEILING_M
    overcast = cloud >= 0.95
    if overcast and low:
        return 0
    if night:
        return -2 if cloud <= 0.4 else -1
    strength = insolation_class(sun_deg)
    if cloud <= 0.5:
        return strength
    middle = ceiling_m is not None and ceiling_m < MIDDLE_CEILING_M
    return max(1, strength - (2 if low else 1 if middle or overcast else 0))


def stability_class(speed_ms: float, index: int) -> int:
    """Turner's class, 1 (A) to 7 (G), from wind speed at 10 m [m/s] and the net radiation index.

    Raises:
        ValueError: the index is not between -2 and 4, or the speed is negative.
    """
    if not -2 <= index <= 4 or speed_ms < 0:
        raise ValueError(f"no stability class for {speed_ms} m/s at index {index}")
    row = bisect_right(_ROWS_FROM_KN, round(speed_ms / KNOT)) - 1
    return _TABLE[row][4 - index]
