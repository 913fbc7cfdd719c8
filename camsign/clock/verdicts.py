"""What a stretch of pictures says of its clock: a verdict, an offset with its interval, and why.

Verdicts: `right`, `off`, `twelve hours`, `an hour since the switch`, `drifts`, `cannot tell`; of
stretches whose date cannot be: `reset` (behind or before a good stretch of the same card) and
`impossible date`; of those that only lie outside of the days their camera hung: `clock or hang
date`; of those that begin days before the picture in front of them on the card: `date set back`. A
clock is called wrong only if the offset 0 lies outside the 99.7% set and the best is more than 20
minutes off; a verdict needs a 95% set at most an hour wide. One that is not wrong by that rule, but
likely more than 20 minutes off, is not called right either (`unless_it_looks_off`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from math import ceil, floor

import numpy as np

from camsign.arrays import Bools, Floats
from camsign.clock.light import (
    DAY_STEPS,
    HALF,
    STEP_S,
    Light,
    SunTable,
    arc,
    heights,
    smallest_set,
    steps_of,
)
from camsign.clock.offset_models import Step, Story, minutes, tell
from camsign.formats.days import minutes_words
from camsign.stats.estimate import Estimate
from camsign.units import counted

RIGHT = "right"
FITS = "the light fits"
# Between why a clock of a camera without a place can't be checked, and what to do about it.
HANG_FIRST = "; hang it first: "
OFF = "off"
TWELVE = "twelve hours"
STEPPED = "an hour since the switch"
DRIFTS = "drifts"
UNCLEAR = "cannot tell"
RESET = "reset"
IMPOSSIBLE = "impossible date"
DISAGREES = "clock or hang date"
SET_BACK = "date set back"
WRONG = frozenset({OFF, TWELVE, STEPPED, DRIFTS, RESET, IMPOSSIBLE})

WIDEST_MIN = 60.0
TOLERATED_MIN = 20.0
FEWEST_BURSTS = 10
_SURE = 0.9
# A step of which the light says nothing keeps its chance of 1 in 20; below this it is excluded.
_EXCLUDED = 0.02
_MINORITY = 0.03
_FEWEST_DARK = 5
_TWO_HEAPS = 0.8
_TWILIGHT_DEG = 6.0


@dataclass(frozen=True, slots=True)
class Judged:
    """A verdict.

    `ahead`: by how much the clock is ahead of right time [min], in the middle of the stretch, or
    before the step; `drift` [min a week]; `dawn`, `dusk`: bursts within 6° of the horizon.
    """

    verdict: str
    ahead: Estimate
    bursts: int
    dawn: int
    dusk: int
    why: str
    drift: float | None = None
    step: Step | None = None


def daylight(colour: Floats, brightness: Floats) -> tuple[Bools, bool]:
    """Say of each burst whether it was taken by daylight, and whether brightness had to decide.

    Color means daylight. Where nearly all bursts are in color (a white flash) and their
    brightness falls into two heaps, the darker heap counts as dark.
    """
    day = colour >= 0.5
    dark = len(day) - int(day.sum())
    if dark >= max(_FEWEST_DARK, _MINORITY * len(day)):
        return day, False
    threshold = _two_heaps(brightness)
    return (day, False) if threshold is None else (day & (brightness > threshold), True)


def _two_heaps(values: Floats) -> float | None:
    """The value between two heaps of a sample, None if it has no two: Otsu's threshold.

    The share of variance that it explains must exceed 0.8; a uniform law gives 0.75, a normal one
    0.64. Source: N. Otsu, A threshold selection method from gray-level histograms, IEEE Trans. SMC
    9 (1979) 62-66.
    """
    ordered = np.sort(values[np.isfinite(values)])
    n = len(ordered)
    if n < FEWEST_BURSTS or ordered[0] == ordered[-1]:
        return None
    low = np.arange(1, n)
    sums = np.cumsum(ordered)
    apart = sums[:-1] / low - (sums[-1] - sums[:-1]) / (n - low)
    between = low * (n - low) * apart**2 / n**2
    best = int(np.argmax(between))
    if between[best] / ordered.var() < _TWO_HEAPS:
        return None
    return float(ordered[best] + ordered[best + 1]) / 2


def judge(
    table: SunTable,
    read_s: Floats,
    day: Bools,
    switches: Sequence[float] = (),
    by_brightness: bool = False,
) -> Judged:
    """Judge one stretch, a burst an element; arguments as for `tell`.

    `by_brightness`: `day` rests on brightness, said in `why`.
    """
    n = len(read_s)
    if n < FEWEST_BURSTS:
        return _unclear(n, f"{'only ' * bool(n)}{counted(n, 'burst')}: too few to check the clock")
    if day.all() or not day.any():
        return _unclear(n, f"all {n} bursts were taken {'by day' if day.all() else 'in the dark'}")
    story = tell(table, read_s, day, switches)
    ahead = interval(story)
    dawn, dusk = _twilight(table, read_s, story)
    since = int((read_s >= story.step.at).sum()) if story.step else 0
    verdict, why = _verdict(story, ahead, dawn, dusk, since)
    if by_brightness:
        why += "; nearly all pictures are in color, so we could only go by how bright they are"
    drift = sum(rate * weight for rate, weight in story.drift.items())
    return Judged(
        verdict,
        ahead,
        n,
        dawn,
        dusk,
        why,
        drift if verdict == DRIFTS else None,
        story.step if verdict == STEPPED else None,
    )


def interval(story: Story) -> Estimate:
    """The likeliest offset and the arc that holds the 95% set [min]; low may lie below -12 h."""
    best = int(story.share.argmax()) - HALF
    start, stop = arc(smallest_set(story.share, 0.95))
    low = (best - start) % DAY_STEPS + 0.5
    high = (stop - best) % DAY_STEPS + 0.5
    value, per = minutes(best), STEP_S / 60
    return Estimate(value, value - low * per, value + high * per)


def width(ahead: Estimate) -> float:
    """Width of the interval [min]."""
    if ahead.low is None or ahead.high is None:
        return 1440.0
    return ahead.high - ahead.low


def _verdict(story: Story, ahead: Estimate, dawn: int, dusk: int, since: int) -> tuple[str, str]:
    if width(ahead) > WIDEST_MIN:
        return UNCLEAR, f"can't pin it within an hour: {_lacking(dawn, dusk)}"
    day = f"{datetime.fromtimestamp(story.step.at, UTC):%Y-%m-%d}" if story.step else ""
    # However few pictures follow the switch: an hour wrong from then on must not be called right.
    if story.step and _EXCLUDED < story.step_chance <= _SURE:
        left = counted(since, "burst")
        return UNCLEAR, f"it may have changed with daylight saving on {day}: only {left} since"
    if story.step and story.step_chance > _SURE:
        way = "further ahead" if story.step.seconds > 0 else "further behind"
        return STEPPED, f"{spoken_offset(ahead)} before {day}, an hour {way} since"
    value = ahead.value or 0.0
    if abs(value) > TOLERATED_MIN and not _holds(story, 0.0, 0.997):
        if _holds(story, 720.0, 0.95):
            return TWELVE, "morning and evening are exchanged"
        return OFF, f"the clock is {spoken_offset(ahead)}"
    if 1 - story.drift.get(0, 0.0) > _SURE:
        rate = sum(rate * weight for rate, weight in story.drift.items())
        return DRIFTS, f"the clock {'gains' if rate > 0 else 'loses'} {abs(rate):.1f} min a week"
    return RIGHT, FITS


def unless_it_looks_off(judged: Judged) -> Judged:
    """Call no clock right whose 95% interval leaves out 0 and reaches beyond what is tolerated, or
    whose likeliest offset does: can't tell, with how it looks."""
    value, low, high = judged.ahead.value, judged.ahead.low, judged.ahead.high
    if judged.verdict != RIGHT or value is None or low is None or high is None:
        return judged
    leaves_out = not low <= 0 <= high and max(abs(low), abs(high)) > TOLERATED_MIN
    if not leaves_out and abs(value) <= TOLERATED_MIN:
        return judged
    looks = f"looks {offset_words(judged.ahead)}"
    if min(judged.dawn, judged.dusk) < FEWEST_BURSTS:
        looks += f", from {_lacking(judged.dawn, judged.dusk)}"
    return replace(judged, verdict=UNCLEAR, why=looks + judged.why.removeprefix(FITS))


