"""A chain that keeps its state or chooses anew: what days said one by one say together.

From day to day it keeps its state with a chance of its own, and otherwise draws one from its
likings, which may be the same again: the transition is keep · I + (1 - keep) · 1 likes'. That makes
the forward and backward recursions linear in the number of states. Days are the first axis, states
the second; arrays may hold many chains at once, along any axes behind, so that each step of a day
works on rows in one block of memory. Sums are as exact as `said` is: single floats do.

Forward-backward: L. R. Rabiner, A tutorial on hidden Markov models, Proc. IEEE 77 (1989) 257-286;
drawing a whole course backwards from the forward chances: S. L. Scott, Bayesian methods for hidden
Markov models, J. Am. Stat. Assoc. 97 (2002) 337-351.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from camsign.arrays import Bools, Floats, Ints, Reals


def forward(said: Reals, keep: Reals, likes: Reals) -> tuple[Reals, Floats]:
    """Give the chance of each state on each day given the days up to it, and the log likelihood.

    Args:
        said: (days, states, …) likelihood of each day's evidence, up to a factor a day.
        keep: (…) chance to keep the state, 0 to 1.
        likes: (states, …) chance of each state when it is chosen anew, and on the first day.
    """
    filtered = np.empty_like(said)
    totals = np.empty((len(said), *said.shape[2:]))
    keeps, liked = _as_said(said, keep, likes)
    anew, before = (1 - keeps) * liked, liked.copy()
    for day, evidence in enumerate(said):
        joint = np.multiply(before, evidence, out=filtered[day])
        total = joint.sum(axis=0)
        joint /= total
        totals[day] = total
        np.multiply(keeps, joint, out=before)
        before += anew
    return filtered, np.log(totals).sum(axis=0)


def smoothed(said: Reals, keep: Reals, likes: Reals, filtered: Reals | None = None) -> Reals:
    """Give the chance of each state on each day given all days; arguments as for `forward`."""
    given = forward(said, keep, likes)[0] if filtered is None else filtered
    keeps, liked = _as_said(said, keep, likes)
    found, later = np.empty_like(given), np.ones_like(liked)
    for day in range(len(given) - 1, -1, -1):
        both = np.multiply(given[day], later, out=found[day])
        both /= both.sum(axis=0)
        ahead = said[day] * later
        later = keeps * ahead + (1 - keeps) * (liked * ahead).sum(axis=0)
        later /= later.max(axis=0)
    return found


def drawn(
    filtered: Reals, keep: Reals, likes: Reals, rng: np.random.Generator
) -> tuple[npt.NDArray[np.intp], Bools]:
    """Draw one whole course of states, and on which days it was chosen anew: (days, …) each.

    Args:
        filtered: from `forward`.
        keep: as there.
        likes: as there.
        rng: where chance comes from.
    """
    days, kinds, *many = filtered.shape
    by_day = filtered.reshape(days, kinds, -1)
    keeps, liked = _as_said(filtered, keep, likes)
    keeps, liked = keeps.reshape(-1), liked.reshape(kinds, -1)
    alone = _alone(by_day, rng)
    coin = rng.random(alone.shape, dtype=np.float32)
    left = (1 - keeps) * liked
    # Places in a day's states, in one block: so the loop only looks up.
    many_at_once = alone.shape[1]
    at = alone * many_at_once + np.arange(many_at_once)
    anew = np.ones(alone.shape, dtype=bool)
    for day in range(days - 2, -1, -1):
        # Whether a state was kept, if that of the day behind it is this one: of all at once.
        kept = keeps * by_day[day]
        stays = (coin[day] * (kept + left) < kept).reshape(-1).take(at[day + 1])
        np.copyto(at[day], at[day + 1], where=stays)
        np.logical_not(stays, out=anew[day + 1])
    states = at // many_at_once
    return states.reshape(days, *many), anew.reshape(days, *many)


def _alone(by_day: Reals, rng: np.random.Generator) -> Ints:
    """Draw each day's state by its own chances."""
    dice = rng.random((len(by_day), by_day.shape[2]), dtype=np.float32)
    rise = by_day[:, 0].copy()
    found = np.zeros(dice.shape, dtype=np.intp)
    # Not the last: what rounding leaves over is its own. Nor at its edge, so that none has no part.
    for kind in range(1, by_day.shape[1]):
        found += rise <= dice
        rise += by_day[:, kind]
    return found


def _as_said(said: Reals, keep: Reals, likes: Reals) -> tuple[Reals, Reals]:
    """Give keep and likes in the shape of a day, as exact as what is said."""
    many = said.shape[2:]
    liked = likes.reshape(likes.shape + (1,) * (said.ndim - 1 - likes.ndim))
    keeps = np.ascontiguousarray(np.broadcast_to(keep, many), dtype=said.dtype)
    return keeps, np.ascontiguousarray(np.broadcast_to(liked, said.shape[1:]), dtype=said.dtype)
