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

from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from camsign.arrays import Bools, Floats, Ints, Reals, Singles
from camsign.stats.beds_chances import SINGLE, Chances, behind, day_ratios, said, worth
from camsign.stats.beds_evidence import Evidence, Looks
from camsign.stats.beds_learned import (
    Course,
    first_guess,
    learn,
    liking,
    opened,
    reconsider,
    tally,
)
from camsign.stats.beds_nameless import STRANGERS, share_out
from camsign.stats.keeping import drawn, forward, smoothed

# Rounds left out; chains, from how many to how many, so that bucks times areas times chains are so
# many; the rounds kept between one look at what is settled and the next, and at most.
WARMED, CHAINS, CELLS, AT_ONCE, MOST_KEPT = 60, (16, 64), 3072, 40, 200
# Chains times bucks, days and states a question may cost: about three seconds of one processor.
WORK = 80_000_000
# A piece of memory of this size [bytes], let go once, makes the C library keep what is freed later
# rather than hand it back to the system and fetch it again, in every round.
AT_HAND = 1 << 24
# Settled: the standard errors of means, and of ends of intervals [days], by groups of chains.
STEADY, GROUPS = (0.3, 0.65), 8
# Forward-backward sums are averaged over every so many of the rounds kept.
SMOOTHED = 4
# Courses are kept of every so many: those in between say little more.
THINNED = 2


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

    def ahead_draws(self, days: int) -> Floats:
        """Give the chance of each state so many days behind the last: (draws, bucks, areas + 1)."""
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
    e: Evidence, seed: int = 1, chains: int | None = None, warmed: int = WARMED,
    kept: int | None = None,
) -> Beds:  # fmt: skip
    """Learn from a season's evidence where each buck bedded.

    Args:
        e: the season.
        seed: of the draws.
        chains: run side by side; by the size of the season without.
        warmed: rounds left out at the beginning of each.
        kept: rounds kept of each; without, until nothing said of a season moves any more, or all
            the work is done that a question may cost.
    """
    chains = chains_of(e) if chains is None else chains
    np.empty(AT_HAND, dtype=np.uint8)
    # All in one thread: of two each step cost nearly as much, for half of them.
    all_of_them = _Chains(e, chains, np.random.default_rng(seed))
    most = most_of(e, chains) if kept is None else kept
    all_of_them.run(warmed, keep=False)
    done = 0
    while done < most:
        part = min(AT_ONCE if kept is None else most, most - done)
        all_of_them.run(part)
        done += part
        if kept is None and settled(all_of_them.gathered.days()):
            break
    return all_of_them.gathered.together()