def counted_verdicts(verdicts: Sequence[str], fixed: int = 0) -> str:
    """Count verdicts for people: `7 checked: 5 right, 2 can't tell`."""
    told = verdict_words(verdicts, fixed)
    return f"{len(verdicts)} checked" + (f": {told}" if told else "")


def verdict_words(verdicts: Sequence[str], fixed: int = 0) -> str:
    """Count verdicts without their sum: `4 right, 1 wrong (fixed), 2 can't tell`."""
    wrong = sum(v in WRONG for v in verdicts)
    mended = "" if not fixed else " (fixed)" if fixed == wrong else f" ({fixed} of them fixed)"
    counts = (
        (verdicts.count(RIGHT), "right"),
        (wrong, f"wrong{mended}"),
        (verdicts.count(DISAGREES), "with a wrong clock or hang date"),
        (verdicts.count(SET_BACK), "with a date that went back"),
        (verdicts.count(UNCLEAR), "can't tell"),
    )
    return ", ".join(f"{n} {word}" for n, word in counts if n)


def _unclear(n: int, why: str) -> Judged:
    return Judged(UNCLEAR, Estimate(None, None, None), n, 0, 0, why)


def _holds(story: Story, value_min: float, level: float) -> bool:
    """Whether an offset [min] lies in the set of this level, or in the same step as one of it."""
    near = np.array([floor(value_min * 60 / STEP_S), ceil(value_min * 60 / STEP_S)])
    near = (near + HALF) % DAY_STEPS - HALF
    return bool(np.isin(near, smallest_set(story.share, level)).any())


