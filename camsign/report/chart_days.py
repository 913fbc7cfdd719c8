"""A season day by day: visits as numbers, and days that say nothing plainly apart."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from math import ceil
from typing import TYPE_CHECKING, Any

from camsign.answers.calendar import Calendar, CalendarDay, MadeWindow
from camsign.report.style import GREEN, INK, LIGHTS, ORANGE, PAPER, PHONE, QUIET, new_figure
from camsign.units import counted

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


_UNSORTED, _WATCHED = "#d9d4c5", "#ffffff"
_MOST_WINDOWS = 8
# On a phone so many weeks lie side by side, the others below; a square's side in inches.
_PHONE_WEEKS, _SQUARE = 14, 0.42
_HATCH: dict[str, Any] = {"facecolor": PAPER, "hatch": "xxxx"}


def calendar_chart(calendar: Calendar, phone: bool = False) -> Figure:
    """Draw each day as a square: visits as numbers, and days that say nothing plainly apart."""
    days = calendar.days
    start = days[0].day - timedelta(days=(days[0].day.weekday() + 1) % 7)
    weeks = (days[-1].day - start).days // 7 + 1
    width = min(weeks, _PHONE_WEEKS) if phone else max(weeks, 14)
    bands = ceil(weeks / width)
    tight = sorted(calendar.made, key=lambda w: ((w.last - w.first).days, w.first))
    windows = tight[:_MOST_WINDOWS]
    step = 0.62 if phone else 0.42
    low = -1.1 - step * len(windows)
    inches = (PHONE - 0.5) / (width + 1.5) if phone else _SQUARE
    who = f"{', '.join(calendar.bucks)} at " if calendar.bucks else ""
    high = bands * (8.3 - low + 0.6) * inches + (1.25 if phone else 0.65)
    figure = new_figure(PHONE if phone else width * _SQUARE + 1.9, high,
                        f"{who}{calendar.area}: day by day", _counted(calendar))  # fmt: skip
    for band, axes in enumerate(figure.subplots(bands, 1, squeeze=False)[:, 0]):
        first = start + timedelta(weeks=band * width)
        _band(axes, calendar, first, width, 7.0 if phone else 8.0)
        _windows(axes, windows, first, width, step)
        axes.set(xlim=(-0.2, width + 1.3), ylim=(low, 8.3))
    _keys(figure, calendar, 1 if phone else 3)
    return figure


def _counted(calendar: Calendar) -> str:
    """Count visits, nights as all answers count them, and days without a camera."""
    visits = counted(sum(d.visits for d in calendar.days), "visit")
    nights, waiting = calendar.nights_watched, calendar.nights_unsorted
    waits = f" ({waiting} not sorted)" if waiting else ""
    told = f"{visits}; {nights} of {counted(nights + waiting, 'day')} counted{waits}"
    bare = sum(d.state == "not watched" for d in calendar.days)
    return f"{told}, {counted(bare, 'day')} not covered" if bare else told


def _band(axes: Axes, calendar: Calendar, first: date, weeks: int, size: float) -> None:
    """Draw so many weeks from a Sunday on."""
    axes.set_facecolor(PAPER)
    axes.spines[:].set_visible(False)
    axes.tick_params(length=0, colors=INK, labelsize=size + 1)
    axes.set_aspect("equal")
    axes.set(yticks=[6.5, 3.5, 0.5], xticks=[])
    axes.set_yticklabels(["Sun", "Wed", "Sat"])
    here = [d for d in calendar.days if 0 <= (d.day - first).days < 7 * weeks]
    for day in here:
        week, weekday = divmod((day.day - first).days, 7)
        _square(axes, week, 6 - weekday, day, size)
    _months(axes, [d.day for d in here], first, size)
    for i, phase in enumerate(calendar.phases):
        span = _within(first, weeks, phase.first, phase.last)
        if span:
            _phase(axes, phase.name, span, i, size)


def _months(axes: Axes, days: Sequence[date], first: date, size: float) -> None:
    """Name the months below, with the year where it begins and where a band does."""
    named = [d for d in days if d.day == 1 or d is days[0]]
    if len(named) > 1 and (named[1] - named[0]).days < 21:
        named = named[1:]
    for day in named:
        words = f"{day:%b %Y}" if day is named[0] or day.month == 1 else f"{day:%b}"
        axes.annotate(words, ((day - first).days // 7 + 0.05, -0.68), fontsize=size + 1, color=INK)


def _square(axes: Axes, x: int, y: int, day: CalendarDay, size: float) -> None:
    from matplotlib.patches import Rectangle

    style: dict[str, Any] = {"facecolor": _WATCHED}
    if day.visits:
        style = {"facecolor": GREEN if day.shooting_light else LIGHTS["gray"]}
    elif day.state == "not watched":
        style = _HATCH
    elif day.state == "unsorted":
        style = {"facecolor": _UNSORTED}
    axes.add_patch(Rectangle((x + 0.05, y + 0.05), 0.9, 0.9, edgecolor=QUIET, linewidth=0.6,
                             **style))  # fmt: skip
    words = str(day.visits) if day.visits else "?" if day.state == "unsorted" else ""
    axes.annotate(words, (x + 0.5, y + 0.47), ha="center", va="center", fontsize=size,
                  color=PAPER if day.shooting_light else INK)  # fmt: skip


def _within(first: date, weeks: int, start: date, end: date) -> tuple[float, float] | None:
    """Where days from `start` to `end` lie in a band [weeks from its start], None if outside."""
    x0, x1 = ((d - first).days / 7 for d in (start, end + timedelta(days=1)))
    x0, x1 = max(x0, 0.0), min(x1, float(weeks))
    return (x0, x1) if x0 < x1 else None


def _phase(axes: Axes, name: str, span: tuple[float, float], i: int, size: float) -> None:
    axes.plot([span[0] + 0.06, span[1] - 0.06], [7.35, 7.35], color=INK, lw=3 if i % 2 else 1.4,
              solid_capstyle="butt")  # fmt: skip
    if span[1] - span[0] > 0.22 * len(name):
        axes.annotate(name, (sum(span) / 2, 7.55), ha="center", fontsize=size, color=INK)


def _windows(axes: Axes, made: Sequence[MadeWindow], first: date, weeks: int, step: float) -> None:
    """Draw below when sign was made."""
    for i, one in enumerate(made):
        y, span = -1.25 - step * i, _within(first, weeks, one.first, one.last)
        if span:
            axes.plot(span, [y, y], color=ORANGE, lw=2.4, solid_capstyle="butt")
            axes.annotate(one.kind, (span[1] + 0.1, y), va="center", fontsize=7, color=INK)


def _keys(figure: Figure, calendar: Calendar, columns: int) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    def patch(words: str, **style: Any) -> Patch:
        return Patch(edgecolor=QUIET, label=words, **style)

    whom = {0: "a buck", 1: "him"}.get(len(calendar.bucks), "any of them")
    there = {d.state for d in calendar.days}
    handles: list[Any] = [
        patch("came in shooting light", facecolor=GREEN),
        patch("came in the dark only", facecolor=LIGHTS["gray"]),
        patch(f"covered, no picture of {whom}", facecolor=_WATCHED),
    ]
    if "unsorted" in there:
        handles.append(patch("? pictures not sorted: unknown", facecolor=_UNSORTED))
    if "not watched" in there:
        handles.append(patch("not covered: unknown", **_HATCH))
    if calendar.made:
        few = f" (the {_MOST_WINDOWS} we can date best)" * (len(calendar.made) > _MOST_WINDOWS)
        words = f"when sign was made{few}"
        handles.append(Line2D([], [], color=ORANGE, lw=2.4, label=words))
    figure.legend(handles=handles, loc="outside lower left", ncols=columns, frameon=False,
                  fontsize=8.5, labelcolor=INK)  # fmt: skip
