"""Where in time a stretch belongs whose clock started anew: as well as the evidence allows.

The order of the files bounds it: behind the good frame before it on the card (or the hanging), and
before the good frame after it (or the take-down, or the day the card came in). The light tells the
time of day. Of the days that remain, the first is taken behind a good stretch, since a camera that
starts anew mostly goes on at once, and the last otherwise, since a card is mostly pulled soon
behind its last frame (both common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import ceil, floor

from camsign.arrays import Bools, Floats
from camsign.clock.light import SunTable
from camsign.clock.offset_models import tell
from camsign.clock.verdicts import FEWEST_BURSTS, WIDEST_MIN, interval, width

DAY_S = 86400.0
_FAR_S = 5 * DAY_S
WIDEST_PLACED_S = 14 * DAY_S
"""What may lie anywhere in more than two weeks is not moved by itself [s]: a guess as wide as that
puts pictures into another phase of the season (our choice)."""


@dataclass(frozen=True, slots=True)
class OffsetBounds:
    """What must be added at least and at most to what the clock showed to give UTC [s].

    `behind_good`: the lower bound is a good frame of the same card.
    """

    low: float
    high: float
    behind_good: bool


@dataclass(frozen=True, slots=True)
class Placed:
    """What is added to what the clock showed [s], between which bounds, and what that rests on.

    `fits`: nothing contradicts it.
    """

    shift: float
    low: float
    high: float
    why: str
    fits: bool = True

    @property
    def close(self) -> bool:
        """Whether it is known closely enough to move pictures by."""
        return self.high - self.low <= WIDEST_PLACED_S


def place(
    shown_s: Floats, day: Bools, bounds: OffsetBounds, sky: Callable[[float, float], SunTable]
) -> Placed:
    """Place a stretch by what its clock showed, one frame a burst [s], whether that was taken by
    daylight, and the sun (`sky`) between two instants [s since 1970]."""
    placed = _placed(shown_s, day, bounds, sky)
    if placed.close or not placed.fits:
        return placed
    days = round((placed.high - placed.low) / DAY_S)
    why = f"its pictures may be from anywhere in {days:,} days, too wide to fix by daylight"
    return replace(placed, why=why)


def _placed(
    shown_s: Floats, day: Bools, bounds: OffsetBounds, sky: Callable[[float, float], SunTable]
) -> Placed:
    start = bounds.low if bounds.behind_good else bounds.high
    if bounds.low > bounds.high:
        why = "the frames around it leave it no room"
        return Placed(bounds.low, bounds.high, bounds.low, why, fits=False)
    told = by_light(shown_s, day, start, bounds, sky)
    if told is not None and abs(told.shift - start) > _FAR_S:
        # The sun of another season was used; once more with the right one.
        told = by_light(shown_s, day, told.shift, bounds, sky)
    if told is not None:
        return told
    where = "right behind the one before" if bounds.behind_good else "as late as they can be"
    why = f"can't check this clock by daylight: its pictures go {where}"
    return Placed(start, bounds.low, bounds.high, why)


def by_light(
    shown_s: Floats,
    day: Bools,
    guess: float,
    bounds: OffsetBounds,
    sky: Callable[[float, float], SunTable],
) -> Placed | None:
    """The shift nearest to its end of the bounds that the light allows; None if it cannot tell."""
    if len(shown_s) < FEWEST_BURSTS or day.all() or not day.any():
        return None
    read = shown_s + guess
    ahead = interval(tell(sky(read.min(), read.max()), read, day))
    if width(ahead) > WIDEST_MIN or ahead.value is None:
        return None
    least = guess - 60 * (ahead.high or 0)
    value, spread = guess - 60 * ahead.value, 60 * width(ahead)
    first, last = ceil((bounds.low - least - spread) / DAY_S), floor((bounds.high - least) / DAY_S)
    days = first if bounds.behind_good else max(first, last)
    shift, low = value + days * DAY_S, least + days * DAY_S
    if last < first:
        why = "light and file order contradict each other"
        return Placed(shift, low, low + spread, why, fits=False)
    if last == first:
        return Placed(shift, low, low + spread, "light and file order leave one day")
    why = f"the light tells the hour; {last - first + 1} days are possible"
    return Placed(shift, bounds.low, bounds.high, why)
