"""How often, when a buck has spells: he is about for some days, then elsewhere for some.

Events of one day follow a Poisson law (or happen or not, for a daily chance) while he is about, and
do not occur while he is elsewhere; from day to day he changes between the two as a Markov chain. So
a visit says that he is about, days that follow one another tell less than separate ones, and the
interval of the long-run rate is as wide as it must be.

A Markov-modulated Poisson process in discrete time: W. Fischer and K. Meier-Hellstern, The
Markov-modulated Poisson process (MMPP) cookbook, Performance Evaluation 18 (1993) 149-171; the
likelihood by the forward recursion, L. R. Rabiner, Proc. IEEE 77 (1989) 257-286. A visit fixes the
state, so the likelihood is a product over the gaps between visit days, and equal gaps are computed
once. The posterior is over a grid. Where no event was seen he is taken to have been about on one of
the days watched at least: if he never was, they say nothing of how often he comes when he is, and
seeing nothing would leave room for more than seeing one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise

import numpy as np

from camsign.arrays import Floats
from camsign.stats.estimate import Estimate, tail

UNWATCHED = -1
# The grid: long-run rates per day; chances; shares of days about; how much of today's state
# tomorrow keeps. Chances and shares are even in their square root, which puts more of them at 0.
_RATES, _CHANCES, _SHARES, _KEEPS = (3e-4, 12.0, 56), 48, 12, (0.0, 0.3, 0.55, 0.75, 0.87, 0.95)
# How likely each persistence is before any day: most bucks change beds within a few days (common
# practice, no source; all alike made intervals wider than they need be).
_KEEP_WEIGHTS = (1.5, 1.5, 1.2, 0.8, 0.5, 0.3)
# Prior: share ~ Beta(1/2, 1); persistence by these weights; a chance while about flat; visits a
# day while about log-normal around this, with this spread of the logarithm (a buck is seldom at one
# place more than a few times a day: common practice, no source).
_USUAL, _SPREAD = 0.7, 1.2
_FINER = 6
# How many stretches are kept (about 70 kB each).
_KEPT = 600


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """The long-run rate per day (or the chance on a day): rising `values` with their `weights`.

    `seen`: there was an event at all.
    """

    values: Floats
    weights: Floats
    seen: bool = True

    def estimate(self, per: float = 1.0, level: float = 0.95) -> Estimate:
        """Median and central interval, times `per`; down to 0 where no event was seen."""
        outside = tail(level)
        middle = np.cumsum(self.weights) - self.weights / 2
        # The cumulated weight between grid points, on the logarithm of the value.
        at = np.interp([outside, 0.5, 1 - outside], middle, np.log(self.values))
        low, value, high = (float(np.exp(x)) for x in at)
        return Estimate(value, low if self.seen else 0.0, high).scaled(per)

    def times(self, factor: float) -> Posterior:
        """The same of so many times the rate."""
        return Posterior(self.values * factor, self.weights, self.seen)

    def mean(self) -> float:
        """The expected value."""
        return float((self.values * self.weights).sum())


def ratio(one: Posterior, other: Posterior, level: float = 0.95) -> Estimate:
    """How many times the other's rate the one's is, both independent: median, central interval.

    Both are rates of `about_rate`, whose values are even on a logarithmic scale.
    """
    steps = len(one.values) - 1
    step = np.log(one.values[-1] / one.values[0]) / steps
    weights = np.convolve(one.weights, other.weights[::-1])
    logs = step * np.arange(-steps, steps + 1)
    middle = np.cumsum(weights) - weights / 2
    outside = tail(level)
    at = np.interp([0.5, outside, 1 - outside], middle, logs)
    return Estimate(*(float(x) for x in np.exp(at)))


def above(one: Posterior, other: Posterior) -> float:
    """The probability that the one's rate is the greater, both independent; ties count half."""
    below = np.cumsum(other.weights)
    at = np.searchsorted(other.values, one.values, side="left")
    less = np.where(at > 0, below[np.maximum(at - 1, 0)], 0.0)
    equal = np.isin(one.values, other.values) * 1.0
    tied = np.where(equal > 0, other.weights[np.minimum(at, len(below) - 1)], 0.0)
    return float((one.weights * (less + tied / 2)).sum())


