"""Pictures of bucks nobody named, shared out: each goes to the buck it fits, or to one not known.

Drawn within the learning, so that doubt about who it was is doubt about where each one beds.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from camsign.stats.beds_chances import Chances, fit_of
from camsign.stats.beds_evidence import DARK, LIT, UNTOLD, Evidence, Looks

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from camsign.stats.beds_learned import Course

    Floats = npt.NDArray[np.float64]
    Ints = npt.NDArray[np.int64]
    Bools = npt.NDArray[np.bool_]

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
    import numpy as np

    n = e.nameless
    weights = _weights(e, c, course, named, stranger)
    rise = np.cumsum(weights, axis=1)
    dice = rng.random((len(rise), 1, len(n.day))) * rise[:, -1:]
    who = (rise < dice).sum(axis=1)
    _strangers(e, who == e.bucks, stranger, rng)
    return _as_looks(e, who, named)


def _weights(e: Evidence, c: Chances, course: Course, named: Bools, stranger: Floats) -> Floats:
    """Give the odds of every buck, and of one not known (the last): (chains, bucks + 1, events)."""
    import numpy as np

    n = e.nameless
    first = n.area[:, 0]
    half = np.where(n.half == LIT, 1, 0)
    told = n.way[:, 0] != UNTOLD
    way = np.where(told, 3 * c.ways[:, :, first, np.maximum(n.way[:, 0] - 1, 0)], 1.0)
    other = c.others[:, :, first, half]
    state, is_open = course.state[:, :, n.day], course.open[:, :, n.day]
    odds = other * way / (1 - other)
    for slot in (0, 1):
        area = n.area[:, slot]
        here = is_open & (state == area) & (area >= 0)
        p = c.passes[:, :, e.watch[n.day, area], n.end]
        dark = c.dark[:, :, n.end]
        right = np.where(n.half == DARK, dark, 1 - dark)
        fit = c.fits[:, n.inside[:, slot].astype(int), fit_of(n.way[:, slot], n.end)]
        right = right * np.where(n.way[:, slot] != UNTOLD, 3 * fit, 1.0)[:, None]
        odds = np.where(here, odds + p * right / ((1 - p) * (1 - other)), odds)
    odds = np.where(named[:, n.day, first, n.end], AGAIN, odds)
    return np.concatenate([odds, stranger[:, first, half][:, None]], axis=1)


def _strangers(e: Evidence, theirs: Bools, stranger: Floats, rng: np.random.Generator) -> None:
    import numpy as np

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
    import numpy as np

    n = e.nameless
    of_chain, of_event = np.nonzero(who < e.bucks)
    chain, event = np.tile(of_chain, 2), np.tile(of_event, 2)
    slot = np.repeat([0, 1], len(of_chain))
    buck, area = who[chain, event], n.area[event, slot]
    ok = area >= 0
    ok &= ~named[buck, n.day[event], area, n.end[event]]
    keys = np.stack([chain, buck, n.day[event], area, n.end[event]])[:, ok]
    _, one = np.unique(keys, axis=1, return_index=True)
    chain, event, buck, slot, area = (x[ok][one] for x in (chain, event, buck, slot, area))
    looks = Looks(
        buck, n.day[event], area, n.end[event], n.half[event], n.way[event, slot],
        n.inside[event, slot],
    )  # fmt: skip
    return chain, looks
