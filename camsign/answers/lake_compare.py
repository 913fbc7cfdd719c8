"""How do properties and seasons compare: side by side, from a lake."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from camsign.answers.lake import Lake, Looked, Season, Wanted, looked
from camsign.answers.lake_visits import why_of
from camsign.answers.result import ABSENCE, THIN, Answer, Figure, Watch, figure
from camsign.stats.estimate import poisson_rate, wilson
from camsign.units import counted

METHOD = (
    "visits: detections of one buck no farther apart than the gap, counted at each camera; "
    "per_100_nights: those on nights covered over nights of all cameras, exact interval (Garwood "
    "1936), right only if nights do not hang together, so too narrow where a buck is about for "
    "spells; share in shooting light: Wilson 1927; 95%"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LakeCompareRow:
    """A property's season. `camera_nights`: nights covered and sorted, of all `cameras`;
    `nights_unsorted` wait to be sorted and count nowhere.

    `bucks`: with a sure name; `mature`: of them, those old enough by that logbook's own setting in
    that season; `age_unknown`: those whose age nobody said. `visits`: of all of them, by camera;
    `mature_visits`: of mature ones. `per_100_nights`: visits per 100 camera nights.
    """

    property: str
    season: int
    cameras: int
    camera_nights: int
    nights_unsorted: int
    bucks: int
    mature: int
    age_unknown: int
    visits: int
    mature_visits: int
    per_100_nights: Figure
    mature_per_100_nights: Figure
    shooting_light: Figure


@dataclass(frozen=True, slots=True)
class LakeCompare(Answer):
    """One row a property and season."""

    ROW: ClassVar[type] = LakeCompareRow

    rows: tuple[LakeCompareRow, ...]
    watch: dict[str, Watch]
    method: str
    why: tuple[str, ...]

    @property
    def said(self) -> str:
        """Say which property's season had the most visits by mature bucks for its nights."""
        rows = [r for r in self.rows if r.camera_nights]
        if not rows:
            return f"Can't tell: {THIN}. No night was covered and sorted."
        best = max(rows, key=lambda r: r.mature_per_100_nights.value or 0.0)
        if not best.mature_visits:
            return f"No visit by a mature buck with a name anywhere; {ABSENCE}."
        least = best.mature_per_100_nights.low or 0.0
        ends = ((r, r.mature_per_100_nights.high) for r in rows if r is not best)
        others = [f"{r.property} {r.season}" for r, high in ends if high is None or least <= high]
        more = f" and {len(others) - 3} more" if len(others) > 3 else ""
        close = f" Too close to call with {', '.join(others[:3])}{more}." if others else ""
        return (
            f"Most visits by mature bucks for its nights: {best.property} in {best.season}, "
            f"{counted(best.mature_visits, 'visit')} by {counted(best.mature, 'mature buck')} on "
            f"{counted(best.camera_nights, 'camera night')}.{close}"
        )


def lake_compare(lake: Lake, wanted: Wanted = Wanted()) -> LakeCompare:  # noqa: B008
    """Set properties and seasons side by side.

    Raises:
        UsageError: the lake holds no such property or buck.
    """
    rows, watch = [], {}
    for one, found in looked(lake, wanted, "camera"):
        summed = [spot.watching.summary() for spot in found.spots]
        row = _row(lake, one, found, sum(w.nights_watched for w in summed),
                   sum(w.nights_unsorted for w in summed))  # fmt: skip
        firsts, lasts = [w.first for w in summed if w.first], [w.last for w in summed if w.last]
        watch[f"{one.property} {one.season}"] = Watch(
            tuple(spot.id for spot in found.spots), row.camera_nights,
            sum(w.days_watched for w in summed), min(firsts, default=None),
            max(lasts, default=None), row.nights_unsorted,
        )  # fmt: skip
        rows.append(row)
    return LakeCompare(tuple(rows), watch, METHOD, why_of(watch))


def _row(lake: Lake, one: Season, found: Looked, nights: int, waiting: int) -> LakeCompareRow:
    ages = dict(
        lake.con.execute(
            "SELECT buck_id, age + ($season - coalesce(age_year, $season)) >= p.mature_age"
            " FROM lake_bucks, lake_property p",
            {"season": one.season},
        ).fetchall()
    )
    seen = {row["buck_id"] for row in found.visits}
    old = [row for row in found.visits if ages.get(row["buck_id"])]
    n = sum(row["visits"] for row in found.visits)
    lit = sum(row["day"] + row["gray"] for row in found.visits)
    on, old_on = (sum(row["on_watch"] for row in rows) for rows in (found.visits, old))
    return LakeCompareRow(
        property=one.property,
        season=one.season,
        cameras=len(found.spots),
        camera_nights=nights,
        nights_unsorted=waiting,
        bucks=len(seen),
        mature=len({row["buck_id"] for row in old}),
        age_unknown=sum(ages.get(b) is None for b in seen),
        visits=n,
        mature_visits=sum(row["visits"] for row in old),
        per_100_nights=figure(poisson_rate(on, nights, 100)),
        mature_per_100_nights=figure(poisson_rate(old_on, nights, 100)),
        shooting_light=figure(wilson(lit, n), n=n),
    )
