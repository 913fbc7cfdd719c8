"""Pictures of bucks nobody named, shared out: each goes to the buck it fits, or to one not known.

Drawn within the learning, so that doubt about who it was is doubt about where each one beds.
"""

from __future__ import annotations

import numpy as np

from camsign.arrays import Bools, Floats, Ints
from camsign.stats.beds_chances import Chances, by_the_way, fit_of
from camsign.stats.beds_evidence import DARK, LIT, UNTOLD, Evidence, Looks
from camsign.stats.beds_learned import Course

# Odds of one more picture of him at an end at which he is seen already.
AGAIN = 0.7
# Beta law of the chance of a buck not known, an area and half day end.
STRANGERS = (0.4, 12.0)


def share_out(
    e: Evidence, c: Chances, course: Course, named: Bools, stranger: Floats,
    rng: np.random.Generator,
) -> tuple[Ints, Looks]:  # fmt: skip
    """Draw whose each nameless picture was.

    Args:
        e: the season.
        c: the chances.
        course: what was drawn of the chains.
        named: (bucks, days, areas, ends) seen with a name.
        stranger: (chains, areas, halves) chance of a buck not known; drawn anew in place.
        rng: where chance comes from.

    Returns the chain of each look, and the looks, those at an end seen already left out.
    """
    n = e.nameless
    weights = _weights(e, c, course, named, stranger)
    rise = np.cumsum(weights, axis=1)
    dice = rng.random((len(rise), 1, len(n.day))) * rise[:, -1:]
    who = (rise < dice).sum(axis=1, dtype=np.int16).astype(np.int64)
    _strangers(e, who == e.bucks, stranger, rng)
    return _as_looks(e, who, named)


def _weights(e: Evidence, c: Chances, course: Course, named: Bools, stranger: Floats) -> Floats:
    """Give the odds of every buck, and of one not known (the last): (chains, bucks + 1, events)."""
    n = e.nameless
    first = n.area[:, 0]
    half = np.where(n.half == LIT, 1, 0)
    found = np.empty((len(stranger), e.bucks + 1, len(n.day)))
    odds = found[:, :-1]
    # Passing by is the same for all of one area, end, half and way.
    kinds, kind = np.unique(((first * 2 + n.end) * 2 + half) * 4 + n.way[:, 0], return_inverse=True)
    odds[:] = _by_the_way(c, kinds)[..., kind]
    for slot in (0, 1):
        chain, buck, event = _where_bedded(e, course, slot)
        odds[chain, buck, event] += _to_bed(e, c, slot, chain, buck, event)
    odds[:, named[:, n.day, first, n.end]] = AGAIN
    found[:, -1] = stranger[:, first, half]
    return found


def _where_bedded(e: Evidence, course: Course, slot: int) -> tuple[Ints, Ints, Ints]:
    """Give the chains and bucks that bedded in the area of a slot on the days of its events."""
    n = e.nameless
    known = np.flatnonzero(n.area[:, slot] >= 0)
    day, area = n.day[known], n.area[known, slot]
    at, chain, buck = np.nonzero((course.state[day] == area[:, None, None]) & course.open[day])
    return chain, buck, known[at]


def _by_the_way(c: Chances, kinds: Ints) -> Floats:
    """Give every buck's odds to pass for other reasons: (chains, bucks, kinds)."""
    area, end, half, said = kinds // 16, kinds // 8 % 2, kinds // 4 % 2, kinds % 4
    told = said != UNTOLD
    way = np.where(told, 3 * c.ways[:, :, area, np.maximum(said - 1, 0)], 1.0)
    other = by_the_way(c.others[:, :, area], c.dark[:, :, end], np.where(half == 1, LIT, DARK))
    found: Floats = other * way / (1 - other)
    return found


def _to_bed(e: Evidence, c: Chances, slot: int, chain: Ints, buck: Ints, event: Ints) -> Floats:
    """Give what his odds gain where he beds in the area of a slot: one an event, buck and chain."""
    n = e.nameless
    area, way, end = n.area[event, slot], n.way[event, slot], n.end[event]
    p = c.passes[chain, buck, e.watch[n.day[event], area], end]
    dark = c.dark[chain, buck, end]
    other = by_the_way(c.others[chain, buck, n.area[event, 0]], dark, n.half[event])
    right = np.where(n.half[event] == DARK, dark, 1 - dark)
    fit = c.fits[chain, n.inside[event, slot].astype(int), fit_of(way, end)]
    right = right * np.where(way != UNTOLD, 3 * fit, 1.0)
    found: Floats = p * right / ((1 - p) * (1 - other))
    return found


def _strangers(e: Evidence, theirs: Bools, stranger: Floats, rng: np.random.Generator) -> None:
    hits = np.zeros_like(stranger)
    chain, event = np.nonzero(theirs)
    half = np.where(e.nameless.half[event] == LIT, 1, 0)
    np.add.at(hits, (chain, e.nameless.area[event, 0], half), 1.0)
    trials = 2.0 * (e.watch >= 0).sum(axis=0)[:, None]
    a, b = STRANGERS
    drawn = rng.beta(a + hits, b + np.maximum(trials - hits, 0.0))
    stranger[:] = np.maximum(drawn / (1 - drawn), 1e-6)


def _as_looks(e: Evidence, who: Ints, named: Bools) -> tuple[Ints, Looks]:
    """Put the shared-out pictures beside those with a name, one a buck, day, area and end."""
    n = e.nameless
    of_chain, of_event = np.nonzero(who < e.bucks)
    chain, event = np.tile(of_chain, 2), np.tile(of_event, 2)
    slot = np.repeat([0, 1], len(of_chain))
    buck, area = who[chain, event], n.area[event, slot]
    ok = area >= 0
    ok &= ~named[buck, n.day[event], area, n.end[event]]
    keys = chain[ok], buck[ok], n.day[event[ok]], area[ok], n.end[event[ok]]
    shape = (len(who), e.bucks, e.days, e.areas, 2)
    _, one = np.unique(np.ravel_multi_index(keys, shape), return_index=True)
    chain, event, buck, slot, area = (x[ok][one] for x in (chain, event, buck, slot, area))
    looks = Looks(
        buck, n.day[event], area, n.end[event], n.half[event], n.way[event, slot],
        n.inside[event, slot],
    )  # fmt: skip
    return chain, looks
