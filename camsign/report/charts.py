"""Charts, each from one answer: what an answer says in numbers, drawn so that it can be seen."""

from __future__ import annotations

from collections.abc import Sequence
from math import radians, sin
from typing import TYPE_CHECKING, Any

from camsign.answers.bedding import Bedding
from camsign.answers.compared import Compare, Compared
from camsign.answers.result import Figure as Number
from camsign.answers.visits import Visits
from camsign.answers.ways import Way
from camsign.answers.when import When
from camsign.report.style import (
    BLUE,
    GREEN,
    INK,
    ORANGE,
    PAPER,
    PHONE,
    QUIET,
    legend,
    new_figure,
    plain_axes,
)
from camsign.units import counted

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


_HATCHES, _COLORS = ("", "//", "..", "xx", "\\\\"), (BLUE, ORANGE, GREEN, QUIET)
_BEST, _RANGE = "best guess", "likely range (95%)"


def rose(bedding: Bedding, phone: bool = False) -> Figure:
    """Draw which way bucks go by each camera, into the area by morning and out of it by evening."""
    sub = "Longer: seen going that way more often. Width: where the way may lie (95%)."
    width, height = (PHONE, 7.6) if phone else (8.4, 5.0)
    figure = new_figure(width, height, f"{bedding.area}: which way they go", sub)
    ways = (bedding.ways.morning, bedding.ways.evening)
    cameras = sorted({w.camera for one in ways for w in one})
    longest = max((w.n for one in ways for w in one), default=1)
    for i, those in enumerate(ways):
        at = (2, 1, i + 1) if phone else (1, 2, i + 1)
        axes: Any = figure.add_subplot(*at, projection="polar")
        _compass(axes, ("in, by morning", "out, by evening")[i], longest)
        if not those:
            axes.annotate("no direction\nis known", (0, 0), ha="center", va="center", color=INK)
        for way in those:
            _petal(axes, way, cameras.index(way.camera), longest)
    legend(figure, 2 if phone else 5, in_order=True)
    return figure


def _compass(axes: Any, word: str, longest: int) -> None:
    axes.set_facecolor(PAPER)
    axes.set_axisbelow(True)
    axes.set_theta_zero_location("N")
    axes.set_theta_direction(-1)
    axes.set_xticks([radians(a) for a in range(0, 360, 45)])
    axes.set_xticklabels(["N", "NE", "E", "SE", "S", "SW", "W", "NW"], color=INK)
    axes.set_yticks([])
    axes.set_ylim(0, longest * 1.3)
    axes.grid(color=QUIET, alpha=0.35, lw=0.8)
    axes.spines["polar"].set_color(QUIET)
    axes.set_title(word, fontsize=10.5, color=INK, pad=10)


def _petal(axes: Any, way: Way, n: int, longest: int) -> None:
    """A petal as wide as its interval and as long as its count."""
    b = way.bearing_deg
    if b.value is None:
        return
    low = b.value if b.low is None else b.low
    high = b.value if b.high is None else b.high
    width = max(radians((high - low) % 360), radians(6))
    middle = radians(low + (high - low) % 360 / 2)
    axes.bar(middle, way.n, width=width, color=_COLORS[n % 4], alpha=0.6, edgecolor=INK,
             hatch=_HATCHES[n % 5], label=way.camera, zorder=3)  # fmt: skip
    axes.plot([radians(b.value)] * 2, [0, way.n], color=INK, lw=1.6, zorder=4)
    clear = (0.1 + 0.14 * abs(sin(radians(b.value)))) * longest
    axes.annotate(counted(way.n, "time"), (radians(b.value), way.n + clear), ha="center",
                  va="center", fontsize=8.5, color=INK, zorder=5)  # fmt: skip


def months(when: When, phone: bool = False) -> Figure:
    """Draw his odds by month with their intervals, and beside each the raw days behind it."""
    parts = when.by_month
    figure = new_figure(PHONE if phone else 8, 1.3 + 0.5 * max(len(parts), 1),
                        f"{when.buck} at {when.area}: months",
                        "Odds of a picture in shooting light on a day")  # fmt: skip
    axes = _rows(figure, [f"{p.part}\n{p.seen} of {counted(p.days, 'day')}" for p in parts])
    for i, part in enumerate(reversed(parts)):
        _whisker(axes, i, part.chance, 100)
        if part.days:
            axes.plot([100 * part.seen / part.days], [i], marker="|", ms=15, mew=2.4, ls="",
                      color=ORANGE, label="as counted", clip_on=False, zorder=4)  # fmt: skip
    axes.set(xlim=(0, None), xlabel="percent of days")
    legend(figure, 1 if phone else 3)
    return figure


