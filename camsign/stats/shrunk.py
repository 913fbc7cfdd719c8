"""Chances of several parts of a season, each drawn towards what they have in common.

Each part's chance comes from one Beta law, whose mean (Beta(1/2, 3/2): small chances are the rule)
and size (flat on a log scale) are learned from all parts: parts with few days lean on the others.
A beta-binomial hierarchy on a grid:
A. Gelman et al., Bayesian data analysis, 3rd ed. (2013), section 5.3.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from camsign.stats.spells import Posterior

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

_MEANS, _SIZES, _CHANCES = 30, (1.0, 300.0, 10), 240


def shrunk_chances(events: Sequence[int], days: Sequence[int], effect: float) -> list[Posterior]:
    """Give the posterior chance of an event on a day, for each part.

    Args:
        events: days with an event in each part.
        days: days watched in each part; a part without any gets what the others say.
        effect: how many days in a row tell as much as one (`spells.design_effect`); counts are
            divided by it.
    """
    import numpy as np
    from scipy.special import betaln

    mean, size = np.meshgrid(
        (np.arange(_MEANS) + 0.5) / _MEANS, np.geomspace(*_SIZES[:2], _SIZES[2]), indexing="ij"
    )
    a, b = (mean * size).ravel(), ((1 - mean) * size).ravel()
    counts = [(k / effect, (n - k) / effect) for k, n in zip(events, days, strict=True)]
    each = np.array([betaln(a + k, b + miss) - betaln(a, b) for k, miss in counts])
    prior = -0.5 * np.log(mean.ravel()) + 0.5 * np.log1p(-mean.ravel())
    log = each.sum(axis=0) + prior
    weights = np.exp(log - log.max())
    chances = ((np.arange(_CHANCES) + 0.5) / _CHANCES) ** 2
    return [_mixture(chances, a + k, b + miss, weights, k > 0) for k, miss in counts]


def _mixture(chances: Floats, a: Floats, b: Floats, weights: Floats, seen: bool) -> Posterior:
    """Add up Beta laws at points even in the square root of the chance."""
    import numpy as np
    from scipy.special import betaln

    keep = weights > weights.max() * 1e-6
    a, b, weights = a[keep, None], b[keep, None], weights[keep]
    density = np.exp((a - 1) * np.log(chances) + (b - 1) * np.log1p(-chances) - betaln(a, b))
    found = (weights @ density) * np.sqrt(chances)
    return Posterior(chances, found / found.sum(), seen)
