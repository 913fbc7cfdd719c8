"""How a number with its interval is written: one way for the terminal, the pages and the charts.

`e` is whatever has a `value`, a `low` and a `high`; None is unknown, and as an end it is open.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

NOTHING, CANNOT_TELL = "–", "can't tell"


class Interval(Protocol):
    """A value and its interval, all in one unit."""

    @property
    def value(self) -> float | None:
        """The value, None where it is undefined."""

    @property
    def low(self) -> float | None:
        """The lower end, None where nothing bounds it."""

    @property
    def high(self) -> float | None:
        """The upper end, None where nothing bounds it."""


def interval(e: Interval | None, places: int | None = 1, unit: str = "", times: float = 1.0) -> str:
    """Write `31 (13–56)`, the unit behind the value; a dash where nothing is known, in words where
    it may be anything.

    `places`: decimals; None gives as many as the size asks for. Each number is multiplied by
    `times` (100 for shares in percent).
    """
    write = rounded if places is None else lambda x: f"{x:.{places}f}"
    return worded(e, lambda x: write(x * times), unit)


def worded(e: Interval | None, write: Callable[[float], str], unit: str = "") -> str:
    """Write a value and its interval, each number by `write`."""
    if e is None or (e.value is None and e.high is None and not e.low):
        return NOTHING
    if e.value is None and e.high is None:
        return f"{write(e.low or 0.0)}{unit} or more"
    if e.value is None:
        return f"{write(e.low)}–{write(e.high or 0.0)}{unit}" if e.low else CANNOT_TELL
    value = write(e.value)
    if e.low is None and e.high is None:
        return value + unit
    low, high = write(e.low or 0.0), "no limit" if e.high is None else write(e.high)
    to = " to " if low.startswith(("-", "−")) or high.startswith(("-", "−")) else "–"
    return value + unit if low == value == high else f"{value}{unit} ({low}{to}{high})"


def rate(e: Interval | None, seen: int) -> str:
    """Write how often: `31 (13–56)`; `at most 6.1` where nothing was seen, which is no number."""
    if seen or e is None or e.high is None:
        return interval(e)
    return f"at most {e.high:.1f}"


def percent(e: Interval | None) -> str:
    """Write a share: `17% (5–30)`."""
    return interval(e, 0, "%", 100)


def times(e: Interval | None) -> str:
    """Write how often: `6 (0–16)`, whole from 1 up; below that with the decimal that tells."""
    return worded(e, lambda x: f"{x:.0f}" if x >= 0.95 else rounded(x))


def rounded(x: float) -> str:
    """Write a number with as many decimals as its size asks for: 1,200, 31, 3.1, 0.3, 0.03."""
    if abs(x) >= 9.95 or abs(x - round(x)) < 1e-9:
        return f"{x:,.0f}"
    return f"{x:.1f}" if abs(x) >= 0.095 else f"{x:.1g}"
