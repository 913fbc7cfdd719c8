"""When in the day: time anchored to sunrise and sunset, and a smooth curve of activity.

Hours of the curve are those of an equinox: sunrise is 6, sunset 18 on every day of the year.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from camsign.arrays import Floats
from camsign.stats.estimate import central

AnyFloats = npt.NDArray[np.floating[Any]]

_DAY_MIN = 1440.0
# How rough the logarithm of the curve may be: standard deviations of its second differences.
_ROUGH = (0.03, 0.06, 0.1, 0.15, 0.2, 0.3, 0.4, 0.6, 0.8, 1.1)
# Standard deviation of the curve's overall level, which then falls out of the shares.
_LEVEL = 5.0
_ROUNDS = 60


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
    rise, sets = np.asarray(from_sunrise, dtype=float), np.asarray(from_sunset, dtype=float)
    day = rise - sets
    night = _DAY_MIN - day
    light = 6 + 12 * rise / day
    dark = np.where(rise < 0, 6 + 12 * rise / night, 18 + 12 * sets / night)
    hours: Floats = np.where((rise >= 0) & (sets <= 0), light, dark) % 24
    return hours


def activity_curve(
    hours: npt.ArrayLike, points: int = 48, draws: int = 2000, seed: int = 1, level: float = 0.95
) -> Curve:
    """Give the activity curve of events at anchored hours, with a band of pointwise intervals.

    Events are counted around each of `points` hours and taken as Poisson around a curve whose
    logarithm is smooth around the clock: a random walk of second order, closed to a ring. How
    rough it is is weighed by how likely it makes the counts, so the band holds that doubt too.
    P. H. C. Eilers and B. D. Marx, Flexible smoothing with B-splines and penalties, Stat. Sci. 11
    (1996) 89-121 (the penalty); H. Rue and L. Held, Gaussian Markov random fields (2005), sections
    3.4 and 4.4 (the walk, and Laplace's approximation). The share is the mean of the draws.
    """
    events = np.asarray(hours, dtype=float).ravel()
    step = 24 / points
    counts = np.bincount(np.rint(events / step).astype(int) % points, minlength=points)
    fits = [_fit(counts.astype(float), rough) for rough in _ROUGH]
    logs = np.array([log for log, _, _ in fits])
    weights = np.exp(logs - logs.max())
    rng = np.random.default_rng(seed)
    many = rng.multinomial(draws, weights / weights.sum())
    drawn = np.concatenate([_draw(rng, *fit[1:], n) for fit, n in zip(fits, many, strict=True)])
    shares = np.exp(drawn - drawn.max(axis=1, keepdims=True))
    shares /= shares.sum(axis=1, keepdims=True) * step
    return Curve(np.arange(points) * step, *central(shares, level))


def _fit(counts: Floats, rough: float) -> tuple[float, Floats, Floats]:
    """Give the log evidence of a roughness, the likeliest log curve, and its precision matrix."""
    n = len(counts)
    ring = np.roll(np.eye(n), 1, axis=1) + np.roll(np.eye(n), -1, axis=1) - 2 * np.eye(n)
    prior = ring.T @ ring / rough**2 + np.full((n, n), 1 / (n * _LEVEL) ** 2)
    middle = np.log(max(counts.mean(), 0.1))
    curve = np.zeros(n)
    for _ in range(_ROUNDS):
        expected = np.exp(middle + curve)
        precision = prior + np.diag(expected)
        change = np.linalg.solve(precision, counts - expected - prior @ curve)
        curve = curve + np.clip(change, -1, 1)
        if np.abs(change).max() < 1e-6:
            break
    expected = np.exp(middle + curve)
    precision = prior + np.diag(expected)
    likely = float((counts * (middle + curve) - expected).sum() - curve @ prior @ curve / 2)
    wide = np.linalg.slogdet(prior)[1] - np.linalg.slogdet(precision)[1]
    return likely + float(wide) / 2, curve, precision


def _draw(rng: np.random.Generator, curve: Floats, precision: Floats, many: int) -> Floats:
    """Draw log curves around the likeliest one."""
    root = np.linalg.cholesky(precision)
    drawn: Floats = curve + np.linalg.solve(root.T, rng.standard_normal((len(curve), many))).T
    return drawn
