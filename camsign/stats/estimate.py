"""The shape of every answer that is a number: the value and the interval around it."""

from __future__ import annotations

from dataclasses import dataclass


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
