"""Points that rubs point away from, found without knowing how many there are.

Candidates come from the scan, best first; what one explains no longer speaks for the next. Each is
fitted as a point that bucks leave and, against that, as an axis: rubs close together that agree or
oppose, as along a trail or the edge of a feeding place. Those that an axis explains as well are
none. Then all are fitted again beside each other, the constants of the law by likelihood with them.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, inf

import numpy as np

from camsign.arrays import Floats, Ints
from camsign.sign.origin_likelihood import Law, Rubs, density, density_at, gain, odds_at, seen_from
from camsign.sign.scan import APART_M, peaks

# Log likelihoods: what a source must gain at all, and by how much a radiant must beat an axis.
LEAST_GAIN = 3.0
OVER_AXIS = 1.0
# Likewise by how much "they leave it" must beat "as many come as go".
OVER_BOTH_WAYS = 2.5
LEAST_SECTORS = 3
# Of the radiants reported, at most this share may be expected by chance.
FALSE_SHARE = 0.1
_LEAST_BY_CHANCE = 2.0
_MOST_BY_CHANCE = 120
_TAIL = 10
# Deals for few rubs; for many, so many deals as make so many rubs.
_DEALS, _DEALT = 10, 2000
_ROUNDS = 5
_SWEEPS = 2
# Sources taken in one round lie so far apart that they hardly share rubs.
_ROUND_APART_M = 150.0


@dataclass(frozen=True, slots=True)
class Source:
    """A radiant, or an axis (`axis` [rad]).

    east, north [m]; `gain`: log likelihood that it adds; `near`: the rubs within reach, with their
    odds to be its, and the density of their travel if they are.
    """

    east: float
    north: float
    gain: float
    near: Ints
    odds: Floats
    dense: Floats
    axis: float | None = None

    def away(self, east: float, north: float) -> float:
        """How far it lies from a place [m]."""
        return float(np.hypot(self.east - east, self.north - north))


class Search:
    """A set of sources beside each other, and what they leave unexplained."""

    def __init__(self, rubs: Rubs, law: Law) -> None:
        self.rubs = rubs
        self.law = law
        self.sources: list[Source] = []
        self.tree = rubs.tree()
        self.other_odds = np.zeros(len(rubs))
        self.other = np.zeros(len(rubs))

    def run(self, least: float = LEAST_GAIN) -> None:
        """Find sources until none is left that gains `least`, then fit all beside each other."""
        for _ in range(_ROUNDS):
            if not self.look(least):
                break
        for _ in range(_SWEEPS):
            self._sweep(least)

    def radiants(self) -> list[Source]:
        """Give the sources that are radiants."""
        return [s for s in self.sources if s.axis is None]

    def axes(self) -> list[Source]:
        """Give the sources that are axes."""
        return [s for s in self.sources if s.axis is not None]

    def without(self, source: Source) -> tuple[Floats, Floats]:
        """Give the summed odds, and odds times densities, of all other sources, for its rubs."""
        odds = self.other_odds[source.near] - source.odds
        return odds.clip(0), (self.other[source.near] - source.odds * source.dense).clip(0)

    def share(self, source: Source) -> Floats:
        """Give the probability that each of its rubs belongs to a source."""
        _, other = self.without(source)
        own = source.odds * source.dense
        return own / (1 + other + own)

    def best_at(self, east: float, north: float) -> Source | None:
        """Fit a radiant and an axis near a place [m]; give the likelier, None without rubs."""
        reach = self.law.reach_m + APART_M
        near = np.array(sorted(self.tree.query_ball_point((east, north), reach)), dtype=int)
        if not len(near):
            return None
        radiant = self._radiant(near, east, north)
        axis = self._axis(near, east, north)
        return radiant if radiant.gain > axis.gain else axis

    def axis_beside(self, source: Source) -> Source:
        """Fit the axis that explains a radiant's rubs best in its stead."""
        self._take_out(source)
        axis = self._axis(source.near, source.east, source.north)
        self._put_in(source)
        return axis

    def look(self, least: float, most: int | None = None) -> bool:
        """Fit what a scan finds, at most `most` places; tell whether anything was added."""
        found = peaks(self.rubs, 1 / (1 + self.other), self.law, least)
        new: list[Source] = []
        for east, north in zip(found.east[:most], found.north[:most], strict=True):
            if any(s.away(east, north) < _ROUND_APART_M for s in new):
                continue
            source = self.best_at(east, north)
            if source and source.gain >= least and self._apart(source):
                self._add(source)
                new.append(source)
        return bool(new)

    def _apart(self, source: Source) -> bool:
        same = self.radiants() if source.axis is None else self.axes()
        return all(s.away(source.east, source.north) >= APART_M for s in same)

    def _sweep(self, least: float) -> None:
        """Fit each source again beside the others; what no longer gains enough goes."""
        for source in sorted(self.sources, key=lambda s: -s.gain):
            self.sources.remove(source)
            self._take_out(source)
            again = self.best_at(source.east, source.north)
            if again and again.gain >= least and self._apart(again):
                self._add(again)

    def _add(self, source: Source) -> None:
        self.sources.append(source)
        self._put_in(source)

    def _put_in(self, source: Source) -> None:
        self.other_odds[source.near] += source.odds
        self.other[source.near] += source.odds * source.dense

    def _take_out(self, source: Source) -> None:
        self.other_odds[source.near] -= source.odds
        self.other[source.near] -= source.odds * source.dense
        # Rounding must not leave a negative rest.
        self.other_odds[source.near] = self.other_odds[source.near].clip(0)
        self.other[source.near] = self.other[source.near].clip(0)

    def _gains(self, near: Ints, odds: Floats, dense: Floats) -> Floats:
        """What sources of these odds and densities add, over all the rubs near."""
        return np.asarray(gain(odds, dense, self.other_odds[near], self.other[near]).sum(axis=-1))

    def _radiant(self, near: Ints, east: float, north: float) -> Source:
        rubs = self.rubs.some(near)
        for half, step in ((60.0, 10.0), (10.0, 2.5)):
            line = np.arange(-half, half + step / 2, step)
            easts, norths = (g.ravel() for g in np.meshgrid(east + line, north + line))
            best = int(self._gains(near, *radiant_terms(rubs, easts, norths, self.law)).argmax())
            east, north = float(easts[best]), float(norths[best])
        odds, dense = radiant_terms(rubs, east, north, self.law)
        return Source(east, north, float(self._gains(near, odds, dense)), near, odds, dense)

    def _axis(self, near: Ints, east: float, north: float) -> Source:
        """Fit an axis about the middle of the rubs near a place."""
        rubs, usual_m = self.rubs.some(near), self.law.axis_length_m
        distance, _ = seen_from(rubs, np.array(east), np.array(north))
        heavy = odds_at(distance, self.law, usual_m) + 1e-9
        east = float(np.average(rubs.east, weights=heavy))
        north = float(np.average(rubs.north, weights=heavy))
        distance, _ = seen_from(rubs, np.array(east), np.array(north))
        axis, opposite = _axis_grid()
        dense = density(np.cos(rubs.travel - axis), self.law.kappa, opposite)
        tried = []
        for length_m in (usual_m, 2.0 * usual_m):
            odds = odds_at(distance, self.law, length_m)
            total = self._gains(near, odds, dense)
            i = int(total.argmax())
            found = Source(east, north, float(total[i]), near, odds, dense[i], float(axis[i, 0]))
            tried.append(found)
        return max(tried, key=lambda s: s.gain)


