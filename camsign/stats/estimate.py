"""The shape of every answer that is a number: the value and the interval around it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy.typing as npt


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value and its interval, all in one unit.

    `value` is None where it is undefined, `low` or `high` None where nothing bounds that side.
    """

    value: float | None
    low: float | None
    high: float | None

    def scaled(self, factor: float) -> Estimate:
        """The same estimate in another unit: each number times `factor` (> 0)."""
        return Estimate(
            *(None if x is None else x * factor for x in (self.value, self.low, self.high))
        )


def tail(level: float) -> float:
    """The probability left outside each end of a two-sided interval of this confidence level."""
    if not 0 < level < 1:
        raise ValueError(f"level {level} is not between 0 and 1")
    return (1 - level) / 2


def spread_of(draws: npt.ArrayLike, level: float = 0.95) -> Estimate:
    """Mean and central interval of equally likely whole numbers."""
    import numpy as np

    found = np.asarray(draws)
    outside = tail(level)
    low, high = np.quantile(found, [outside, 1 - outside], method="inverted_cdf")
    return Estimate(float(found.mean()), float(low), float(high))
