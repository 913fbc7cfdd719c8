"""Chances that are alike: each individual's own, around a mean that all of them tell of.

A beta-binomial hierarchy, drawn rather than maximized: the mean from its posterior over a grid with
the individual chances integrated out, then each chance from its Beta law. A. Gelman et al.,
Bayesian data analysis, 3rd ed. (2013), section 5.3.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np

from camsign.arrays import Floats, Singles


class Pool:
    """Draws means and chances of one kind.

    Args:
        grid: the means tried, between 0 and 1.
        log_prior: of each, up to a constant.
        strength: how many trials of his own weigh as much as what the others tell.
    """

    def __init__(self, grid: Floats, log_prior: Floats, strength: float) -> None:
        self.grid, self.log_prior, self.strength = grid, log_prior, strength
        self.tables = self._tables(64)

    def _tables(self, most: int) -> tuple[int, Singles, Singles, Singles]:
        """Look logarithms of Gamma functions up: counts are whole, and the same again and again."""
        from scipy.special import gammaln

        counts = np.arange(most + 1)[:, None]
        a, b = self.strength * self.grid, self.strength * (1 - self.grid)
        hit, miss = (gammaln(x + counts) - gammaln(x) for x in (a, b))
        every = gammaln(self.strength + counts[:, 0]) - gammaln(self.strength)
        return most, hit.astype(np.float32), miss.astype(np.float32), every.astype(np.float32)

    @property
    def expected(self) -> float:
        """The mean before any count."""
        return float(np.average(self.grid, weights=np.exp(self.log_prior)))

    def mean(
        self,
        hits: Floats,
        misses: Floats,
        rng: np.random.Generator,
        log_prior: Floats | None = None,
    ) -> Floats:
        """Draw the mean behind the counts of individuals, which lie along the last axis.

        `log_prior`: over the grid, the last axis; the pool's own without.
        """
        h, m = (np.rint(x).astype(int) for x in (hits, misses))
        # Taken at once: other threads may put larger ones in its place.
        tables = self.tables
        if (most := int((h + m).max(initial=0))) > tables[0]:
            tables = self.tables = self._tables(2 * most)
        _, hit, miss, every = tables
        total = (hit[h] + miss[m]).sum(axis=-2) - every[h + m].sum(axis=-1)[..., None]
        total = total + (self.log_prior if log_prior is None else log_prior)
        # The largest of sums with Gumbel noise is a draw; single floats are as good, and quicker.
        waits = rng.standard_exponential(total.shape, dtype=np.float32)
        total -= np.log(np.maximum(waits, 2.0**-25))
        drawn: Floats = self.grid[np.argmax(total, axis=-1)]
        return drawn

    @cached_property
    def around(self) -> Floats:
        """Give the logarithm of how often one's chance lies in each cell of the grid.

        One row for each mean, which are even from 0 to 1, as cells are. By cells, not by density:
        where chances are small most of them lie in the first one.
        """
        from scipy.special import betainc

        edges = np.arange(len(self.grid) + 1) / len(self.grid)
        a, b = (self.strength * x[:, None] for x in (self.grid, 1 - self.grid))
        cells = np.diff(betainc(a, b, edges), axis=-1)
        found: Floats = np.log(np.maximum(cells, 1e-12))
        return found

    def chances(
        self, mean: Floats, hits: Floats, misses: Floats, rng: np.random.Generator
    ) -> Floats:
        """Draw each one's chance, around means of the same shape or broadcast to it."""
        s = self.strength
        drawn = rng.beta(s * mean + hits, s * (1 - mean) + misses)
        found: Floats = np.clip(drawn, 1e-5, 1 - 1e-5)
        return found

    def each(
        self,
        hits: Floats,
        misses: Floats,
        rng: np.random.Generator,
        log_prior: Floats | None = None,
    ) -> Floats:
        """Draw the means, then each one's chance; individuals lie along the second axis."""
        mean = self.mean(np.moveaxis(hits, 1, -1), np.moveaxis(misses, 1, -1), rng, log_prior)
        return self.chances(mean[:, None], hits, misses, rng)


def beta_law(grid: Floats, a: Floats | float, b: Floats | float) -> Floats:
    """Give the logarithm of Beta(a, b) over a grid, up to a constant."""
    found: Floats = (a - 1) * np.log(grid) + (b - 1) * np.log1p(-grid)
    return found


def even_pool(strength: float, a: float, b: float, points: int = 15) -> Pool:
    """Means even from 0 to 1 with a Beta(a, b) law."""
    grid = (np.arange(points) + 0.5) / points
    return Pool(grid, beta_law(grid, a, b), strength)


def rare_pool(
    strength: float, low: float = 0.002, high: float = 0.6, points: int = 15, steep: float = 0.0
) -> Pool:
    """Means even in their logarithm; `steep` makes small ones likelier, as mean^-steep."""
    grid = np.geomspace(low, high, points)
    return Pool(grid, -steep * np.log(grid), strength)
