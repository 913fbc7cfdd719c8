"""When in the day: time anchored to sunrise and sunset, and a smooth curve of activity.

Hours of the curve are those of an equinox: sunrise is 6, sunset 18 on every day of the year.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    AnyFloats = npt.NDArray[np.floating[Any]]

_DAY_MIN = 1440.0
_DECIDING = 300
# From a kernel as wide as a third of the day to one of half an hour.
_CONCENTRATIONS = (0.5, 1.0, 2.0, 3.0, 4.5, 6.5, 9.0, 13.0, 18.0, 26.0, 40.0, 60.0)


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """Share of the activity per hour at `hours` (anchored), with a band of pointwise intervals."""

    hours: AnyFloats
    share: AnyFloats
    low: AnyFloats
    high: AnyFloats


def anchored_hours(from_sunrise: npt.ArrayLike, from_sunset: npt.ArrayLike) -> Floats:
    """Turn minutes from the day's sunrise and sunset into anchored hours, 0 to 24.

    Linear between sunrise (6) and sunset (18), and between sunset and the next sunrise, whose
    night is taken to be as long as the day leaves. Sources: P. Nouvellet et al., Noisy clocks and
    silent sunrises: measurement methods of daily activity pattern, J. Zool. 286 (2012) 179-184;
    C. Vazquez et al., Comparing diel activity patterns of wildlife across latitudes and seasons:
    time transformations using day length, Methods Ecol. Evol. 10 (2019) 2057-2066.
    """
    import numpy as np

    rise, sets = np.asarray(from_sunrise, dtype=float), np.asarray(from_sunset, dtype=float)
    day = rise - sets
    night = _DAY_MIN - day
    light = 6 + 12 * rise / day
    dark = np.where(rise < 0, 6 + 12 * rise / night, 18 + 12 * sets / night)
    hours: Floats = np.where((rise >= 0) & (sets <= 0), light, dark) % 24
    return hours


def bandwidth(angles: npt.ArrayLike) -> float:
    """The concentration of the kernel for angles [rad] around the clock.

    The one under which each angle is likeliest by the kernels on the others (likelihood
    cross-validation: P. Hall, G. S. Watson and J. Cabrera, Kernel density estimation with
    spherical data, Biometrika 74 (1987) 751-762). A rule from one concentration smooths a day with
    a peak at each end too much. Of many angles an even sample decides.
    """
    import numpy as np

    given = np.asarray(angles, dtype=float).ravel()
    given = given[:: max(1, len(given) // _DECIDING)]
    if len(given) < 2:
        return _CONCENTRATIONS[0]
    others = ~np.eye(len(given), dtype=bool)
    scores = [
        np.log((_kernels(given, given, k) * others).sum(axis=1) + 1e-300).sum()
        for k in _CONCENTRATIONS
    ]
    return _CONCENTRATIONS[int(np.argmax(scores))]


def kernel_density(angles: npt.ArrayLike, at: npt.ArrayLike, concentration: float) -> Floats:
    """Density per radian at angles `at` [rad]: von Mises kernels on `angles` [rad], averaged."""
    density: Floats = _kernels(angles, at, concentration).mean(axis=1)
    return density


def activity_curve(
    hours: npt.ArrayLike, points: int = 48, resamples: int = 500, seed: int = 1, level: float = 0.95
) -> Curve:
    """Give the activity curve of events at anchored hours, with a band by bootstrap.

    The band is the central interval of `resamples` curves of events drawn anew with replacement
    (percentiles; B. Efron, Ann. Stat. 7 (1979) 1-26); the bandwidth is kept.
    """
    import numpy as np

    from camsign.stats.estimate import tail

    events = np.asarray(hours, dtype=float).ravel() * (2 * np.pi / 24)
    grid = np.arange(points) * (24 / points)
    kernels = _kernels(events, grid * (2 * np.pi / 24), bandwidth(events)) * (2 * np.pi / 24)
    n = len(events)
    drawn = np.random.default_rng(seed).multinomial(n, np.full(n, 1 / n), resamples) / n
    outside = tail(level)
    share = kernels.mean(axis=1)
    band = np.quantile(drawn @ kernels.T, [outside, 1 - outside], axis=0)
    return Curve(grid, share, band[0], band[1])


def _kernels(angles: npt.ArrayLike, at: npt.ArrayLike, concentration: float) -> Floats:
    """Density of each kernel at each point: points by angles."""
    import numpy as np
    from scipy.special import i0e

    given, points = np.asarray(angles, dtype=float), np.asarray(at, dtype=float)
    turned = np.cos(points[:, None] - given[None, :]) - 1
    density: Floats = np.exp(concentration * turned) / (2 * np.pi * i0e(concentration))
    return density