def _axis_grid() -> tuple[Floats, Floats]:
    """Every axis tried [rad] with every share that runs against it, as columns."""
    axes, opposite = np.meshgrid(np.arange(32) * (2 * np.pi / 32), [0.0, 0.12, 0.3, 0.5])
    return axes.ravel()[:, None], opposite.ravel()[:, None]


def radiant_terms(
    rubs: Rubs, east: float | Floats, north: float | Floats, law: Law
) -> tuple[Floats, Floats]:
    """Odds of each rub to come from each point, and the density of its travel if it does."""
    distance, cosine = seen_from(rubs, np.asarray(east), np.asarray(north))
    return odds_at(distance, law), density_at(distance, cosine, law)


def judged(search: Search) -> list[Source]:
    """Give the radiants that an axis does not explain as well and around which rubs stand.

    Best first. Rubs must head outward in three or more of eight sectors: those of one line do not.
    And so few may head in that the place is left rather than walked to and from.
    """
    clear = [
        s
        for s in search.radiants()
        if s.gain - search.axis_beside(s).gain >= OVER_AXIS
        and sum(n > 0 for n in sectors(search, s)[0]) >= LEAST_SECTORS
        and outward(search, s) >= OVER_BOTH_WAYS
    ]
    return sorted(clear, key=lambda s: -s.gain)


