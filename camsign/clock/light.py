"""How far a clock is off, by the light in its pictures and the sun's height: a likelihood in numpy.

P(daylight) = e + (1 - 2e) * logistic((height - switch) / width). The switch heights of dawn and
dusk differ, width and share e of misjudged pictures are unknown too: all are integrated out over
broad priors, which leaves a likelihood of the offset alone, modulo 24 h. Dawn and dusk move
oppositely with an offset, so a switch height cannot mimic one where both were pictured; how far the
two heights may lie apart is what bounds the precision.

Times are counted in steps of two minutes. The sun's height is looked up in a table of one place, in
bins of a quarter degree.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from camsign.arrays import Bools, Floats, Ints

Singles = npt.NDArray[np.float32]

STEP_S = 120
DAY_STEPS = 86400 // STEP_S
HALF = DAY_STEPS // 2
_KNOT = 5
_BIN_DEG = 0.25
_EDGE_DEG = 18.0
_BINS = round(2 * _EDGE_DEG / _BIN_DEG)

# Priors: mean of the switch heights of dawn and dusk, its spread, and how far the two lie apart
# [deg]; width of the switch [deg]; share of pictures whose light is misjudged.
_SWITCH_MEAN, _SWITCH_SD, _APART_SD = -1.0, 4.0, 1.5
_WIDTHS = (0.4, 1.0, 2.5)
_MISJUDGED = (0.005, 0.03, 0.1)
# Offsets are tried every 8 minutes, and every 2 where the likelihood is within these nats.
_COARSE = 4
_NATS = 25.0


@dataclass(frozen=True, slots=True)
class SunTable:
    """The sun over one place: per step from `first` (steps since 1970 UTC) the bin of its height,
    raised by the number of bins where it is sinking.
    """

    first: int
    codes: npt.NDArray[np.int16]


@dataclass(frozen=True, slots=True)
class Light:
    """Pictures for the likelihood, one a burst: `at` as read [steps since 1970], and whether it was
    taken by daylight.
    """

    at: Ints
    day: Bools


@dataclass(frozen=True, slots=True)
class Offsets:
    """How likely each offset is by which the clock may be ahead: DAY_STEPS shares from -12 h on,
    which sum to 1, and the log evidence of the whole.
    """

    share: Floats
    evidence: float


@dataclass(frozen=True, slots=True)
class Switch:
    """The likeliest way in which light hangs on height at one offset [steps].

    `logs`: log chance by code of the sun's table and (dark, daylight). `dawn`, `dusk`: the switch
    heights [deg].
    """

    offset: int
    logs: Floats
    dawn: float
    dusk: float


def steps_of(seconds: Floats) -> Ints:
    """Give the step in which an instant [s since 1970] lies."""
    return np.floor(seconds / STEP_S).astype(np.int64)


def sun_table(lat: float, lon: float, first_day: int, days: int) -> SunTable:
    """Make the table for a place [deg] from `first_day` (since 1970, UTC) on.

    Heights are computed every 10 minutes and interpolated, which errs by 0.014° at most.
    """
    from camsign.sun import sun_height

    knots = np.arange(days * DAY_STEPS // _KNOT + 2)
    seconds = (knots * _KNOT * STEP_S).astype("timedelta64[s]")
    height = sun_height(lat, lon, np.datetime64(first_day, "D") + seconds)
    middles = (np.arange(days * DAY_STEPS) + 0.5) / _KNOT
    sinking = (np.diff(height) < 0)[middles.astype(np.int64)]
    middle = np.interp(middles, knots, height)
    bins = np.clip((middle + _EDGE_DEG) / _BIN_DEG, 0, _BINS - 1).astype(np.int16)
    return SunTable(first_day * DAY_STEPS, bins + sinking.astype(np.int16) * np.int16(_BINS))


def likelihood(table: SunTable, light: Light, near: Bools | None = None) -> Offsets:
    """Give the likelihood of every offset from -12 to +12 h; of those that are not `near`, none.

    The table reaches a day beyond the pictures on either side.
    """
    coarse = np.arange(-HALF, HALF, _COARSE)
    if near is not None:
        coarse = coarse[near[::_COARSE]]
    rough = log_likelihood(table, light, coarse, fine=False)
    kept = coarse[rough > rough.max() - _NATS]
    wanted = np.zeros(DAY_STEPS, dtype=bool)
    wanted[(kept[:, None] + np.arange(1 - _COARSE, _COARSE) + HALF) % DAY_STEPS] = True
    exact = np.full(DAY_STEPS, -np.inf)
    exact[wanted] = log_likelihood(table, light, np.flatnonzero(wanted) - HALF)
    # Each offset is as likely beforehand.
    peak = exact.max()
    share = np.exp(exact - peak)
    total = share.sum()
    return Offsets(share / total, float(peak + np.log(total / DAY_STEPS)))


def log_likelihood(table: SunTable, light: Light, offsets: Ints, fine: bool = True) -> Floats:
    """Give the log likelihood of each offset [steps]."""
    model = _model(fine)
    sides = [(counts @ model.logs).astype(np.float64) for counts in _counts(table, light, offsets)]
    peaks = [side.max(axis=1, keepdims=True) for side in sides]
    rising, sinking = (
        np.exp(side - peak).reshape(len(offsets), model.forms, -1)
        for side, peak in zip(sides, peaks, strict=True)
    )
    together = np.einsum("kfs,kfs->k", rising @ model.prior, sinking) / model.forms
    total: Floats = np.log(np.maximum(together, 1e-300)) + (peaks[0] + peaks[1])[:, 0]
    return total


def likeliest_switch(table: SunTable, light: Light, offset: int) -> Switch:
    """Give the switch heights, width and misjudged share that fit best at one offset [steps]."""
    model = _model(True)
    rising, sinking = (
        (counts @ model.logs).reshape(model.forms, -1)
        for counts in _counts(table, light, np.array([offset]))
    )
    score = rising[:, :, None] + sinking[:, None, :] + np.log(model.prior)
    form, dawn, dusk = np.unravel_index(np.argmax(score), score.shape)
    logs = model.logs.reshape(2, _BINS, model.forms, -1)[:, :, form]
    by_code = np.concatenate([logs[:, :, dawn], logs[:, :, dusk]], axis=1).T
    return Switch(
        offset, by_code.astype(np.float64), float(model.switch[dawn]), float(model.switch[dusk])
    )


def heights(table: SunTable, light: Light) -> tuple[Floats, Bools]:
    """Give the sun's height [deg, within -18 to 18] at each picture, and whether it was sinking."""
    codes = table.codes[light.at - table.first]
    sinking = codes >= _BINS
    return (codes - sinking * _BINS + 0.5) * _BIN_DEG - _EDGE_DEG, sinking


