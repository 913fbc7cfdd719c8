"""The middle of a set of measured spans, such as days between visits."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from camsign.stats.estimate import Estimate, tail


def median_interval(values: npt.ArrayLike, level: float = 0.95) -> Estimate:
    """The median of finite values, in their unit, with an interval that assumes no distribution.

    Its ends are the r-th smallest and r-th largest value, with r the largest for which the
    binomial chance of fewer than r of n values below the median is at most half of 1 - level; so
    its confidence is at least `level`. Too few values for that (fewer than 6 at 95%): low and
    high are None. No values: the median is None too.
    Source: H. A. David and H. N. Nagaraja, Order statistics, 3rd ed. (2003), section 7.1.
    """
    from scipy.special import bdtr

    ordered = np.sort(np.asarray(values, dtype=float).ravel())
    n = len(ordered)
    if n == 0:
        return Estimate(None, None, None)
    # bdtr(j, n, 1/2): the chance that at most j values lie below the median; j = r - 1.
    below = bdtr(np.arange(n), n, 0.5)
    r = int(np.count_nonzero(below <= tail(level)))
    middle = float(np.median(ordered))
    if r == 0:
        return Estimate(middle, None, None)
    return Estimate(middle, float(ordered[r - 1]), float(ordered[n - r]))
