"""Directions and axes: their mean, and whether there is a direction at all.

Angles are degrees. `axial=True` treats them as axes (a trail, a line: 30° is 210°): they are
doubled, worked on as directions and halved again, so that means lie in 0 to 180.
Source: J. H. Zar, Biostatistical analysis, 5th ed. (2010), chapters 26 and 27.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import acos, atan2, degrees, exp, hypot, sqrt
from typing import TYPE_CHECKING

from camsign.stats.estimate import Estimate, tail

if TYPE_CHECKING:
    import numpy.typing as npt

# Vector sums of opposite directions leave rounding of this size: no direction.
_NOTHING = 1e-12


@dataclass(frozen=True, slots=True)
class Directions:
    """What a set of directions says.

    `mean_deg` [deg] with its interval, which runs clockwise from low to high through north if it
    must; `r` the mean resultant length, 0 (no direction) to 1 (all the same), None without angles;
    `z`, `p` Rayleigh's test of no direction.
    """

    n: int
    mean_deg: Estimate
    r: float | None
    z: float | None
    p: float | None


def directions(angles_deg: npt.ArrayLike, axial: bool = False, level: float = 0.95) -> Directions:
    """Everything below at once, for angles [deg] of any shape."""
    mean, r, n = mean_direction(angles_deg, axial)
    if r is None:
        return Directions(0, Estimate(None, None, None), None, None, None)
    half = mean_half_width_deg(r, n, level)
    turn = 180.0 if axial else 360.0
    if mean is None or half is None:
        interval = Estimate(mean, None, None)
    else:
        half = half / 2 if axial else half
        interval = Estimate(mean, (mean - half) % turn, (mean + half) % turn)
    return Directions(n, interval, r, *rayleigh(r, n))


def mean_direction(
    angles_deg: npt.ArrayLike, axial: bool = False
) -> tuple[float | None, float | None, int]:
    """Mean direction [deg], mean resultant length r and number of angles.

    The mean is 0 to 360 (axial: 0 to 180), and None where the angles cancel out or there are none;
    r is None without angles. Source: Zar 2010, chapter 26.
    """
    import numpy as np

    turn = 180.0 if axial else 360.0
    angles = np.asarray(angles_deg, dtype=float).ravel() * (2 * np.pi / turn)
    n = len(angles)
    if n == 0:
        return None, None, 0
    east, north = float(np.sin(angles).mean()), float(np.cos(angles).mean())
    r = min(hypot(east, north), 1.0)
    if r < _NOTHING:
        return None, 0.0, n
    mean = degrees(atan2(east, north)) * turn / 360.0 % turn
    return (0.0 if mean == turn else mean), r, n


def rayleigh(r: float, n: int) -> tuple[float, float]:
    """Rayleigh's z = n r² and the probability of so large a z if there is no direction.

    p = exp(sqrt(1 + 4n + 4(n² - R²)) - (1 + 2n)) with R = n r. Sees one preferred direction only.
    Source: Zar 2010, equations 27.2 and 27.4.
    """
    length = n * r
    return n * r * r, min(exp(sqrt(1 + 4 * n + 4 * (n**2 - length**2)) - (1 + 2 * n)), 1.0)


def mean_half_width_deg(r: float, n: int, level: float = 0.95) -> float | None:
    """Half the width [deg] of the interval around a mean direction; None if n and r bound nothing.

    Of axes, the doubled angle's: halve it. For a von Mises law, approximate. Up to r = 0.9: G. J.
    G. Upton, Approximate confidence intervals for the mean direction of a von Mises distribution,
    Biometrika 73 (1986) 525-527, as in Zar 2010, p. 619. Above, where that is too narrow for few
    angles: (n - 1)(R - R cos d) / (n - R) follows F with 1 and n - 1 degrees of freedom, R = n r;
    G. S. Watson and E. J. Williams, On the construction of significance tests on the circle and
    the sphere, Biometrika 43 (1956) 344-352.
    """
    from scipy.special import fdtri, ndtri

    chi2 = float(ndtri(tail(level))) ** 2
    if n < 2 or r < _NOTHING:
        return None
    if r > 0.9:
        cosine = 1 - (1 - r) / r * float(fdtri(1, n - 1, level)) / (n - 1)
        return degrees(acos(cosine)) if cosine >= -1 else None
    square = 2 * (2 * n * r**2 - chi2) / (4 * n - chi2) if 4 * n > chi2 else -1.0
    return degrees(acos(min(sqrt(square) / r, 1.0))) if square >= 0 else None


# An arrow on the keyboard says in which third of the circle he went: this much either way [deg].
READING_DEG = 60.0


def readings_half_width_deg(angles_deg: npt.ArrayLike, reading_deg: float = READING_DEG) -> float:
    """Half the width [deg] below which a mean of read directions cannot be known.

    Each reading is off by up to `reading_deg`. The same reading again, from the same arrow, is off
    the same way again, so only different readings average out: reading_deg / sqrt(different ones).
    """
    import numpy as np

    angles = np.asarray(angles_deg, dtype=float).ravel() % 360
    different = len(np.unique(np.round(angles)))
    return reading_deg / sqrt(max(different, 1))


def no_narrower(found: Directions, half_deg: float) -> Estimate:
    """Give the mean [deg] with at least `half_deg` on either side; unbounded stays unbounded."""
    mean, low, high = found.mean_deg.value, found.mean_deg.low, found.mean_deg.high
    wide = low is not None and high is not None and (high - low) % 360 / 2 >= half_deg
    if mean is None or wide or (low is None and found.n > 1):
        return found.mean_deg
    return Estimate(mean, (mean - half_deg) % 360, (mean + half_deg) % 360)