def about_rate(days: Sequence[int]) -> Posterior:
    """Give the long-run rate per day of events.

    Args:
        days: events of each day in a row; UNWATCHED for days that nobody watched.
    """
    return _rates().posterior(tuple(days))


def about_chance(days: Sequence[int]) -> Posterior:
    """Give the long-run chance of an event on a day; `days` are 0, 1 or UNWATCHED, in a row."""
    return _chances().posterior(tuple(min(day, 1) for day in days))


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """Points of a grid, flat: share about, persistence, strength; `finer`: between its first axis.

    `strength`: events on a day about, or their chance (`counts` says which). `states` keeps what
    happens over a stretch of days without events.
    """

    finer: Floats
    shape: tuple[int, ...]
    share: Floats
    keep: Floats
    strength: Floats
    log_prior: Floats
    counts: bool
    states: dict[tuple[bool, bytes], tuple[Floats, Floats]] = field(default_factory=dict)

    def posterior(self, days: tuple[int, ...]) -> Posterior:
        """Weigh every point by the days, and sum over all but the first axis."""
        log = self.log_weights(days)
        marginal = np.exp(log - log.max()).reshape(self.shape).sum(axis=(1, 2))
        return _refined(self.finer, marginal, any(n > 0 for n in days))

    def log_weights(self, days: tuple[int, ...]) -> Floats:
        """Logarithm of prior times likelihood, given that he was about on a day watched."""
        log = self.log_likelihood(days)
        if not any(n > 0 for n in days) and any(n != UNWATCHED for n in days):
            with np.errstate(divide="ignore", invalid="ignore"):
                part = np.minimum(self._never_about(days) - log, 0.0)
                log = np.where(np.isneginf(log), log, log + np.log(-np.expm1(part)))
        return self.log_prior + log

    def _never_about(self, days: tuple[int, ...]) -> Floats:
        """Logarithm of the chance that he was elsewhere on every day watched.

        Elsewhere on one, he is so `gap` days later with 1 - share + share keep^gap.
        """
        watched = [i for i, n in enumerate(days) if n != UNWATCHED]
        with np.errstate(divide="ignore"):
            log = np.log1p(-self.share)
            for gap, times in Counter(b - a for a, b in pairwise(watched)).items():
                log = log + times * np.log1p(-self.share * (1 - self.keep**gap))
        return log

    def log_likelihood(self, days: tuple[int, ...]) -> Floats:
        """Give it at every point, up to what no point changes; -inf where the days cannot be."""
        events = [i for i, n in enumerate(days) if n > 0]
        watch = bytes(n != UNWATCHED for n in days)
        if self.counts:
            total = sum(days[i] for i in events)
            log = total * np.log(self.strength) - len(events) * self.strength
        else:
            log = len(events) * np.log(self.strength)
        # Cut at the events: (from the first day?, watched or not by day, up to an event?).
        edges = [-1, *events, len(watch)]
        stretches = Counter((a < 0, watch[a + 1 : b], b < len(watch)) for a, b in pairwise(edges))
        with np.errstate(divide="ignore"):
            for (fresh, stretch, closed), times in stretches.items():
                about, elsewhere = self._after(fresh, stretch)
                log = log + times * np.log(about if closed else about + elsewhere)
        return log

    def _after(self, fresh: bool, stretch: bytes) -> tuple[Floats, Floats]:
        """The chances to be about, and elsewhere, behind a stretch without events.

        `fresh`: the stretch begins at the first day of all, else on the day behind an event.
        """
        if len(self.states) > _KEPT:
            self.states.clear()
        known = len(stretch)
        while known and (fresh, stretch[:known]) not in self.states:
            known -= 1
        if not known:
            about = self.share if fresh else self.share + (1 - self.share) * self.keep
            self.states[fresh, b""] = about, 1 - about
        about, elsewhere = self.states[fresh, stretch[:known]]
        quiet = np.exp(-self.strength) if self.counts else 1 - self.strength
        for i in range(known, len(stretch)):
            stay = about * quiet if stretch[i] else about
            total = stay + elsewhere
            moved = (1 - self.keep) * total
            about = self.keep * stay + moved * self.share
            elsewhere = self.keep * elsewhere + moved * (1 - self.share)
            self.states[fresh, stretch[: i + 1]] = about, elsewhere
        return about, elsewhere


