"""Where each buck bedded on each day of a season: one model for all bucks and areas together.

The state of a buck and day is one of the areas or elsewhere. He keeps it with a chance of his own
or chooses anew (`keeping`); given it, pictures come as `beds_chances` says; the chances are learned
from all bucks together (`beds_learned`), and pictures without a name are shared out
(`beds_nameless`). A multistate capture-recapture model as a hidden Markov model: C. J. Schwarz,
J. F. Schweigert and A. N. Arnason, Biometrics 49 (1993) 177-193; R. Pradel, Biometrics 61 (2005)
442-447; W. Zucchini, I. L. MacDonald and R. Langrock, Hidden Markov models for time series, 2nd ed.
(2016). By Gibbs sampling with whole courses drawn at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from camsign.arrays import Bools, Floats, Ints
from camsign.stats.beds_chances import Chances, day_ratios, said
from camsign.stats.beds_evidence import Evidence, Looks
from camsign.stats.beds_evidence import Looks as Made
from camsign.stats.beds_learned import Course, first_guess, learn, liking, opened
from camsign.stats.beds_nameless import STRANGERS, share_out
from camsign.stats.beds_used import reconsider
from camsign.stats.keeping import drawn, smoothed

CHAINS, WARMED, KEPT = 6, 50, 70
# Forward-backward sums are averaged over every so many of the rounds kept.
SMOOTHED = 4


@dataclass(frozen=True, slots=True, eq=False)
class Beds:
    """What is known of where they bedded.

    `draws` (draws, bucks, days): equally likely courses, areas by number, the last number being
    elsewhere. `chance` (bucks, days, areas + 1): of each state on each day. `keeps` (draws, bucks)
    and `likes` (draws, bucks, areas + 1): to go on from the last day. `hidden` (bucks, areas),
    `passes` (bucks, sets, ends): mean chances to slip by, and to pass at each end if not.
    """

    draws: npt.NDArray[np.uint8]
    chance: Floats
    keeps: Floats
    likes: Floats
    hidden: Floats
    passes: Floats

    def days(self, buck: int, area: int, wanted: Bools) -> Ints:
        """Count the days in bed in an area among the wanted ones, in each draw."""
        found: Ints = (self.draws[:, buck][:, wanted] == area).sum(axis=1)
        return found

    def ahead(self, days: int) -> Floats:
        """Give the chance of each state so many days behind the last: (bucks, areas + 1)."""
        found: Floats = self.ahead_draws(days).mean(axis=0)
        return found

    def ahead_draws(self, days: int) -> Floats:
        """Give the same for each draw: (draws, bucks, areas + 1)."""
        return np.stack([self.ahead_at(days, at) for at in range(self.likes.shape[-1])], axis=-1)

    def ahead_at(self, days: int, area: int) -> Floats:
        """Give the same of one state alone: (draws, bucks)."""
        stays = self.keeps**days
        found: Floats = stays * (self.draws[:, :, -1] == area) + (1 - stays) * self.likes[..., area]
        return found

    def courses_ahead(self, days: int, seed: int) -> npt.NDArray[np.uint8]:
        """Draw so many days behind the last of each course: (draws, bucks, days), as in `draws`."""
        rng = np.random.default_rng(seed)
        state, rise = self.draws[:, :, -1], np.cumsum(self.likes, axis=-1)
        found = np.empty((*state.shape, days), dtype=np.uint8)
        for day in range(days):
            dice = rng.random((*state.shape, 1)) * rise[..., -1:]
            chosen = (rise < dice).sum(axis=-1)
            state = np.where(rng.random(state.shape) < self.keeps, state, chosen)
            found[:, :, day] = state
        return found


def beds(
    e: Evidence, seed: int = 1, chains: int = CHAINS, warmed: int = WARMED, kept: int = KEPT
) -> Beds:
    """Learn from a season's evidence where each buck bedded.

    Args:
        e: the season.
        seed: of the draws.
        chains: run side by side.
        warmed: rounds left out at the beginning of each.
        kept: rounds kept of each.
    """
    rng = np.random.default_rng(seed)
    c = first_guess(e, chains)
    chain, looks = _for_all(e.looks, chains)
    all_of = chain, looks
    named = np.zeros((e.bucks, e.days, e.areas, 2), dtype=bool)
    named[e.looks.buck, e.looks.day, e.looks.area, e.looks.end] = True
    stranger = np.full((chains, e.areas, 2), STRANGERS[0] / STRANGERS[1])
    gathered, laws = _Gathered(), liking(e)
    for turn in range(warmed + kept):
        ratios = day_ratios(e, c, *all_of)
        likely = said(e, c, ratios)
        filtered = reconsider(e, c, likely, laws, rng)
        state, anew = drawn(filtered, c.keeps, c.likes, rng)
        course = Course(state, anew, opened(c, ratios, state, rng))
        if turn >= warmed:
            gathered.draw(state, c)
            if turn % SMOOTHED == 0:
                gathered.smooth(smoothed(likely, c.keeps, c.likes, filtered))
        learn(e, c, *all_of, course, rng)
        if len(e.nameless.day):
            more = share_out(e, c, course, named, stranger, rng)
            all_of = _with(chain, looks, *more)
    return gathered.beds()


class _Gathered:
    """What the rounds kept gave."""

    def __init__(self) -> None:
        self.rounds: list[tuple[npt.NDArray[np.uint8], Floats, Floats, Floats, Floats]] = []
        self.chances: list[Floats] = []

    def draw(self, state: Ints, c: Chances) -> None:
        means = c.hidden.mean(axis=0), c.passes.mean(axis=0)
        self.rounds.append((state.astype(np.uint8), c.keeps.copy(), c.likes.copy(), *means))

    def smooth(self, chance: Floats) -> None:
        self.chances.append(chance.mean(axis=0))

    def beds(self) -> Beds:
        state, keeps, likes, hidden, passes = zip(*self.rounds, strict=True)
        return Beds(
            np.concatenate(state), np.mean(self.chances, axis=0), np.concatenate(keeps),
            np.concatenate(likes), np.mean(hidden, axis=0), np.mean(passes, axis=0),
        )  # fmt: skip


def _for_all(looks: Looks, chains: int) -> tuple[Ints, Looks]:
    """Repeat the named looks for every chain."""
    chain = np.repeat(np.arange(chains), len(looks.day))
    return chain, _each(lambda x: np.tile(x, chains), looks)


def _with(chain: Ints, looks: Looks, more_chain: Ints, more: Looks) -> tuple[Ints, Looks]:
    return np.concatenate([chain, more_chain]), _each(
        lambda x, y: np.concatenate([x, y]), looks, more
    )


def _each(do: object, *looks: Looks) -> Looks:
    names = ("buck", "day", "area", "end", "half", "way", "inside")
    return Made(*(do(*(getattr(one, name) for one in looks)) for name in names))  # type: ignore[operator]
