"""The stretches of a camera's clock, and how far it ran on from one into the next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from camsign.arrays import Ints
from camsign.clock.outside import FEW, SET_BACK_S, Span, shown_span
from camsign.clock.resets import OffsetBounds
from camsign.clock.stretches import Shots
from camsign.logbook.records import Deployment

_RUNS_ON = timedelta(days=3)
"""A clock ran on if what it showed goes on within so many days. Our choice."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Frames that one clock timed without a break, in file order; `lost` if outside of the days its
    camera hung, `wrong` if their date can't be.

    `bounds`: of a lost stretch; `beside_good`: its card holds frames of likely date too. `whole`:
    no other stretch of its deployment. `back_s`: from its frame number `back_at` on it lies so long
    before what its card holds in front of that, as both are read. `hung`: the camera was hung
    somewhere, ever. `nearby`: so many more miss its deployment on the same side by too little to be
    lost. `run`: what its clock showed without a break, in the stretches before and behind too.
    `at`: which of the camera's frames, in file order; `ends`: its first and last on each card,
    where another stretch showed the same times and only the order of the files tells them apart, or
    may have on a card that isn't loaded: of a date that was set back.
    """

    deployment: Deployment | None
    camera: str
    shots: Shots
    lost: bool = False
    wrong: bool = False
    bounds: OffsetBounds | None = None
    beside_good: bool = False
    whole: bool = False
    back_s: float = 0.0
    back_at: int = 0
    hung: bool = True
    nearby: int = 0
    run: Span | None = None
    at: Ints | None = None
    ends: tuple[tuple[str, str], ...] = ()

    @property
    def asked_about(self) -> bool:
        """Whether its clock or the day it was hung is wrong, and nobody can tell which."""
        return self.lost and self.hung and self.deployment is not None and not self.wrong


def with_runs(stretches: list[Stretch]) -> list[Stretch]:
    """Say of stretches outside of the days their camera hung how far their clock ran on, and of
    those into which one of five pictures or more ran on that their day is as doubtful."""
    spans = [shown_span(s.shots) for s in stretches]
    found = [replace(s, ends=_ends_of(i, stretches, spans)) for i, s in enumerate(stretches)]
    for i, stretch in enumerate(stretches):
        if not stretch.asked_about:
            continue
        beside = [
            j
            for j, s in enumerate(stretches)
            if j != i and s.camera == stretch.camera and not s.wrong
        ]
        run = run_around(spans[i], [spans[j] for j in beside])
        found[i] = replace(found[i], run=run)
        for j in beside:
            if run[0] <= spans[j][0] and spans[j][1] <= run[1] and len(stretch.shots.frame) >= FEW:
                found[j] = replace(found[j], run=run)
    return found


def _ends_of(
    i: int, stretches: Sequence[Stretch], spans: Sequence[Span]
) -> tuple[tuple[str, str], ...]:
    mine = stretches[i]
    others = [j for j, s in enumerate(stretches) if j != i and s.camera == mine.camera]
    first, last = spans[i]
    again = any(a <= last and b >= first for a, b in (spans[j] for j in others))
    if mine.at is None or not (again or (mine.back_s >= SET_BACK_S and not mine.back_at)):
        return ()
    ends = []
    for card in np.unique(mine.shots.card):
        here = np.flatnonzero(mine.shots.card == card)
        here = here[np.argsort(mine.at[here])]
        low, high = mine.at[here[0]], mine.at[here[-1]]
        theirs = [at for j in others if (at := stretches[j].at) is not None]
        if any(((at > low) & (at < high)).any() for at in theirs):
            return ()  # another stretch lies within it: clips beside pictures
        ends.append((str(mine.shots.frame[here[0]]), str(mine.shots.frame[here[-1]])))
    return tuple(ends)


def run_around(span: Span, others: Sequence[Span]) -> Span:
    """Lengthen what a clock showed by all that it showed right before and behind, none over it."""
    first, last = span
    for a, b in sorted(others):
        if timedelta(0) <= a - last <= _RUNS_ON:
            last = b
    for a, b in sorted(others, reverse=True):
        if timedelta(0) <= first - b <= _RUNS_ON:
            first = a
    return first, last
