"""A chain that keeps its state or chooses anew: what days said one by one say together.

From day to day it keeps its state with a chance of its own, and otherwise draws one from its
likings, which may be the same again: the transition is keep · I + (1 - keep) · 1 likes'. That makes
the forward and backward recursions linear in the number of states. Arrays may hold many chains at
once, along any leading axes; days are the last axis but one, states the last.

Forward-backward: L. R. Rabiner, A tutorial on hidden Markov models, Proc. IEEE 77 (1989) 257-286;
drawing a whole course backwards from the forward chances: S. L. Scott, Bayesian methods for hidden
Markov models, J. Am. Stat. Assoc. 97 (2002) 337-351.
"""

from __future__ import annotations

import numpy as np

from camsign.arrays import Bools, Floats, Ints


def forward(said: Floats, keep: Floats, likes: Floats) -> tuple[Floats, Floats]:
    """Give the chance of each state on each day given the days up to it, and the log likelihood.

    Args:
        said: likelihood of each day's evidence in each state, up to a factor a day.
        keep: chance to keep the state, 0 to 1.
        likes: chance of each state when it is chosen anew, and on the first day.
    """
    # Days first and the rest flat: each step then works on one block of memory.
    by_day, keeps, liked = _days_first(said, keep, likes)
    filtered = np.empty_like(by_day)
    totals = np.empty(by_day.shape[:2])
    anew, before = (1 - keeps) * liked, liked
    for day in range(len(by_day)):
        joint = np.multiply(before, by_day[day], out=filtered[day])
        total = joint.sum(axis=-1, keepdims=True)
        joint /= total
        totals[day] = total[:, 0]
        before = keeps * joint + anew
    log = np.log(totals).sum(axis=0).reshape(said.shape[:-2])
    return _days_last(filtered, said.shape), log


def smoothed(said: Floats, keep: Floats, likes: Floats, filtered: Floats | None = None) -> Floats:
    """Give the chance of each state on each day given all days; arguments as for `forward`."""
    given = forward(said, keep, likes)[0] if filtered is None else filtered
    now, keeps, liked = _days_first(given, keep, likes)
    by_day = _days_first(said, keep, likes)[0]
    found = np.empty_like(now)
    later = np.ones_like(now[0])
    for day in range(len(now) - 1, -1, -1):
        both = np.multiply(now[day], later, out=found[day])
        both /= both.sum(axis=-1, keepdims=True)
        ahead = by_day[day] * later
        later = keeps * ahead + (1 - keeps) * (liked * ahead).sum(axis=-1, keepdims=True)
        later /= later.max(axis=-1, keepdims=True)
    return _days_last(found, said.shape)


def drawn(
    filtered: Floats, keep: Floats, likes: Floats, rng: np.random.Generator
) -> tuple[Ints, Bools]:
    """Draw one whole course of states, and on which days it was chosen anew.

    Args:
        filtered: from `forward`.
        keep: as there.
        likes: as there.
        rng: where chance comes from.
    """
    by_day, keeps, liked = _days_first(filtered, keep, likes)
    days, many, kinds = by_day.shape
    rise = np.cumsum(by_day, axis=-1)
    alone = (rise < rng.random((days, many, 1)) * rise[..., -1:]).sum(axis=-1)
    np.minimum(alone, kinds - 1, out=alone)
    coin = rng.random((days, many))
    states, anew = alone.copy(), np.ones((days, many), dtype=bool)
    row, kept_by, left = np.arange(many), keeps[:, 0], 1 - keeps[:, 0]
    for day in range(days - 2, -1, -1):
        following = states[day + 1]
        kept = kept_by * by_day[day][row, following]
        stays = coin[day] * (kept + left * liked[row, following]) < kept
        states[day] = np.where(stays, following, alone[day])
        anew[day + 1] = ~stays
    shape = (*filtered.shape[:-2], days)
    return states.T.reshape(shape), anew.T.reshape(shape)


def _days_first(said: Floats, keep: Floats, likes: Floats) -> tuple[Floats, Floats, Floats]:
    """Give days, all leading axes in one, states; and keep and likes to go with them."""
    days, kinds = said.shape[-2:]
    lead = said.shape[:-2]
    flat = said.reshape(-1, days, kinds).swapaxes(0, 1)
    keeps = np.broadcast_to(keep, lead).reshape(-1, 1)
    liked = np.broadcast_to(likes, (*lead, kinds)).reshape(-1, kinds)
    return np.ascontiguousarray(flat), keeps, liked


def _days_last(found: Floats, shape: tuple[int, ...]) -> Floats:
    return found.swapaxes(0, 1).reshape(shape)
