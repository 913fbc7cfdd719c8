"""How often does each buck come, by property and season side by side, from a lake?"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, ClassVar

import numpy as np

from camsign.answers.days import daily
from camsign.answers.lake import Lake, LakeBy, Season, Spot, Wanted, looked
from camsign.answers.result import ABSENCE, FEW_NIGHTS, SPARE, THIN, Answer, Figure, Watch, figure
from camsign.answers.visits import METHOD, POISSON, SPELLS, days_seen
from camsign.stats.estimate import poisson_rate, wilson
from camsign.stats.spells import about_rate
from camsign.units import counted


@dataclass(frozen=True, slots=True, kw_only=True)
class LakeVisitRow:
    """One buck at one area, or on one property, in one season. Times are local, without offset.

    Counted as in `visits` of one logbook: `on_watch` of the `visits` lie on nights watched, which
    alone make `per_100_nights_poisson`; `seen_on_watch`: on how many of `nights_seen` that were
    watched, None for all; `per_100_nights` is by whole days watched; `day`, `gray`, `dark`: visits
    by the best light of any of their pictures.
    """

    property: str
    season: int
    buck: str
    buck_id: str
    area: str | None = field(default=None, metadata=SPARE)
    area_id: str | None = field(default=None, metadata=SPARE)
    visits: int
    nights_seen: int
    nights_watched: int
    on_watch: int
    per_100_nights: Figure
    per_100_nights_poisson: Figure
    day: int
    gray: int
    dark: int
    shooting_light: Figure
    first_seen: datetime | None
    last_seen: datetime | None
    seen_on_watch: int | None = field(default=None, metadata=SPARE)


@dataclass(frozen=True, slots=True)
class LakeVisits(Answer):
    """One row a property, season, buck and spot; `watch` by "property season", area behind it."""

    ROW: ClassVar[type] = LakeVisitRow

    rows: tuple[LakeVisitRow, ...]
    watch: dict[str, Watch]
    method: str
    why: tuple[str, ...]

    @property
    def said(self) -> str:
        """Say who came most, and where."""
        if not any(one.nights_watched for one in self.watch.values()):
            return f"Can't tell: {THIN}. No night was covered and sorted."
        if not self.rows:
            return f"No visit by a buck with a name; {ABSENCE}."
        best = max(self.rows, key=lambda r: r.visits)
        days = days_seen(best.nights_seen, best.nights_watched, best.seen_on_watch)
        thin = " That is too few days to go by." if best.nights_watched < FEW_NIGHTS else ""
        where = f"{best.area}, {best.property}" if best.area else best.property
        return (
            f"{best.buck} came most: {counted(best.visits, 'visit')} to {where} in {best.season}, "
            f"on {days}.{thin}"
        )


def lake_visits(lake: Lake, wanted: Wanted = Wanted(), by: LakeBy = "area") -> LakeVisits:  # noqa: B008
    """Say how often each buck came to each area, or property (`by`), season by season.

    Raises:
        UsageError: the lake holds no such property, buck or area.
    """
    rows: list[LakeVisitRow] = []
    watch: dict[str, Watch] = {}
    for one, found in looked(lake, wanted, by):
        for spot in found.spots:
            name = f"{one.property} {one.season}" + (f", {spot.area}" if spot.area else "")
            watch[name] = spot.watching.summary()
            rows += [_row(one, spot, r) for r in found.visits if r["spot"] == spot.id]
    rows.sort(key=lambda r: (r.property, r.season, -r.visits))
    return LakeVisits(tuple(rows), watch, METHOD, why_of(watch))


def _row(one: Season, spot: Spot, found: dict[str, Any]) -> LakeVisitRow:
    watching = spot.watching.until(found["ended"])
    nights = len(watching.nights)
    days = daily(watching, np.array(found["days"], dtype="datetime64[D]"))
    rate = Figure(None, 0.0, None, method=SPELLS)
    if len(watching.days):
        rate = figure(about_rate(days).estimate(per=100), method=SPELLS)
    apart = found["visits"] > found["on_watch"]
    lit, n = found["day"] + found["gray"], found["visits"]
    own = ("buck", "buck_id", "visits", "nights_seen", "on_watch", "day", "gray", "dark",
           "first_seen", "last_seen")  # fmt: skip
    return LakeVisitRow(
        property=one.property,
        season=one.season,
        area=spot.area,
        area_id=spot.id or None,
        nights_watched=nights,
        per_100_nights=rate,
        per_100_nights_poisson=figure(poisson_rate(found["on_watch"], nights, 100), method=POISSON),
        shooting_light=figure(wilson(lit, n), n=n),
        seen_on_watch=found["seen_on_watch"] if apart else None,
        **{name: found[name] for name in own},
    )


def why_of(watch: dict[str, Watch]) -> tuple[str, ...]:
    """Give the reasons that the watch of an answer is too thin, or waits."""
    thin = [name for name, one in watch.items() if one.nights_watched < FEW_NIGHTS]
    waits = [name for name, one in watch.items() if one.nights_unsorted]
    return (
        *((f"{THIN}: {'; '.join(thin[:5])}",) if thin else ()),
        *((f"pictures still to sort: {'; '.join(waits[:5])}",) if waits else ()),
        ABSENCE,
    )