def outward(search: Search, source: Source) -> float:
    """Give the log likelihood by which a radiant is left, over being walked to and from.

    Beside the other sources, so that what they explain does not count.
    """
    near = search.rubs.some(source.near)
    distance, cosine = seen_from(near, np.array(source.east), np.array(source.north))
    both = density_at(distance, cosine, replace(search.law, inward=0.5))
    other_odds, other = search.without(source)
    left = gain(source.odds, source.dense, other_odds, other)
    return float((left - gain(source.odds, both, other_odds, other)).sum())


def sectors(search: Search, source: Source) -> tuple[list[int], list[int]]:
    """Count a radiant's own rubs by eight sectors clockwise from north: outward, inward.

    Its own are those that rather belong to it than not; outward is within 60 degrees of straight
    away, inward within 60 of straight toward it.
    """
    own = source.near[search.share(source) > 0.5]
    rubs = search.rubs.some(own)
    _, cosine = seen_from(rubs, np.array(source.east), np.array(source.north))
    seen = np.arctan2(rubs.east - source.east, rubs.north - source.north)
    sector = (seen % (2 * np.pi) / (np.pi / 4)).astype(int) % 8
    out, into = cosine > 0.5, cosine < -0.5
    return (
        np.bincount(sector[out], minlength=8).tolist(),
        np.bincount(sector[into], minlength=8).tolist(),
    )


@dataclass(frozen=True, slots=True)
class Chance:
    """How often dealt-out travels give a radiant of some gain, from the gains in `deals` deals."""

    gains: tuple[float, ...]
    deals: int

    def expected(self, least: float) -> float:
        """Expected number of radiants that gain `least` or more by chance, over all the rubs.

        Counted, and beyond the few greatest carried on by the exponential law of such excesses.
        """
        if not self.gains:
            return 0.0
        above = len(self.gains) - bisect_left(self.gains, least)
        if above >= _TAIL:
            return above / self.deals
        top = self.gains[-_TAIL:]
        mean = sum(g - top[0] for g in top) / max(len(top) - 1, 1)
        return len(top) / self.deals * exp(-max(least - top[0], 0.0) / max(mean, 0.2))


def chance_of(done: Search) -> Chance:
    """Search the rubs that no source explains with their travels dealt out anew.

    Same places, same bearings, no source: what is found there is chance. Each rub takes part with
    the probability that it belongs to no source, for the rubs of a bed would not lie so close
    without one.
    """
    deal = np.random.default_rng(0)
    free = 1 / (1 + done.other)
    deals = max(1, min(_DEALS, _DEALT // len(done.rubs)))
    gains: list[float] = []
    for _ in range(deals):
        kept = done.rubs.some(deal.random(len(free)) < free)
        if len(kept):
            search = Search(replace(kept, travel=deal.permutation(kept.travel)), done.law)
            search.look(_LEAST_BY_CHANCE, _MOST_BY_CHANCE)
            gains += [s.gain for s in judged(search)]
    return Chance(tuple(sorted(gains)), deals)


def least_gain(sources: Sequence[Source], chance: Chance) -> float:
    """Give the gain above which, of the sources, about one in ten is there by chance."""
    gains = sorted((s.gain for s in sources), reverse=True)
    kept = [g for n, g in enumerate(gains, 1) if chance.expected(g) <= FALSE_SHARE * n]
    return max(min(kept, default=inf), LEAST_GAIN)
