"""Which story of a clock the light supports: one offset, a drift, or an hour's step at a switch.

Stories are weighed by their evidence (the likelihood, averaged over what is unknown in each) times
how common they are beforehand. Drift and one offset are told together: their offsets are mixed by
weight. A step is a story of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from camsign.arrays import Bools, Floats, Ints
from camsign.clock.light import (
    DAY_STEPS,
    HALF,
    STEP_S,
    Light,
    Offsets,
    SunTable,
    likeliest_switch,
    likelihood,
    steps_of,
)

WEEK_S = 604800.0
# How common each story is beforehand: common practice, no source.
_PRIOR = {"constant": 0.8, "drift": 0.1, "step": 0.1}
_DRIFTS = (-5, -4, -3, -2, -1, 1, 2, 3, 4, 5)  # minutes a week, gaining or losing
_HOUR = 3600 // STEP_S
# A story is worked out in full only if it gains (a step: if it does not lose) so many nats with the
# switch heights held fixed.
_WORTH = 1.0
_EXCLUDED = -4.0
_NEARBY = 16
_IMPOSSIBLE = 1e-6
_WITHIN = 45


@dataclass(frozen=True, slots=True)
class Step:
    """The clock is `seconds` further ahead from the instant `at` [s since 1970] on."""

    at: float
    seconds: int


@dataclass(frozen=True, slots=True)
class Story:
    """What the light supports.

    `share`: of each offset, at the middle of the stretch, or before the step. `drift`: weights of
    minutes a week gained. `step`: the best step, `step_chance` its weight against all else.
    """

    share: Floats
    drift: dict[int, float]
    step: Step | None
    step_chance: float
    evidence: float


def tell(table: SunTable, read_s: Floats, day: Bools, switches: Sequence[float] = ()) -> Story:
    """Weigh the stories of one picture a burst: UTC as the clock is read so far [s since 1970], and
    whether it was taken by daylight.

    The table reaches two days beyond the pictures on either side. `switches`: instants of
    daylight-saving switches among them [s since 1970].
    """
    plain = likelihood(table, Light(steps_of(read_s), day))
    best = int(np.argmax(plain.share)) - HALF
    gains = _Gains(table, read_s, day, best)
    middle = float(read_s.min() + read_s.max()) / 2
    near = _around(plain)
    told = {0: plain}
    if any(gains.of(_drifted(read_s, middle, r), _NEARBY) > _WORTH for r in _DRIFTS):
        told |= {
            r: _shifted(table, read_s, day, _drifted(read_s, middle, r), near) for r in _DRIFTS
        }
    prior = dict.fromkeys(told, _PRIOR["drift"] / len(_DRIFTS)) | {0: _PRIOR["constant"]}
    logs = {r: told[r].evidence + np.log(prior[r]) for r in told}
    steps = {
        step: _shifted(table, read_s, day, _stepped(read_s, step), near)
        for step in (Step(at, s) for at in switches for s in (-3600, 3600))
        if gains.of(_stepped(read_s, step), _HOUR) > _EXCLUDED
    }
    return _weighed(told, logs, steps, len(switches))


def _weighed(
    told: dict[int, Offsets],
    logs: dict[int, float],
    steps: dict[Step, Offsets],
    switches: int,
) -> Story:
    flat = np.logaddexp.reduce(list(logs.values()))
    weights = {r: float(np.exp(log - flat)) for r, log in logs.items()}
    share = np.zeros(DAY_STEPS)
    for rate, weight in weights.items():
        share += told[rate].share * weight
    if not steps:
        return Story(share, weights, None, 0.0, float(flat))
    prior = np.log(_PRIOR["step"] / (2 * switches))
    stepped = {step: found.evidence + prior for step, found in steps.items()}
    best = max(stepped, key=stepped.__getitem__)
    total = np.logaddexp(flat, np.logaddexp.reduce(list(stepped.values())))
    chance = float(np.exp(stepped[best] - total))
    if chance > 0.5:
        share, weights = steps[best].share, {0: 1.0}
    return Story(share, weights, best, chance, float(total))


def _drifted(read_s: Floats, middle: float, rate: int) -> Floats:
    """How far ahead [s] a clock that gains `rate` minutes a week is, against its middle."""
    return (read_s - middle) * (rate * 60 / WEEK_S)


def _stepped(read_s: Floats, step: Step) -> Floats:
    return np.where(read_s >= step.at, float(step.seconds), 0.0)


def _around(plain: Offsets) -> Bools:
    """Which offsets lie within an hour and a half of one that is not out of the question."""
    possible = np.flatnonzero(plain.share > _IMPOSSIBLE)
    near = np.zeros(DAY_STEPS, dtype=bool)
    near[(possible[:, None] + np.arange(-_WITHIN, _WITHIN + 1)) % DAY_STEPS] = True
    return near


def _shifted(table: SunTable, read_s: Floats, day: Bools, ahead_s: Floats, near: Bools) -> Offsets:
    return likelihood(table, Light(steps_of(read_s - ahead_s), day), near)


class _Gains:
    """A quick look at what a story gains over one offset, the way light hangs on height held."""

    def __init__(self, table: SunTable, read_s: Floats, day: Bools, best: int) -> None:
        switch = likeliest_switch(table, Light(steps_of(read_s), day), best)
        self.table, self.read_s, self.best = table, read_s, best
        self.logs, self.day = switch.logs, day.astype("int64")
        self.plain = float(self._sums(steps_of(read_s) - best))

    def of(self, ahead_s: Floats, around: int) -> float:
        """The gain [nats] if the clock was ahead by so much, at the best offset nearby [steps]."""
        at = steps_of(self.read_s - ahead_s) - self.best
        every = max(1, around // 8)
        nearby = at[None, :] - np.arange(-around, around + 1, every)[:, None]
        return float(self._sums(nearby).max()) - self.plain

    def _sums(self, at: Ints) -> Floats:
        sums: Floats = self.logs[self.table.codes[at - self.table.first], self.day].sum(axis=-1)
        return sums


def parted(one: Story, two: Sequence[Story], prior: float) -> float:
    """Give the chance that parts of a stretch had offsets of their own, against one for all."""
    apart = sum(story.evidence for story in two) + np.log(prior)
    return float(1 / (1 + np.exp(min(one.evidence + np.log(1 - prior) - apart, 700.0))))


def minutes(step: float) -> float:
    """Steps as minutes, -12 h to +12 h."""
    turned = (step + HALF) % DAY_STEPS - HALF
    return turned * STEP_S / 60