def _counts(table: SunTable, light: Light, offsets: Ints) -> Singles:
    """Pictures by rising or sinking sun, offset, and (dark or daylight, bin of height)."""
    # One table of codes for pictures in the dark and one for those by daylight, a row an offset.
    n = len(offsets)
    places = (light.at - table.first)[None, :] - offsets[:, None]
    parts = []
    for day in (False, True):
        seen = table.codes[places[:, light.day == day]].astype(np.int64)
        seen += (np.arange(n) * (2 * _BINS))[:, None]
        parts.append(np.bincount(seen.ravel(), minlength=n * 2 * _BINS).reshape(n, 2, _BINS))
    return np.concatenate(parts, axis=2).transpose(1, 0, 2).astype(np.float32)


@dataclass(frozen=True, slots=True)
class _Model:
    """Log chances by (dark or daylight, bin) and (form, switch); the prior of two switches."""

    logs: Singles
    forms: int
    switch: Floats
    prior: Floats


@lru_cache(maxsize=2)
def _model(fine: bool) -> _Model:
    height = (np.arange(_BINS) + 0.5) * _BIN_DEG - _EDGE_DEG
    switch = np.linspace(-13.0, 11.0, 49 if fine else 25)
    widths = _WIDTHS if fine else (1.0,)
    width, wrong = (a.ravel() for a in np.meshgrid(widths, _MISJUDGED, indexing="ij"))
    z = (height[:, None, None] - switch) / width[:, None]
    day = wrong[:, None] + (1 - 2 * wrong[:, None]) / (1 + np.exp(-z))
    # Single precision: sums of a few thousand are right to 0.001, in half the time.
    logs = np.log(np.concatenate([1 - day, day])).reshape(2 * _BINS, -1).astype(np.float32)
    middle, apart = (switch[:, None] + switch) / 2, switch[:, None] - switch
    prior = np.exp(
        -(((middle - _SWITCH_MEAN) / _SWITCH_SD) ** 2) / 2 - (apart / _APART_SD) ** 2 / 2
    )
    return _Model(logs, len(width), switch, prior / prior.sum())


def smallest_set(share: Floats, level: float) -> Ints:
    """Give the likeliest offsets [steps] that together hold `level`, in order."""
    order = np.argsort(-share, kind="stable")
    enough = int(np.searchsorted(np.cumsum(share[order]), level)) + 1
    return np.sort(order[:enough]) - HALF


def arc(steps: Ints) -> tuple[int, int]:
    """Give the shortest arc of the day [steps] that holds them all: from, to (it may pass 12 h)."""
    around = np.append(steps, steps[0] + DAY_STEPS)
    gap = int(np.argmax(np.diff(around)))
    if gap == len(steps) - 1:
        return int(steps[0]), int(steps[-1])
    return int(steps[gap + 1]), int(steps[gap]) + DAY_STEPS