def chains_of(e: Evidence) -> int:
    """Give how many chains to run: the smaller a season, the more cost no more than few."""
    return int(np.clip(CELLS // max(e.bucks * e.areas, 1) // 2 * 2, *CHAINS))


def most_of(e: Evidence, chains: int) -> int:
    """Give how many rounds to keep at most."""
    work = chains * e.days * max(e.bucks, 1) * (e.areas + 1)
    return int(np.clip(WORK // work - WARMED, AT_ONCE, MOST_KEPT))


def settled(days: Floats) -> bool:
    """Say whether other draws would say the same: means and both ends of all intervals.

    By what groups of chains say by themselves. `days` (chains, rounds, bucks · areas).
    """
    groups = np.array_split(days, min(GROUPS, len(days)))
    ends = [0.025, 0.975]
    means = np.array([one.mean(axis=(0, 1)) for one in groups])
    lows = np.array([np.quantile(one, ends, axis=(0, 1)) for one in groups])
    wrong = (x.std(axis=0, ddof=1) / len(groups) ** 0.5 for x in (means, lows))
    return all(bool((x <= few).all()) for x, few in zip(wrong, STEADY, strict=True))


class _Chains:
    """Chains that are learned side by side, and what their rounds gave."""

    def __init__(self, e: Evidence, chains: int, rng: np.random.Generator) -> None:
        self.e, self.rng, self.c = e, rng, first_guess(e, chains)
        every = np.tile(np.arange(len(e.looks.day)), chains)
        self.named = np.repeat(np.arange(chains), len(e.looks.day)), e.looks.take(every)
        self.seen = np.zeros((e.bucks, e.days, e.areas, 2), dtype=bool)
        self.seen[e.looks.buck, e.looks.day, e.looks.area, e.looks.end] = True
        self.stranger = np.full((chains, e.areas, 2), STRANGERS[0] / STRANGERS[1])
        self.looks, self.laws, self.gathered = self.named, liking(e), _Gathered(e)
        self.turn = 0

    def run(self, rounds: int, keep: bool = True) -> None:
        """Draw so many rounds."""
        for _ in range(rounds):
            self._round(keep)
            self.turn += 1

    def _round(self, keep: bool) -> None:
        e, c, rng = self.e, self.c, self.rng
        worths = worth(e, c, *self.looks)
        ratios = day_ratios(e, c, *self.looks, worths)
        likely = said(e, c, ratios)
        filtered, log = forward(likely, c.keeps, behind(c.likes))
        if self.turn % 2:
            reconsider(e, c, likely, (filtered, log), self.laws, rng)
        likes = behind(c.likes)
        state, anew = drawn(filtered, c.keeps, likes, rng)
        course = Course(state, anew, opened(c, ratios, state, rng))
        if keep and self.turn % THINNED == 0:
            self.gathered.draw(state, c)
        if keep and self.turn % SMOOTHED == 0:
            self.gathered.smooth(smoothed(likely, c.keeps, likes, filtered))
        learn(e, c, *self.looks, worths, course, rng)
        if len(e.nameless.day):
            more = share_out(e, c, course, self.seen, self.stranger, rng)
            self.looks = _both(self.named, more)


class _Gathered:
    """What the rounds kept gave."""

    def __init__(self, e: Evidence) -> None:
        self.rounds: list[tuple[npt.NDArray[np.uint8], Singles, Singles, Floats, Floats]] = []
        self.chances: list[Floats] = []
        self.counts: list[Floats] = []
        self.watched = np.column_stack([e.watch >= 0, np.zeros(e.days, dtype=bool)])

    def draw(self, state: Ints, c: Chances) -> None:
        courses = np.moveaxis(state, 0, -1).astype(np.uint8)
        means = c.hidden.mean(axis=0), c.passes.mean(axis=0)
        self.rounds.append((courses, c.keeps.astype(SINGLE), c.likes.astype(SINGLE), *means))
        covered = self.watched[np.arange(len(state))[:, None, None], state]
        self.counts.append(tally(c.hidden.shape, state, covered).reshape(state.shape[1], -1))

    def smooth(self, chance: Reals) -> None:
        self.chances.append(np.moveaxis(chance.mean(axis=2, dtype=float), -1, 0))

    def days(self) -> Floats:
        """Give the days in bed on covered days: (chains, rounds, bucks · areas)."""
        return np.stack(self.counts, axis=1)

    def together(self) -> Beds:
        """Put all rounds together."""
        state, keeps, likes, hidden, passes = zip(*self.rounds, strict=True)
        return Beds(
            np.concatenate(state), np.mean(self.chances, axis=0), np.concatenate(keeps),
            np.concatenate(likes), np.mean(hidden, axis=0), np.mean(passes, axis=0),
        )  # fmt: skip


def _both(one: tuple[Ints, Looks], more: tuple[Ints, Looks]) -> tuple[Ints, Looks]:
    """Put looks of chains behind others."""
    names = (f.name for f in fields(Looks))
    looks = (np.concatenate([getattr(one[1], n), getattr(more[1], n)]) for n in names)
    return np.concatenate([one[0], more[0]]), Looks(*looks)
