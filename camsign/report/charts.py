"""Charts, each from one answer: what an answer says in numbers, drawn so that it can be seen."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from math import radians
from typing import TYPE_CHECKING, Any

from camsign.report.style import (
    BLUE,
    GREEN,
    INK,
    LIGHTS,
    ORANGE,
    PAPER,
    QUIET,
    new_figure,
    plain_axes,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from camsign.answers.bedding import Bedding, Way
    from camsign.answers.calendar import Calendar, CalendarDay
    from camsign.answers.compare import Compare
    from camsign.answers.result import Figure as Number
    from camsign.answers.visits import Visits
    from camsign.answers.when import When

_HATCHED, _BARE = "#d9d4c5", "#ffffff"


def day_by_sun(when: When) -> Figure:
    """Draw when he came, by the sun: a dot a visit by its light, and the band of his activity."""
    figure = new_figure(9, 4.2)
    counted = f"{len(when.visits)} visits on {when.nights_watched} nights covered"
    title = f"{when.buck} at {when.area}: hours of the day"
    axes = plain_axes(figure.add_subplot(), title, counted)
    for left, right in ((0, 5.5), (18.5, 24)):
        axes.axvspan(left, right, color=LIGHTS["dark"], alpha=0.13, lw=0)
    for left, right in ((5.5, 6), (18, 18.5)):
        axes.axvspan(left, right, color=LIGHTS["gray"], alpha=0.25, lw=0)
    if when.activity:
        hours = [p.hour for p in when.activity]
        share, low, high = ([_or(getattr(p.share, n)) for p in when.activity]
                            for n in ("value", "low", "high"))  # fmt: skip
        axes.fill_between(hours, low, high, color=BLUE, alpha=0.2, lw=0, label="95 % band")
        axes.plot(hours, share, color=BLUE, lw=2, label="share of his visits per hour")
    _visit_dots(axes, when)
    axes.set(xlim=(0, 24), xticks=[0, 3, 6, 9, 12, 15, 18, 21, 24], ylabel="share per hour")
    axes.set_xticklabels(
        ["midnight", "3 h before", "sunrise", "3 h after", "midday", "3 h before", "sunset",
         "3 h after", "midnight"]
    )  # fmt: skip
    _legend(figure)
    return figure


_SHAPES = {"day": "o", "gray": "D", "dark": "s"}


def _visit_dots(axes: Axes, when: When) -> None:
    """A row of marks below the curve, one a visit, stacked where they fall together."""
    top = axes.get_ylim()[1] if when.activity else 1.0
    axes.set_ylim(-0.32 * top, top)
    stacked: dict[int, int] = {}
    placed: dict[str, list[tuple[float, float]]] = {}
    for visit in when.visits:
        hour = _hour(visit.minutes_from_sunrise, visit.minutes_from_sunset)
        if hour is None:
            continue
        column = round(hour * 4)
        level = stacked[column] = stacked.get(column, 0) + 1
        y = -0.05 * top - 0.045 * top * min(level - 1, 5)
        placed.setdefault(visit.light, []).append((column / 4, y))
    for light, points in placed.items():
        across, up = zip(*points, strict=True)
        axes.scatter(across, up, marker=_SHAPES[light], s=22, color=LIGHTS[light], edgecolor=INK,
                     linewidths=0.5, label=f"visit, {light}", zorder=4)  # fmt: skip
    axes.axhline(0, color=QUIET, lw=0.8)
    axes.set_yticks([t for t in axes.get_yticks() if 0 <= t <= top])


def _hour(rise: float | None, sets: float | None) -> float | None:
    """Hours of a day in which sunrise is 6 and sunset 18; by day stretched between the two."""
    if rise is None or sets is None:
        return None
    if rise >= 0 >= sets:
        return 6 + 12 * rise / max(rise - sets, 1e-9)
    return (6 + rise / 60) % 24 if rise < 0 else (18 + sets / 60) % 24


def calendar_chart(calendar: Calendar) -> Figure:
    """Draw each day as a square: visits as numbers, and days that say nothing plainly apart."""
    days = calendar.days
    start = days[0].day - timedelta(days=(days[0].day.weekday() + 1) % 7)
    weeks = (days[-1].day - start).days // 7 + 1
    figure = new_figure(max(7.0, 1.6 + 0.42 * weeks), 5.4)
    who = f"{', '.join(calendar.bucks)} at " if calendar.bucks else ""
    axes = plain_axes(figure.add_subplot(), f"{who}{calendar.area}: day by day", _counted(days))
    for day in days:
        week, weekday = divmod((day.day - start).days, 7)
        _square(axes, week, 6 - weekday, day)
    _phases(axes, calendar, start)
    _months(axes, days, start)
    axes.set(xlim=(-0.2, weeks + 0.2), ylim=(-4.2, 8.2), yticks=[6.5, 3.5, 0.5], xticks=[])
    axes.set_yticklabels(["Sun", "Wed", "Sat"])
    axes.set_aspect("equal")
    axes.spines[["left", "bottom"]].set_visible(False)
    axes.tick_params(length=0)
    _keys(figure)
    return figure


def _counted(days: Sequence[CalendarDay]) -> str:
    counts = {s: sum(d.state == s for d in days) for s in ("watched", "unsorted", "not watched")}
    visits = sum(d.visits for d in days)
    return f"{visits} visits; " + ", ".join(f"{n} days {s}" for s, n in counts.items() if n)


def _square(axes: Axes, x: int, y: int, day: CalendarDay) -> None:
    from matplotlib.patches import Rectangle

    style: dict[str, Any] = {"facecolor": _BARE, "edgecolor": QUIET, "linewidth": 0.6}
    if day.state == "not watched":
        style = {"facecolor": PAPER, "edgecolor": QUIET, "linewidth": 0.4, "hatch": "xxxx"}
    elif day.state == "unsorted":
        style = {"facecolor": _HATCHED, "edgecolor": QUIET, "linewidth": 0.6}
    if day.visits:
        style |= {"facecolor": GREEN if day.shooting_light else LIGHTS["gray"], "hatch": None}
    axes.add_patch(Rectangle((x + 0.05, y + 0.05), 0.9, 0.9, **style))
    words = str(day.visits) if day.visits else "?" if day.state == "unsorted" else ""
    axes.annotate(words, (x + 0.5, y + 0.47), ha="center", va="center", fontsize=8,
                  color=PAPER if day.visits else INK)  # fmt: skip


def _phases(axes: Axes, calendar: Calendar, start: date) -> None:
    """The phases of the season above, and when sign was made below."""
    for i, phase in enumerate(calendar.phases):
        x0, x1 = ((d - start).days / 7 for d in (phase.first, phase.last + timedelta(days=1)))
        axes.plot([x0 + 0.06, x1 - 0.06], [7.45, 7.45], color=INK, lw=3 if i % 2 else 1.4,
                  solid_capstyle="butt")  # fmt: skip
        if x1 - x0 > 0.1 * len(phase.name) * 2:
            axes.annotate(phase.name, ((x0 + x1) / 2, 7.6), ha="center", fontsize=8, color=INK)
    tight = sorted(calendar.made, key=lambda w: ((w.last - w.first).days, w.first))[:8]
    for i, made in enumerate(tight):
        y = -1.25 - 0.38 * i
        x0, x1 = ((d - start).days / 7 for d in (made.first, made.last + timedelta(days=1)))
        axes.plot([x0, x1], [y, y], color=ORANGE, lw=2.4, solid_capstyle="butt")
        axes.annotate(made.kind, (x1 + 0.1, y), va="center", fontsize=7, color=INK)


def _months(axes: Axes, days: Sequence[CalendarDay], start: date) -> None:
    for day in days:
        if day.day.day == 1 or day is days[0]:
            x = (day.day - start).days // 7
            axes.annotate(f"{day.day:%b}", (x + 0.05, -0.62), fontsize=9, color=INK)


def _keys(figure: Figure) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    def patch(words: str, **style: Any) -> Patch:
        return Patch(edgecolor=QUIET, label=words, **style)

    figure.legend(
        handles=[
            patch("came in shooting light", facecolor=GREEN),
            patch("came in the dark only", facecolor=LIGHTS["gray"]),
            patch("watched, no picture of one", facecolor=_BARE),
            patch("pictures not sorted: unknown", facecolor=_HATCHED),
            patch("not watched: unknown", facecolor=PAPER, hatch="xxxx"),
            Line2D([], [], color=ORANGE, lw=2.4, label="sign made in these days (the 8 tightest)"),
        ],
        loc="outside lower left", ncols=3, frameon=False, fontsize=8.5,
    )  # fmt: skip


def rose(bedding: Bedding) -> Figure:
    """Draw which way bucks go by each camera, into the area by morning and out of it by evening."""
    figure, both = new_figure(8.4, 5.2), (*bedding.ways.morning, *bedding.ways.evening)
    for i, (ways, word) in enumerate(
        ((bedding.ways.morning, "in, by morning"), (bedding.ways.evening, "out, by evening"))
    ):
        axes: Any = figure.add_subplot(1, 2, i + 1, projection="polar")
        axes.set_facecolor(PAPER)
        axes.set_theta_zero_location("N")
        axes.set_theta_direction(-1)
        axes.set_xticks([radians(a) for a in range(0, 360, 45)])
        axes.set_xticklabels(["N", "NE", "E", "SE", "S", "SW", "W", "NW"], color=INK)
        axes.set_yticks([])
        axes.set_ylim(0, max((w.n for w in ways), default=1) * 1.3)
        axes.set_title(word, fontsize=10.5, color=INK, pad=10)
        if not ways:
            axes.annotate("no direction\nis known", (0, 0), ha="center", va="center", color=INK)
        for way in ways:
            _petal(axes, way, sorted({w.camera for w in both}).index(way.camera), word)
    figure.suptitle(f"{bedding.area}: which way they go\n", x=0.02, ha="left", fontsize=12.5,
                    color=INK, weight="bold")  # fmt: skip
    _legend(figure, 2)
    return figure


def _petal(axes: Any, way: Way, n: int, word: str) -> None:
    """A petal as wide as its interval and as long as its count."""
    b = way.bearing_deg
    if b.value is None:
        return
    low = b.value if b.low is None else b.low
    high = b.value if b.high is None else b.high
    width = max(radians((high - low) % 360), radians(6))
    hatch = ("", "//", "..", "xx", "\\\\")[n % 5]
    color = (BLUE, ORANGE, GREEN, QUIET)[n % 4]
    axes.bar(radians(b.value), way.n, width=width, color=color, alpha=0.55, hatch=hatch,
             edgecolor=INK, label=f"{way.camera} {word}: {way.n} times")  # fmt: skip


def months(when: When) -> Figure:
    """Draw his odds by month with their intervals, and beside each the raw days behind it."""
    parts = when.by_month
    figure = new_figure(8, 1.7 + 0.5 * max(len(parts), 1))
    sub = "odds of a picture in shooting light on a day; in words: days it happened of days watched"
    axes = plain_axes(figure.add_subplot(), f"{when.buck} at {when.area}: months", sub)
    for i, part in enumerate(parts):
        _whisker(axes, len(parts) - 1 - i, part.chance, 100)
        raw = 100 * part.seen / part.days if part.days else None
        if raw is not None:
            axes.plot([raw], [len(parts) - 1 - i], marker="|", ms=15, mew=2, color=ORANGE,
                      label="as counted" if not i else None)  # fmt: skip
        axes.annotate(f"{part.seen} of {part.days}", (1.0, len(parts) - 1 - i), va="center",
                      xycoords=("axes fraction", "data"), fontsize=9, color=INK)  # fmt: skip
    axes.set(yticks=range(len(parts)), xlim=(0, None), xlabel="percent of days")
    axes.set_yticklabels([p.part for p in reversed(parts)])
    axes.set_ylim(-0.6, max(len(parts), 1) - 0.4)
    _legend(figure)
    return figure


def areas_compared(compare: Compare) -> Figure:
    """Draw the areas in order, each with its rate of daylight visits and how sure that is."""
    rows = compare.rows
    figure = new_figure(8.6, 1.8 + 0.55 * max(len(rows), 1))
    axes = plain_axes(figure.add_subplot(), "Which area deserves the sits",
                      "visits of mature bucks in shooting light per 10 days")  # fmt: skip
    for i, row in enumerate(rows):
        y = len(rows) - 1 - i
        _whisker(axes, y, row.shooting_light_visits_per_10_days, 1)
        told = f"{row.visits} visits, {row.nights_watched} nights"
        axes.annotate(told, (1.0, y), va="center", fontsize=8.5, color=INK,
                      xycoords=("axes fraction", "data"))  # fmt: skip
    axes.set(yticks=range(len(rows)), xlim=(0, None))
    axes.set_yticklabels([f"{r.rank}. {r.area}" + ("  (tie)" if r.tied_with else "")
                          for r in reversed(rows)])  # fmt: skip
    axes.set_ylim(-0.6, max(len(rows), 1) - 0.4)
    return figure


def years(buck: str, by_season: Sequence[tuple[int, Visits]]) -> Figure:
    """Draw one buck's seasons side by side: at each area his rate and how sure it is."""
    areas = sorted({r.area or "" for _, v in by_season for r in v.rows})
    highs = [r.per_100_nights.high or 0 for _, v in by_season for r in v.rows if r.nights_watched]
    most = 1.05 * max(highs, default=1.0) or 1.0
    figure = new_figure(2.2 + 2.7 * max(len(by_season), 1), 1.9 + 0.5 * max(len(areas), 1))
    grid = figure.subplots(1, max(len(by_season), 1), sharey=True, sharex=True, squeeze=False)[0]
    for axes, (season, visits) in zip(grid, by_season, strict=False):
        nights = max((w.nights_watched for w in visits.watch.values()), default=0)
        plain_axes(axes, str(season), f"{sum(r.visits for r in visits.rows)} visits, "
                   f"up to {nights} nights")  # fmt: skip
        here = {r.area or "": r for r in visits.rows}
        for i, area in enumerate(reversed(areas)):
            if area in here:
                _whisker(axes, i, here[area].per_100_nights, 1)
            else:
                axes.annotate("no sure picture", (0.02, i), va="center", fontsize=8, color=QUIET,
                              xycoords=("axes fraction", "data"))  # fmt: skip
        axes.set(xlim=(0, most), yticks=range(len(areas)), xlabel="visits per 100 nights")
        axes.set_yticklabels(list(reversed(areas)))
        axes.set_ylim(-0.6, max(len(areas), 1) - 0.4)
    figure.suptitle(f"{buck}: year by year", x=0.02, ha="left", fontsize=12.5, color=INK,
                    weight="bold")  # fmt: skip
    return figure


def _whisker(axes: Axes, y: float, number: Number, times: float) -> None:
    """A dot with its interval; where there is none, words."""
    if number.value is None or number.low is None or number.high is None:
        axes.annotate("can't tell yet", (0.02, y), va="center", fontsize=9, color=QUIET,
                      xycoords=("axes fraction", "data"))  # fmt: skip
        return
    axes.plot([number.low * times, number.high * times], [y, y], color=BLUE, lw=5, alpha=0.35,
              solid_capstyle="butt")  # fmt: skip
    axes.plot([number.value * times], [y], marker="o", ms=8, color=BLUE)


def _or(value: float | None) -> float:
    return float("nan") if value is None else value


def _legend(figure: Figure, columns: int = 5) -> None:
    found = {
        words: handle
        for axes in figure.axes
        for handle, words in zip(*axes.get_legend_handles_labels(), strict=True)
    }
    if found:
        figure.legend(found.values(), found.keys(), loc="outside lower left", ncols=columns,
                      frameon=False, fontsize=8.5)  # fmt: skip
