"""What sign says of how much a place is used, where pictures leave it open.

Each place has draws of how much it was used, all equally likely by pictures. Sign is made in
proportion to use, at a rate that all places share, more at some than at others (a Poisson law
mixed by a Gamma law); a little of it lies anywhere, and at some places it says nothing of use.
Rate and mixing are learned from all places together, so that sign weighs where it goes with use. A
place's draws are then weighed by how likely each makes its sign: where pictures say much, sign
moves little. Empirical Bayes with the Gamma-Poisson law: R. A. Fisher, Ann. Eugen. 11 (1941)
182-187; H. Robbins, Proc. 3rd Berkeley Symp. 1 (1956) 157-163.
"""

from __future__ import annotations

import numpy as np

from camsign.arrays import Floats

# Sign that lies anywhere, used or not (common practice, no source).
ANYWHERE = 0.5
# Some places are rich in sign that has nothing to do with their use: so many of them (common
# practice, no source). A single draw, however unlike the others, then never takes all the weight.
UNLIKE = 0.15
# Rates tried, as multiples of all sign over all use; how even sign lies for the same use, 1 for as
# uneven as a geometric law; neither said to be likelier.
RATES, EVENNESS = (0.35, 0.5, 0.7, 1.0, 1.4, 2.0), (0.5, 1.0, 2.0, 4.0)


def weights(use: Floats, sign: Floats) -> Floats:
    """Weigh each place's draws by its sign.

    Args:
        use: (places, draws), as days or anything in proportion to them.
        sign: (places) counts, made in the same days.

    Returns weights (places, draws) that add up to 1 at each place.
    """
    counts = np.asarray(sign, dtype=float)
    usual = (counts.sum() + ANYWHERE) / max(float(use.mean(axis=1).sum()), 1e-9)
    found, logs = [], []
    for rate in RATES:
        for even in EVENNESS:
            log = _log_law(counts[:, None], usual * rate * use + ANYWHERE, even)
            any_use = _log_law(counts, usual * rate * use.mean() + ANYWHERE, EVENNESS[0])[:, None]
            log = np.logaddexp(log + np.log1p(-UNLIKE), any_use + np.log(UNLIKE))
            top = log.max(axis=1, keepdims=True)
            part = np.exp(log - top)
            logs.append(float((top[:, 0] + np.log(part.mean(axis=1))).sum()))
            found.append(part / part.sum(axis=1, keepdims=True))
    share = np.exp(np.array(logs) - max(logs))
    weighed: Floats = np.einsum("i,ijk->jk", share / share.sum(), np.array(found))
    return weighed


def _log_law(counts: Floats, mean: Floats, even: float) -> Floats:
    """Logarithm of the Gamma-Poisson law, its Gamma of this shape."""
    from scipy.special import gammaln

    fixed = gammaln(counts + even) - gammaln(even) - gammaln(counts + 1)
    found: Floats = fixed + counts * np.log(mean / (mean + even)) - even * np.log1p(mean / even)
    return found