def whole_hour(ahead: Estimate) -> float | None:
    """The whole hour [min] nearest to the value, if it lies in the interval; else None."""
    if ahead.value is None or ahead.low is None or ahead.high is None:
        return None
    hour = round(ahead.value / 60) * 60.0
    return hour if ahead.low <= hour <= ahead.high else None


def _twilight(table: SunTable, read_s: Floats, story: Story) -> tuple[int, int]:
    best = int(story.share.argmax()) - HALF
    height, sinking = heights(table, Light(steps_of(read_s) - best, read_s > 0))
    near = abs(height) < _TWILIGHT_DEG
    return int((near & ~sinking).sum()), int((near & sinking).sum())


def _lacking(dawn: int, dusk: int) -> str:
    if min(dawn, dusk) >= FEWEST_BURSTS:
        return "daylight and its clock don't fit well"
    few = [(n, name) for n, name in ((dawn, "dawn"), (dusk, "dusk")) if n < FEWEST_BURSTS]
    told = f"only {counted(few[0][0], 'burst')} near {few[0][1]}"
    return told + "".join(f" and {n} near {name}" for n, name in few[1:])


def rounded_words(ahead: Estimate) -> str:
    """Such as `12 min fast`, or `1 h fast`: a whole hour where one lies in the interval."""
    return fast_or_slow(round(whole_hour(ahead) or ahead.value or 0.0))


def spoken_offset(ahead: Estimate) -> str:
    """Such as `12 min fast`, or `2 h fast (clocks slip by whole hours; the light says 2 h 4 min,
    give or take 9 min)`."""
    value, hour = ahead.value or 0.0, whole_hour(ahead)
    exact = fast_or_slow(round(value))
    if not hour or round(value) == hour:
        return exact
    slip = "likely daylight saving" if abs(hour) == 60 else "clocks slip by whole hours"
    light = f"the light says {exact.rsplit(' ', 1)[0]}"
    if ahead.low is not None and ahead.high is not None:
        light += f", give or take {minutes_words(max(round((ahead.high - ahead.low) / 2), 1))}"
    return f"{fast_or_slow(round(hour))} ({slip}; {light})"


def offset_words(ahead: Estimate) -> str:
    """Such as `2 min slow (15 min slow to 13 min fast)`, or `44 min fast (15 min to 1 h 9 min)`."""
    value, low, high = (round(x or 0.0) for x in (ahead.value, ahead.low, ahead.high))
    if low > 0 or high < 0:
        near, far = sorted((abs(low), abs(high)))
        return f"{fast_or_slow(value)} ({minutes_words(near)} to {minutes_words(far)})"
    said = [fast_or_slow(x) if x else "0 min" for x in (value, low, high)]
    return f"{said[0]} ({said[1]} to {said[2]})"


def fast_or_slow(value: int) -> str:
    """Write by how many minutes a clock is off: `12 min fast`, `1 h slow`, `right`."""
    return f"{minutes_words(value)} {'fast' if value > 0 else 'slow'}" if value else "right"
