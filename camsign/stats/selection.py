"""Is one of several kinds used more than it is there? Selection ratios with simultaneous intervals.

Sources: C. W. Neu, C. R. Byers and J. M. Peek, A technique for analysis of utilization-availability
data, J. Wildl. Manage. 38 (1974) 541-545; B. F. J. Manly, L. L. McDonald, D. L. Thomas, T. L.
McDonald and W. P. Erickson, Resource selection by animals, 2nd ed. (2002), design I with known
availability.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from camsign.arrays import Bools, Floats, Ints
from camsign.stats.estimate import Estimate, clopper_pearson, tail


def selection_intervals(used: Ints, share: Floats, level: float = 0.95) -> list[Estimate]:
    """Ratios with intervals that hold all at once at a level (Bonferroni over the kinds there are).

    Exact limits of each share (Clopper and Pearson 1934) in place of the normal ones, which have no
    width where a kind was never used. No value where there is none of a kind.
    """
    kinds, total = int((share > 0).sum()), int(used.sum())
    each = 1 - 2 * tail(level) / max(kinds, 1)
    found = []
    for n, part in zip(used, share, strict=True):
        if part > 0:
            found.append(clopper_pearson(int(n), total, each).scaled(1 / float(part)))
        else:
            found.append(Estimate(None, None, None))
    return found


@dataclass(frozen=True, slots=True)
class Shown:
    """Ratios of each kind, and how often days shifted against each other differ as much, 0 to 1."""

    ratios: tuple[Estimate, ...]
    luck: float


def selection_by_days(used: Bools, kind: Ints, kinds: int) -> Shown:
    """Compare days of use with all days in order, by their kinds 0 to kinds - 1.

    Days come in runs, of use as well as of kinds. So beside the intervals stands how often the
    days of use, shifted in a circle against the kinds, differ as much from what is there by the sum
    of squares over expectation: a permutation that keeps the runs.
    """
    there = np.bincount(kind, minlength=kinds)
    share = there / max(len(kind), 1)
    of_use = np.bincount(kind[used], minlength=kinds)
    n = len(kind)
    if not of_use.sum():
        return Shown(tuple(Estimate(None, None, None) for _ in range(kinds)), 1.0)
    shifted = [np.bincount(kind[np.roll(used, s)], minlength=kinds) for s in range(n)]
    apart = _apart(np.array(shifted), share * of_use.sum())
    luck = float((apart >= apart[0] - 1e-9).mean())
    return Shown(tuple(selection_intervals(of_use, share)), luck)


def _apart(counts: Ints, expected: Floats) -> Floats:
    there = expected > 0
    return np.asarray(((counts - expected)[:, there] ** 2 / expected[there]).sum(1), np.float64)
