"""Small charts as numbers: values with intervals, a curve with its band, visits by the sun."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, floor, isfinite, log10

from camsign.answers.result import Figure
from camsign.answers.when import CurvePoint
from camsign.formats.interval import interval

WIDTH = 460.0
_NAMES, _EDGE, _ROW, _TOP = 176.0, 20.0, 30.0, 8.0
# Below this there is nothing to draw; a curve is drawn as if its values were this large.
_LEAST = 1e-6
_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
CURVE_TALL = 130.0


@dataclass(frozen=True, slots=True)
class Whisker:
    """One row: its name, the value and interval in words and in pixels; None where unknown."""

    name: str
    words: str
    y: float
    x: float | None
    low: float | None
    high: float | None
    open_end: bool


@dataclass(frozen=True, slots=True)
class Tick:
    """A mark of the axis [pixels] with its number."""

    x: float
    words: str


@dataclass(frozen=True, slots=True)
class Whiskers:
    """Rows on one axis from 0, in a drawing WIDTH pixels wide."""

    rows: list[Whisker]
    ticks: list[Tick]
    tall: float


@dataclass(frozen=True, slots=True)
class Curve:
    """A curve over the sun-anchored day as path data; `most` is the highest share per hour."""

    line: str
    band: str
    most: float


@dataclass(frozen=True, slots=True)
class SunClock:
    """Visits by whole hours from sunrise and sunset, each by the nearer; the others are outside.

    `most`: the most of one hour, 1 at least.
    """

    from_sunrise: dict[int, int]
    from_sunset: dict[int, int]
    outside: int
    most: int


def sun_clock(visits: Iterable[tuple[float | None, float | None]]) -> SunClock:
    """Count each visit once, given its minutes from sunrise and sunset (None or nan: not known)."""
    rise, sets, outside = dict.fromkeys(range(-6, 6), 0), dict.fromkeys(range(-6, 6), 0), 0
    for a, b in visits:
        if a is None or b is None or not isfinite(a + b):
            outside += 1
            continue
        # The evening before and the morning after are as near as this day's own.
        a, b = (a + 720) % 1440 - 720, (b + 720) % 1440 - 720
        near, counts = (a, rise) if abs(a) <= abs(b) else (b, sets)
        if (hour := floor(near / 60)) in counts:
            counts[hour] += 1
        else:
            outside += 1
    return SunClock(rise, sets, outside, max(1, *rise.values(), *sets.values()))


def whiskers(named: Iterable[tuple[str, Figure]], times: float = 1.0) -> Whiskers | None:
    """Lay values and intervals out, each multiplied by `times` (100 for shares in percent).

    An interval that reaches much farther than all values do is cut, and its row says so. None
    where there is nothing to draw: no row, or none with a number above 0.
    """
    given = list(named)
    values = [f.value * times for _, f in given if f.value is not None]
    highs = [f.high * times for _, f in given if f.high is not None]
    most = max([*highs, *values], default=0.0)
    if most < _LEAST:
        return None
    if values and max(values) > _LEAST:
        most = min(most, 6 * max(values))
    step = _step(most)
    end = step * ceil(most / step - 1e-9)
    scale = (WIDTH - _NAMES - _EDGE) / end

    def at(value: float | None) -> float | None:
        return None if value is None else round(_NAMES + min(value * times, end) * scale, 1)

    rows = [
        Whisker(
            name,
            in_words(f, times),
            _TOP + _ROW * (i + 0.5),
            at(f.value),
            at(f.low if f.low is not None else None),
            at(f.high) if f.high is not None else _NAMES + end * scale,
            f.high is None or f.high * times > end,
        )
        for i, (name, f) in enumerate(given)
    ]
    ticks = [
        Tick(round(_NAMES + i * step * scale, 1), f"{i * step:g}")
        for i in range(round(end / step) + 1)
    ]
    return Whiskers(rows, ticks, _TOP + _ROW * len(rows) + 26)


def in_words(figure: Figure, times: float = 1.0, unit: str = "") -> str:
    """Give a value with its interval, such as `31 (13–56)`; a dash where nothing is known."""
    return interval(figure, None, unit, times)


def curve(points: Sequence[CurvePoint]) -> Curve | None:
    """Draw his activity: midnight at the left, sunrise and sunset at a quarter and three."""
    if not points:
        return None
    most = max([_LEAST, *(p.share.high or p.share.value or 0.0 for p in points)])
    whole = [*points, points[0]]
    xs = [24.0 if i == len(points) else p.hour for i, p in enumerate(whole)]

    def path(values: Sequence[float]) -> list[str]:
        return [
            f"{x / 24 * WIDTH:.1f} {CURVE_TALL * (1 - v / most):.1f}"
            for x, v in zip(xs, values, strict=True)
        ]

    middle = path([p.share.value or 0.0 for p in whole])
    low, high = path([p.share.low or 0.0 for p in whole]), path([p.share.high or 0 for p in whole])
    return Curve("M" + "L".join(middle), "M" + "L".join([*high, *reversed(low)]) + "Z", most)


def _step(most: float) -> float:
    """Give a round step that divides an axis up to `most` into five parts or fewer."""
    power = 10 ** floor(log10(most / 5))
    fits = (s for s in _STEPS if power * s * 5 >= most * (1 - 1e-9))
    return float(power * next(fits))
