"""Chances of a visit in shooting light on a day: by part of season, by hour, back-tested."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from camsign.answers.days import SeasonPart
from camsign.answers.odds import about, odds
from camsign.answers.result import Figure, figure
from camsign.arrays import Bools, Floats, Ints, Times
from camsign.formats.days import day as day_in_words
from camsign.formats.days import minutes_words
from camsign.stats.estimate import wilson
from camsign.stats.shrunk import effect_within, shrunk_chances, shrunk_means
from camsign.stats.spells import UNWATCHED
from camsign.units import upper_first

# Spans tried [min]: so many hours from the beginning of shooting light, mirrored at its end.
SPAN_MIN, SPANS = 60, 4
# What is known is as old as a week when a sit is planned.
LAG_DAYS = 7
_STEP_DAYS = 7
# So many weeks must be scored before any part of the season is gone by.
_FEWEST_WEEKS = 3
# Common practice, no source: two weeks of days before a forecast is called good or bad.
_FEWEST_TESTED = 14
_BINS = (0.0, 0.05, 0.1, 0.2, 0.35, 0.5, 1.0)


@dataclass(frozen=True, slots=True)
class PartChance:
    """The chance of a visit in shooting light on a day of this part.

    `seen` of the `days` watched had one: what the chance rests on, also where it leans on others.
    `first`, `last`: its local days, of those asked for.
    """

    part: str
    chance: Figure
    days: int
    seen: int
    first: date
    last: date

    @property
    def dated(self) -> str:
        """Its name and its days: `early (Sep 6 to Oct 4)`; a month needs none."""
        if self.part[-4:].isdigit():
            return self.part
        return (
            f"{self.part} ({day_in_words(self.first, False)} to {day_in_words(self.last, False)})"
        )


@dataclass(frozen=True, slots=True)
class Span:
    """An hour of the day, in minutes from sunrise or sunset, and the chance of a visit in it."""

    anchor: str
    from_minutes: int
    to_minutes: int
    chance: Figure
    days: int

    def in_words(self) -> str:
        """Write the hour: "30 min before sunset to 30 min after sunset"."""
        return " to ".join(_from(m, self.anchor) for m in (self.from_minutes, self.to_minutes))


def _from(minutes: int, anchor: str) -> str:
    if not minutes:
        return anchor
    return f"{minutes_words(minutes)} {'before' if minutes < 0 else 'after'} {anchor}"


@dataclass(frozen=True, slots=True)
class Calibration:
    """Days whose forecast lay in one range: mean forecast, and how often it happened."""

    forecast: float
    happened: Figure


@dataclass(frozen=True, slots=True)
class BackTest:
    """How forecasts made with only what was known a week before did over the season.

    A forecast is the share of days so far, his average, until the weeks scored by then show that
    going by the part of the season does better; `better`: they show it by now. Brier scores are
    mean squared errors (G. W. Brier, Mon. Weather Rev. 78 (1950) 1-3), lower is better;
    `brier_of_mean` is that of always saying his average.
    """

    days: int
    forecast: float | None
    happened: float | None
    brier: float | None
    brier_of_mean: float | None
    calibration: tuple[Calibration, ...]
    better: bool = False

    def in_words(self, average: float | None = None) -> str:
        """Say what forecasts with last week's knowledge would have been worth, and how they err.

        `average`: his chance on a day, by all days asked for; else that of the days tested.
        """
        if self.forecast is None or self.happened is None or self.days < _FEWEST_TESTED:
            return (
                f"Too few days to test forecasts on: {self.days}, at least {_FEWEST_TESTED} needed."
            )
        said, was = about(self.forecast), about(self.happened)
        high, low = self.forecast >= 2 * self.happened, self.happened >= 2 * self.forecast
        off = "" if said == was else "too high" if high else "too low" if low else ""
        usual = about(self.happened if average is None else average, "day")
        joins, judged = (
            "and",
            f"the time of season is no better than just using his average, so go by that: {usual}.",
        )
        if self.better:
            joins, judged = "but", "going by the time of season beats just using his average."
        judged = f"That's {off}, {joins} {judged}" if off else upper_first(judged)
        return (
            f"Checked on {self.days} past days, knowing only what you'd have known a week ahead: "
            f"we'd have said {said}, it was {was}. {judged}"
        )


def best_in_words(spans: Sequence[Span]) -> str | None:
    """Name his best hour and its odds, or morning and evening where neither is better.

    Neither: the other's chance lies within the interval of the best.
    """
    seen = [span for span in spans if span.days]
    if not seen:
        return None
    best = seen[0]
    other = next((one for one in seen if one.anchor != best.anchor), best)
    if other is best or (other.chance.value or 0.0) < (best.chance.low or 0.0):
        chance = best.chance
        return f"{best.in_words()}, {odds(chance.value, chance.low, chance.high)}"
    names = [_light(one, spans) for one in (best, other)]
    often = [about(one.chance.value or 0.0, "day") for one in (best, other)]
    if len(set(often)) == 1:
        return f"either {' or '.join(names)}, {often[0]} each"
    each = (f"{name} ({words})" for name, words in zip(names, often, strict=True))
    return f"either {' or '.join(each)}"


def _light(span: Span, spans: Sequence[Span]) -> str:
    """Name an hour; the first and the last of shooting light have names of their own."""
    if span.anchor == "sunrise":
        first = min(s.from_minutes for s in spans if s.anchor == "sunrise")
        return "first light" if span.from_minutes == first else span.in_words()
    last = max(s.to_minutes for s in spans if s.anchor == "sunset")
    return "last light" if span.to_minutes == last else span.in_words()


def part_chances(
    days: Sequence[int], parts: Sequence[SeasonPart], of_day: Ints
) -> list[PartChance]:
    """Give the chance for each part.

    Args:
        days: 0, 1 or UNWATCHED for each day in a row.
        parts: the parts of the season.
        of_day: the number of the part each day lies in, -1 for none.
    """
    given = np.minimum(days, 1)
    watched = [int(((of_day == i) & (given != UNWATCHED)).sum()) for i in range(len(parts))]
    seen = [int(((of_day == i) & (given == 1)).sum()) for i in range(len(parts))]
    found = shrunk_chances(seen, watched, effect_within(days, of_day))
    return [
        PartChance(part.name, figure(one.estimate(), n=n), n, k, part.first, part.last)
        for part, one, n, k in zip(parts, found, watched, seen, strict=True)
    ]


def parts_by_day(first: Times, count: int, parts: Sequence[SeasonPart]) -> Ints:
    """Give the number of the part that each day from `first` on lies in; the last named wins."""
    days = first + np.arange(count)
    found = np.full(count, -1)
    for i, part in enumerate(parts):
        found[(days >= np.datetime64(part.first)) & (days <= np.datetime64(part.last))] = i
    return found


def best_spans(
    from_sunrise: Floats,
    from_sunset: Floats,
    light: tuple[float, float],
    daily: Callable[[Bools], list[int]],
) -> list[Span]:
    """Rank hours within shooting light by the chance of a visit in them on a day.

    Each hour's chance leans on the others' (`shrunk_chances`): the luckiest of eight looks best,
    and by itself would be said to be better than it is.

    Args:
        from_sunrise: minutes of each visit's start.
        from_sunset: the same from sunset.
        light: minutes of gray light before sunrise and after sunset.
        daily: turns a choice of visits (booleans) into their number by day.
    """
    before, after = round(light[0]), round(light[1])
    legal = (from_sunrise >= -before) & (from_sunset < after)
    morning = [SPAN_MIN * i - before for i in range(SPANS)]
    evening = [after - SPAN_MIN * (i + 1) for i in range(SPANS)]
    hours = [("sunrise", from_sunrise, start) for start in morning]
    hours += [("sunset", from_sunset, start) for start in evening]
    hits = [
        np.minimum(daily(legal & (since >= start) & (since < start + SPAN_MIN)), 1)
        for _, since, start in hours
    ]
    n = [int((days != UNWATCHED).sum()) for days in hits]
    seen = [int((days > 0).sum()) for days in hits]
    whose = np.repeat(np.arange(len(hours)), [len(days) for days in hits])
    chance = shrunk_chances(seen, n, effect_within(np.concatenate(hits), whose))
    found = [
        Span(anchor, start, start + SPAN_MIN, figure(chance[i].estimate(), n=n[i]), seen[i])
        for i, (anchor, _, start) in enumerate(hours)
    ]
    return sorted(found, key=lambda span: -(span.chance.value or 0.0))


@dataclass(frozen=True, slots=True, eq=False)
class _Week:
    """The days of one week that were watched, and what was known of them a week before.

    `by_part`: the chance in each day's part; `share`: the share of days so far; `was`: 0 or 1.
    """

    start: int
    by_part: Floats
    share: float
    was: Ints

    @property
    def gain(self) -> float:
        """How much smaller the squared errors are by going by the part."""
        return float(((self.share - self.was) ** 2 - (self.by_part - self.was) ** 2).sum())


def back_test(days: Sequence[int], of_day: Ints, parts: int) -> BackTest:
    """Forecast each week with what was known a week before it began, and compare.

    By the part is the expected chance of `shrunk_means` for the day's part, from the days before.
    The first forecast comes when two weeks have been watched.
    """
    weeks = list(_weeks(np.minimum(days, 1), of_day, parts))
    if not weeks:
        return BackTest(0, None, None, None, None, ())
    said = np.concatenate([_forecast(week, weeks) for week in weeks])
    mean = np.concatenate([np.full(len(week.was), week.share) for week in weeks])
    was = np.concatenate([week.was for week in weeks])
    return BackTest(
        days=len(was),
        forecast=float(said.mean()),
        happened=float(was.mean()),
        brier=float(((said - was) ** 2).mean()),
        brier_of_mean=float(((mean - was) ** 2).mean()),
        calibration=_calibration(said, was),
        better=_beats(weeks),
    )


def _weeks(given: Ints, of_day: Ints, parts: int) -> Iterator[_Week]:
    for start in range(LAG_DAYS, len(given), _STEP_DAYS):
        known, of_known = given[: start - LAG_DAYS + 1], of_day[: start - LAG_DAYS + 1]
        week = np.arange(start, min(start + _STEP_DAYS, len(given)))
        week = week[given[week] != UNWATCHED]
        if int((known != UNWATCHED).sum()) < 2 * LAG_DAYS or not len(week):
            continue
        chances, share = _known_chances(known, of_known, parts)
        yield _Week(start, np.array(chances)[of_day[week]], share, given[week])


def _forecast(week: _Week, weeks: Sequence[_Week]) -> Floats:
    """Give what is said of each day of a week: by its part if the weeks known then show it."""
    known = [one for one in weeks if one.start + _STEP_DAYS <= week.start - LAG_DAYS + 1]
    return week.by_part if _beats(known) else np.full(len(week.was), week.share)


def _beats(weeks: Sequence[_Week]) -> bool:
    """Whether going by the part gains more than the error of that gain, week by week."""
    gains = np.array([week.gain for week in weeks])
    return len(gains) >= _FEWEST_WEEKS and bool(gains.sum() > np.sqrt((gains**2).sum()))


def _known_chances(known: Ints, of_known: Ints, parts: int) -> tuple[list[float], float]:
    """Expected chances by part (the last for days in none), and the share of days so far."""
    watched, seen = known != UNWATCHED, known == 1
    n = [int((watched & (of_known == i)).sum()) for i in (*range(parts), -1)]
    k = [int((seen & (of_known == i)).sum()) for i in (*range(parts), -1)]
    share = float(seen.sum() / watched.sum())
    return shrunk_means(k, n, effect_within(known, of_known)), share


def _calibration(said: Floats, was: Ints) -> tuple[Calibration, ...]:
    bins = np.digitize(said, _BINS[1:-1])
    found = []
    for i in np.unique(bins):
        days = bins == i
        n = int(days.sum())
        found.append(
            Calibration(float(said[days].mean()), figure(wilson(int(was[days].sum()), n), n=n))
        )
    return tuple(found)
