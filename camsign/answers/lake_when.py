"""When does a buck come, by property, season and month side by side, from a lake?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, ClassVar

import numpy as np

from camsign.answers.days import SeasonPart, daily, months
from camsign.answers.detections import GRAY
from camsign.answers.lake import Lake, Season, Spot, Wanted, looked
from camsign.answers.lake_visits import why_of
from camsign.answers.odds import odds
from camsign.answers.result import Answer, Figure, Watch, figure
from camsign.stats.estimate import wilson
from camsign.stats.spells import UNWATCHED, about_chance
from camsign.units import counted

METHOD = (
    "visits: detections of one buck no farther apart than the gap, merged over all cameras of a "
    "property; chance: of a visit in shooting light on a day covered, for a buck who is about for "
    "spells of days (Markov-modulated, grid posterior, median), each month on its own; shares in "
    "shooting light: Wilson 1927; 95%"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LakeWhenRow:
    """A buck's month on one property. `days` were covered, on `seen` of them he came in light.

    `chance`: of a visit in shooting light on a day. `day`, `gray`, `dark`: visits by the best light
    of any of their pictures.
    """

    property: str
    season: int
    buck: str
    buck_id: str
    month: str
    visits: int
    day: int
    gray: int
    dark: int
    shooting_light: Figure
    days: int
    seen: int
    chance: Figure


@dataclass(frozen=True, slots=True)
class LakeWhen(Answer):
    """One row a property, season, buck and month that was covered or in which he was seen."""

    ROW: ClassVar[type] = LakeWhenRow

    rows: tuple[LakeWhenRow, ...]
    watch: dict[str, Watch]
    method: str
    why: tuple[str, ...]

    @property
    def said(self) -> str:
        """Say in which month a daylight picture of him is likeliest, and where."""
        likely = [r for r in self.rows if r.seen and r.chance.value is not None]
        if not likely:
            total = sum(r.visits for r in self.rows)
            return f"No visit in shooting light on a day covered; {counted(total, 'visit')} in all."
        best = max(likely, key=lambda r: r.chance.low or 0.0)
        much = odds(best.chance.value, best.chance.low, best.chance.high)
        return f"Best was {best.month} on {best.property}: {best.buck} in shooting light {much}."


def lake_when(lake: Lake, buck: str, wanted: Wanted = Wanted()) -> LakeWhen:  # noqa: B008
    """Say in which light a buck comes, month by month, on every property that knows him.

    Args:
        buck: his name or id; a name means every buck of that name.
        wanted: which properties and seasons.

    Raises:
        UsageError: the lake holds no such property or buck.
    """
    rows: list[LakeWhenRow] = []
    watch: dict[str, Watch] = {}
    asked = Wanted(wanted.properties, wanted.seasons, (buck,), gap_s=wanted.gap_s)
    for one, found in looked(lake, asked, "property"):
        for spot in found.spots:
            watch[f"{one.property} {one.season}"] = spot.watching.summary()
            for his in found.visits:
                alive = replace(spot, watching=spot.watching.until(his["ended"]))
                rows += _months(one, alive, his)
    return LakeWhen(tuple(rows), watch, METHOD, why_of(watch))


def _months(one: Season, spot: Spot, his: dict[str, Any]) -> Iterator[LakeWhenRow]:
    when = np.array(his["days"], dtype="datetime64[D]")
    light = np.array(his["lights"])
    ends = [when.min(), when.max(), *spot.watching.days[[0, -1] if len(spot.watching.days) else []]]
    for part in months(min(ends).item(), max(ends).item()):
        here = (when >= np.datetime64(part.first)) & (when <= np.datetime64(part.last))
        row = _row(one, spot, his, part, when[here], light[here])
        if row.visits or row.days:
            yield row


def _row(
    one: Season, spot: Spot, his: dict[str, Any], part: SeasonPart, when: Any, light: Any
) -> LakeWhenRow:
    watching = spot.watching.within(part.first, part.last)
    days = [min(n, 1) if n != UNWATCHED else n for n in daily(watching, when[light >= GRAY])]
    dark, gray, day = np.bincount(light, minlength=3).tolist()
    chance = figure(about_chance(days).estimate()) if days else Figure(None, 0.0, 1.0)
    return LakeWhenRow(
        property=one.property,
        season=one.season,
        buck=his["buck"],
        buck_id=his["buck_id"],
        month=part.name,
        visits=len(when),
        day=day,
        gray=gray,
        dark=dark,
        shooting_light=figure(wilson(day + gray, len(when)), n=len(when)),
        days=len(watching.days),
        seen=sum(n > 0 for n in days),
        chance=chance,
    )
