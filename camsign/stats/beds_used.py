"""Whether anybody beds in an area at all: some are only walked through.

Where every buck passes at dusk and at dawn, each of many days is a little likely a day in bed, and
over a season one of them nearly sure. So areas nobody beds in are a hypothesis of their own, for
all bucks together. It is weighed by the likelihood of the whole season with the courses summed over
(`keeping.forward`): an area is taken out, or put in with likings drawn anew from their law, and the
step is taken with the ratio of likelihoods times the odds beforehand. P. J. Green, Biometrika 82
(1995) 711-732: the new likings come from their own law, so that nothing else enters the ratio.
"""

from __future__ import annotations

import numpy as np

from camsign.arrays import Bools, Floats, Ints, Reals, Singles
from camsign.stats.beds_chances import Chances, behind
from camsign.stats.beds_evidence import Evidence
from camsign.stats.keeping import forward

# Odds that somebody beds in a bedding area without sign (common practice, no source).
USED_ODDS = 3.0


def reconsider(
    e: Evidence, c: Chances, likely: Singles, summed: tuple[Reals, Floats], laws: Floats,
    rng: np.random.Generator,
) -> None:  # fmt: skip
    """Take an area of each chain out or put it in, in place.

    Args:
        e: the season.
        c: the chances; `used` and `likes` change.
        likely: of each day in each state (`beds_chances.said`).
        summed: the forward chances, which change, and the log likelihood (`keeping.forward`).
        laws: (areas) of likings, a Dirichlet's weights.
        rng: where chance comes from.
    """
    filtered, before = summed
    chains = len(c.used)
    row, area = np.arange(chains), rng.integers(0, e.areas, chains)
    used = c.used.copy()
    used[row, area] = ~used[row, area]
    likes = _likes(c, used, area, laws, rng)
    tried, after = forward(likely, c.keeps, behind(likes))
    odds = np.log(USED_ODDS * e.likes[area])
    gain = (after - before).sum(axis=1) + np.where(used[row, area], odds, -odds)
    # One area at least stays: likings need somewhere to go.
    takes = (np.log(rng.random(chains)) < gain) & used.any(axis=1)
    c.used[takes], c.likes[takes] = used[takes], likes[takes]
    filtered[:, :, takes] = tried[:, :, takes]


def _likes(c: Chances, used: Bools, area: Ints, laws: Floats, rng: np.random.Generator) -> Floats:
    """Give the likings with an area put in or taken out, the others in the same proportion."""
    row, bucks = np.arange(len(used)), c.likes.shape[1]
    rest = (used * laws).sum(axis=1) - np.where(used[row, area], laws[area], 0.0)
    share = rng.beta(laws[area][:, None], np.maximum(rest, 1e-9)[:, None], (len(used), bucks))
    near = c.likes[..., :-1].copy()
    total = near.sum(axis=-1)
    near[row, :, area] = 0.0
    left = np.maximum(near.sum(axis=-1), 1e-300)
    goes_in = used[row, area][:, None]
    share = np.where(goes_in, np.clip(share, 1e-6, 1 - 1e-6), 0.0)
    near *= (total * (1 - share) / left)[..., None]
    near[row, :, area] = total * share
    return np.concatenate([near, c.likes[..., -1:]], axis=-1)