def _refined(finer: Floats, marginal: Floats, seen: bool = True) -> Posterior:
    """Interpolate the logarithm of the weights, so that many days do not fall between points.

    Steps are even on the scale of the grid: each finer point stands for the same part of it. By
    monotone cubic pieces, which do not overshoot: F. N. Fritsch and J. Butland, SIAM J. Sci. Stat.
    Comput. 5 (1984) 300-304, for even steps.
    """
    logs = np.log(np.maximum(marginal, 1e-300))
    step = np.diff(logs)
    same = step[:-1] * step[1:] > 0
    total = np.where(same, step[:-1] + step[1:], 1.0)
    inner = np.where(same, 2 * step[:-1] * step[1:] / total, 0.0)
    slope = np.concatenate([step[:1], inner, step[-1:]])
    t = (np.arange(_FINER) / _FINER)[None, :]
    left = logs[:-1, None] + t * slope[:-1, None]
    # Hermite's cubic: what the left end's tangent misses, made up by the square and the cube of t.
    square = 3 * step[:, None] - 2 * slope[:-1, None] - slope[1:, None]
    cube = slope[:-1, None] + slope[1:, None] - 2 * step[:, None]
    between = np.append((left + square * t**2 + cube * t**3).ravel(), logs[-1])
    weights = np.exp(between - between.max())
    return Posterior(finer, weights / weights.sum(), seen)


@cache
def _rates() -> _Grid:
    rates, (shares, sizes) = np.geomspace(*_RATES[:2], _RATES[2]), _unit_points()
    rate, share, keep = np.meshgrid(rates, shares, _KEEPS, indexing="ij")
    prior = np.log(sizes)[None, :, None] - np.log(rate / share / _USUAL) ** 2 / (2 * _SPREAD**2)
    prior = prior + np.log(_KEEP_WEIGHTS)
    flat = [x.ravel() for x in (share, keep, rate / share, prior)]
    finer = np.geomspace(*_RATES[:2], _FINER * (_RATES[2] - 1) + 1)
    return _Grid(finer, rate.shape, *flat, counts=True)  # type: ignore[misc, arg-type]


@cache
def _chances() -> _Grid:
    chances = ((np.arange(_CHANCES) + 0.5) / _CHANCES) ** 2
    parts, sizes = _unit_points()
    chance, part, keep = np.meshgrid(chances, parts, _KEEPS, indexing="ij")
    # He is about on a share of days between the chance and all of them.
    about = chance + (1 - chance) * part
    # Density of the share, times how much of (share, chance while about) each point stands for.
    size = sizes[None, :, None] * np.sqrt(part) * np.sqrt(chance) * (1 - chance) / about
    prior = np.log(about**-0.5 * size) + np.log(_KEEP_WEIGHTS)
    flat = [x.ravel() for x in (about, keep, chance / about, prior)]
    between = np.arange(_FINER * (_CHANCES - 1) + 1) / _FINER
    finer = ((between + 0.5) / _CHANCES) ** 2
    return _Grid(finer, chance.shape, *flat, counts=False)  # type: ignore[misc, arg-type]


def _unit_points() -> tuple[Floats, Floats]:
    """Points from 0 to 1, even in their square root, and how much of the root each stands for."""
    roots = np.append((np.arange(_SHARES) + 0.5) / _SHARES, 1.0)
    sizes = np.append(np.full(_SHARES - 1, 1.0), [0.75, 0.25])
    return roots**2, sizes