def areas_compared(compare: Compare, phone: bool = False) -> Figure:
    """Draw the areas in order, each with its rate of daylight visits and how sure that is."""
    rows = compare.rows
    figure = new_figure(PHONE if phone else 8.6, 1.3 + 0.55 * max(len(rows), 1),
                        "Evenings with a mature buck out",
                        "Of 10, in shooting light, all ways together")  # fmt: skip
    axes = _rows(figure, [_ranked(r) for r in rows])
    for i, row in enumerate(reversed(rows)):
        _whisker(axes, i, row.evenings_with_one_per_10, 1)
    axes.set(xlim=(0, None), xlabel="evenings of 10")
    legend(figure, 1 if phone else 3)
    return figure


def _ranked(row: Compared) -> str:
    tie = " (tie)" if row.tied_with else ""
    behind = f"{counted(row.visits, 'visit')}, {counted(row.nights_watched, 'day')}"
    return f"{row.rank}. {row.area}{tie}\n{behind}"


def years(buck: str, by_season: Sequence[tuple[int, Visits]], phone: bool = False) -> Figure:
    """Draw one buck's seasons side by side: at each area his rate and how sure it is."""
    areas = sorted({r.area or "" for _, v in by_season for r in v.rows})
    n, tall = max(len(by_season), 1), 0.5 * max(len(areas), 1)
    highs = [r.per_100_nights.high or 0 for _, v in by_season for r in v.rows if r.nights_watched]
    most = 1.05 * max(highs, default=1.0) or 1.0
    across, down = (1, n) if phone else (n, 1)
    size = (PHONE, 0.7 + n * (tall + 0.8)) if phone else (max(2.2 + 2.7 * n, 5.6), 1.5 + tall)
    figure = new_figure(*size, f"{buck}: year by year")
    grid = figure.subplots(down, across, sharey=True, sharex=True, squeeze=False)
    for axes, (season, visits) in zip(grid.flat, by_season, strict=False):
        _season(axes, season, visits, areas)
        axes.set_xlim(0, most)
    for axes in grid[-1]:
        axes.set_xlabel("visits per 100 days")
    legend(figure, 2)
    return figure


def _season(axes: Axes, season: int, visits: Visits, areas: Sequence[str]) -> None:
    plain_axes(axes)
    nights = max((w.nights_watched for w in visits.watch.values()), default=0)
    came = counted(sum(r.visits for r in visits.rows), "visit")
    told = f"{season}: {came}, up to {counted(nights, 'day')}"
    axes.set_title(told, loc="left", fontsize=9.5, color=INK)
    here = {r.area or "": r for r in visits.rows}
    for i, area in enumerate(reversed(areas)):
        if area in here:
            _whisker(axes, i, here[area].per_100_nights, 1)
        else:
            _instead(axes, i, "no sure picture")
    axes.set(yticks=range(len(areas)), ylim=(-0.6, max(len(areas), 1) - 0.4))
    axes.set_yticklabels(list(reversed(areas)))


def _rows(figure: Figure, words: Sequence[str]) -> Axes:
    """Give axes with a row for each of some words, the first on top."""
    axes = plain_axes(figure.add_subplot())
    axes.set(yticks=range(len(words)), ylim=(-0.6, max(len(words), 1) - 0.4))
    axes.set_yticklabels(list(reversed(words)))
    return axes


def _whisker(axes: Axes, y: float, number: Number, times: float) -> None:
    """A dot with its interval; where there is none, words."""
    if number.value is None or number.low is None or number.high is None:
        _instead(axes, y, "can't tell yet")
        return
    axes.plot([number.value * times], [y], marker="o", ms=8, ls="", color=BLUE, label=_BEST,
              clip_on=False, zorder=3)  # fmt: skip
    axes.plot([number.low * times, number.high * times], [y, y], color=BLUE, lw=5, alpha=0.35,
              solid_capstyle="butt", label=_RANGE)  # fmt: skip


def _instead(axes: Axes, y: float, words: str) -> None:
    axes.annotate(words, (0.02, y), va="center", fontsize=9, color=QUIET,
                  xycoords=("axes fraction", "data"))  # fmt: skip
