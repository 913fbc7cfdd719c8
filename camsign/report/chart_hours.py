"""A buck's hours by the sun: the curve with its band, and below it a mark for each visit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from camsign.answers.when import When
from camsign.report.style import BLUE, INK, LIGHTS, PHONE, QUIET, legend, new_figure, plain_axes
from camsign.units import counted

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


_SHAPES = {"day": "o", "gray": "D", "dark": "s"}
_TOLD = {"day": "visit by day", "gray": "visit in gray light", "dark": "visit in the dark"}
_HOURS = {0: "midnight", 3: "3 h before", 6: "sunrise", 9: "3 h after", 12: "midday",
          15: "3 h before", 18: "sunset", 21: "3 h after", 24: "midnight"}  # fmt: skip
# Height of the curve and of a row of marks [inches].
_CURVE, _ROW = 2.4, 0.13


def day_by_sun(
    when: When, gray_min: tuple[float, float] = (30.0, 30.0), phone: bool = False
) -> Figure:
    """Draw when he came, by the sun: a mark a visit by its light, and the band of his activity.

    Args:
        when: the answer.
        gray_min: how long it counts as light before sunrise and after sunset [minutes].
        phone: as wide as a phone.
    """
    marks = _marks(when)
    rows = max((row for at in marks.values() for _, row in at), default=0) + 1
    title = f"{when.buck} at {when.area}: hours of the day"
    came, nights = counted(len(when.visits), "visit"), counted(when.nights_watched, "day")
    sub = f"{came} in {nights} covered"
    figure = new_figure(PHONE if phone else 9, 1.3 + 0.3 * phone + _CURVE + _ROW * rows, title, sub)
    axes = plain_axes(figure.add_subplot())
    _night(axes, gray_min)
    if when.activity:
        _curve(axes, when)
    top = axes.get_ylim()[1] if when.activity else 1.0
    for light, at in marks.items():
        x, y = zip(*((x, -(row + 0.8) * _ROW / _CURVE * top) for x, row in at), strict=True)
        axes.scatter(x, y, marker=_SHAPES[light], s=12 if phone else 20, color=LIGHTS[light],
                     edgecolor=INK, linewidths=0.5, label=_TOLD[light], zorder=4)  # fmt: skip
    axes.axhline(0, color=QUIET, lw=0.8)
    told = [h for h in _HOURS if not (phone and h % 6)]
    axes.set(xlim=(0, 24), xticks=told, ylim=(-(rows + 0.6) * _ROW / _CURVE * top, top))
    axes.set_xticklabels([_HOURS[h] for h in told], fontsize=7.5 if phone else 9)
    if when.activity:
        axes.set_ylabel("share of his visits in an hour")
        axes.yaxis.set_major_formatter(lambda x, _: f"{x:.0%}")
        axes.set_yticks([t for t in axes.get_yticks() if 0 <= t <= top])
    else:
        axes.set_yticks([])
    legend(figure, 2 if phone else 4)
    return figure


def _night(axes: Axes, gray_min: tuple[float, float]) -> None:
    """Shade the dark, and hatch the gray light between it and the day."""
    dawn, dusk = 6 - gray_min[0] / 60, 18 + gray_min[1] / 60
    for i, (left, right) in enumerate(((0, dawn), (dusk, 24))):
        axes.axvspan(left, right, color=LIGHTS["dark"], alpha=0.34, lw=0, zorder=0.5,
                     label=None if i else "dark")  # fmt: skip
    for i, (left, right) in enumerate(((dawn, 6), (18, dusk))):
        axes.axvspan(left, right, facecolor="none", edgecolor=LIGHTS["gray"], hatch="/////", lw=0,
                     zorder=0.5, label=None if i else "gray light")  # fmt: skip


def _curve(axes: Axes, when: When) -> None:
    """Draw the curve around the clock: midnight at its end is midnight at its start."""
    points = [*when.activity, when.activity[0]]
    hours = [p.hour for p in when.activity] + [when.activity[0].hour + 24]
    share, low, high = ([_or(getattr(p.share, n)) for p in points]
                        for n in ("value", "low", "high"))  # fmt: skip
    axes.fill_between(hours, low, high, color=BLUE, alpha=0.28, lw=0, label="likely range (95%)")
    axes.plot(hours, share, color=BLUE, lw=2, label="share of his visits")


def _marks(when: When) -> dict[str, list[tuple[float, int]]]:
    """Give each visit's quarter of an hour and its row below the curve, by light."""
    stacked: dict[int, int] = {}
    placed: dict[str, list[tuple[float, int]]] = {}
    for visit in when.visits:
        hour = _hour(visit.minutes_from_sunrise, visit.minutes_from_sunset)
        if hour is None:
            continue
        column = round(hour * 4)
        row = stacked[column] = stacked.get(column, -1) + 1
        placed.setdefault(visit.light, []).append((column / 4, row))
    return placed


def _hour(rise: float | None, sets: float | None) -> float | None:
    """Hours of a day in which sunrise is 6 and sunset 18; by day stretched between the two."""
    if rise is None or sets is None:
        return None
    if rise >= 0 >= sets:
        return 6 + 12 * rise / max(rise - sets, 1e-9)
    return (6 + rise / 60) % 24 if rise < 0 else (18 + sets / 60) % 24


def _or(value: float | None) -> float:
    return float("nan") if value is None else value
