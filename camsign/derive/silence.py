"""When a silent camera must be taken for dead, by its own rate.

A silence is a run of whole local days without a frame between two signs of life. It is too long
when a camera as busy as this one was around it would hardly stay silent that long: with k of n days
with frames, the chance of none on the next g days is beta-binomial under Jeffreys' prior (e.g. A.
Gelman et al., Bayesian data analysis, 3rd ed. (2013), section 2.4). k and n are counted in the 30
days before and the 30 days behind the silence, and the quieter side decides, since deer come and go
with the season; a side with fewer than 10 days joins the other.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, lgamma
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Days = npt.NDArray[np.bool_]

TOO_UNLIKELY = 0.001
_AROUND = 30
_ENOUGH = 10


@dataclass(frozen=True, slots=True)
class Silence:
    """Days [start, stop) without a frame, counted from the first day."""

    start: int
    stop: int


def chance_of_silence(days: int, with_frames: int, of: int) -> float:
    """Give the chance of no frame on `days` days after frames on `with_frames` of `of` days."""
    a, b = with_frames + 0.5, of - with_frames + 0.5
    return exp(lgamma(b + days) - lgamma(b) + lgamma(a + b) - lgamma(a + b + days))


def too_long(frames: Days, out: Days) -> list[Silence]:
    """Give the silences that are too long, by whether each local day has a frame (or another sign
    of life), as the first and the last day of the span do, and whether it lies in an outage (`out`)
    that people stated: such days count neither as silent nor as watched.
    """
    import numpy as np

    counted, lively = ~out, np.flatnonzero(frames)
    gaps = np.flatnonzero(np.diff(lively) > 1)
    silences = [Silence(int(lively[i]) + 1, int(lively[i + 1])) for i in gaps]
    found: list[Silence] = []
    while new := [s for s in silences if s not in found and _is_too_long(s, frames, counted)]:
        found += new
        # A dead camera's days say nothing of its rate.
        for silence in new:
            counted[silence.start : silence.stop] = False
    return sorted(found, key=lambda s: s.start)


def _is_too_long(silence: Silence, frames: Days, counted: Days) -> bool:
    import numpy as np

    days = int(counted[silence.start : silence.stop].sum())
    # Even a frame on each of 30 days leaves one silent day a chance of 1 in 62.
    if days < 2:
        return False
    before = np.flatnonzero(counted[: silence.start])[-_AROUND:]
    behind = np.flatnonzero(counted[silence.stop :])[:_AROUND] + silence.stop
    few = min(len(before), len(behind)) < _ENOUGH
    sides = [np.concatenate([before, behind])] if few else [before, behind]
    lively = [(int(frames[side].sum()), len(side)) for side in sides]
    return all(chance_of_silence(days, k, n) < TOO_UNLIKELY for k, n in lively)
