"""Sign in reach of an area: how much, how dense against its surroundings, heading which way."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from math import pi

import numpy as np

from camsign.answers.result import Figure, figure
from camsign.answers.scope import Scope
from camsign.geo import (
    Area,
    Circle,
    angle_difference_deg,
    area_center,
    area_hectares,
    distance_bearing,
    distance_to_area,
)
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session
from camsign.logbook.settings import Settings
from camsign.logbook.shapes import to_line
from camsign.sign.origin_likelihood import Law, Rubs, outward_over_both_ways
from camsign.sign.radiants import OVER_BOTH_WAYS
from camsign.sign.windows import only_winter
from camsign.stats.estimate import rate_ratio

SECTORS = 8
# A rub heads outward if its travel is within this of the bearing away from the center [deg].
OUTWARD_DEG = 60.0
# So many rubs, leading out into so many of 8 sectors, say that bucks leave a place to all sides. A
# bedding area in steady use seldom has few rubs (common practice, no source).
FEW_RUBS, SECTORS_OUT = 10, 4
# The surroundings reach this many times as far from the edge as the reach.
RING = 5.0


@dataclass(frozen=True, slots=True)
class AreaSign:
    """Sign within reach that may have been made in the days asked for.

    `density_ratio`: rubs per hectare in reach over those in the ring around it; not searched
    ground looks bare. `km_walked` [km] in reach, None where no walked path is known at all;
    `per_km_ratio`: rubs per kilometer walked in reach over those in the ring. `seasons`: in how
    many seasons sign was made there, of all on record. `sectors_out`, `sectors_in`: of 8 around
    the center (N, NE, …), those with a rub that heads outward, or inward. `newest`: the latest day
    on which any of it can have been made, within the days asked for. `hectares`: in reach.
    `outward_gain`: log likelihood of the rubs' travels if the place is left, over as many coming as
    going. `beds`: without those of does and those made in winter alone, which say nothing of fall
    unless winter is asked for; `buck_beds` of them are said to be a buck's. `doe_beds` and
    `winter_beds`: those that are kept apart.
    """

    rubs: int
    beds: int
    scrapes: int
    density_ratio: Figure
    km_walked: float | None
    per_km_ratio: Figure | None
    seasons: int
    sectors_out: int
    sectors_in: int
    newest: date | None
    hectares: float
    buck_beds: int = 0
    doe_beds: int = 0
    winter_beds: int = 0
    outward_gain: float = 0.0

    @property
    def left(self) -> bool:
        """Whether its rubs show a place that bucks leave, not one that they walk to and from.

        The rule by which `area propose` tells a bed from a food plot or a crossing of trails.
        """
        return self.outward_gain >= OVER_BOTH_WAYS

    @property
    def outward(self) -> bool:
        """Whether rubs alone make it look like a bed: enough of them, out to enough sides."""
        return self.rubs >= FEW_RUBS and self.sectors_out >= SECTORS_OUT and self.left

    @property
    def total(self) -> int:
        """Rubs, beds and scrapes together."""
        return self.rubs + self.beds + self.scrapes


@dataclass(frozen=True, slots=True)
class _Sign:
    sign: str
    kind: str
    lat: float
    lon: float
    travel_deg: float | None
    season: int | None
    made_from: date
    made_to: date
    bed_of: str | None
    distance_m: float
    in_scope: bool


def area_sign(session: Session, scope: Scope, area_id: str, area: Area) -> AreaSign:
    """Give the sign around one area."""
    ring = min(RING * max(scope.reach_m, 1.0), session.settings.pair_limit_m)
    rows = _signs(session, scope, [area_id], ring)[area_id]
    near = [r for r in rows if r.distance_m <= scope.reach_m]
    made = [r for r in near if r.in_scope]
    around = [r for r in rows if r.in_scope and r.distance_m > scope.reach_m]
    inner, outer = grown_hectares(area, scope.reach_m), grown_hectares(area, ring)
    out, into = _sectors([r for r in made if r.kind == "rub"], area_center(area))
    rubs, beds = _count(made, "rub"), _beds(session.settings, scope, made)
    ratio = rate_ratio(rubs, inner, _count(around, "rub"), max(outer - inner, 0.0))
    walked = _walked(session, area, scope.reach_m, ring)
    return AreaSign(
        rubs=rubs,
        beds=_count([*beds["buck"], *beds["other"]], "bed"),
        scrapes=_count(made, "scrape"),
        density_ratio=figure(ratio, n=rubs + _count(around, "rub")),
        km_walked=walked[0] if walked else None,
        per_km_ratio=figure(rate_ratio(rubs, walked[0], _count(around, "rub"), walked[1]))
        if walked and min(walked) > 0
        else None,
        seasons=len({r.season for r in near if r.season is not None}),
        sectors_out=out,
        sectors_in=into,
        newest=max((min(r.made_to, scope.last) for r in made), default=None),
        hectares=inner,
        buck_beds=_count(beds["buck"], "bed"),
        doe_beds=_count(beds["doe"], "bed"),
        winter_beds=_count(beds["winter"], "bed"),
        outward_gain=_outward_gain([r for r in made if r.kind == "rub"], area_center(area)),
    )


def bed_signs(
    session: Session, scope: Scope, areas: Mapping[str, Area]
) -> dict[str, tuple[int, bool]]:
    """Give of each area the beds in reach, and whether its rubs show that bucks leave it.

    As `area_sign` has them, of all areas at once and without what only one of them costs.
    """
    found = {}
    for area_id, rows in _signs(session, scope, list(areas), scope.reach_m).items():
        made = [r for r in rows if r.in_scope]
        rubs, center = [r for r in made if r.kind == "rub"], area_center(areas[area_id])
        parts = _beds(session.settings, scope, made)
        outward = (
            _count(rubs, "rub") >= FEW_RUBS
            and _sectors(rubs, center)[0] >= SECTORS_OUT
            and _outward_gain(rubs, center) >= OVER_BOTH_WAYS
        )
        found[area_id] = _count([*parts["buck"], *parts["other"]], "bed"), outward
    return found


def _signs(
    session: Session, scope: Scope, area_ids: Sequence[str], within_m: float
) -> dict[str, list[_Sign]]:
    """Give by area the sign within so many meters of its edge, one a sighting."""
    given = scope.sql() | {"areas": area_ids, "ring": within_m}
    found: dict[str, list[_Sign]] = {area_id: [] for area_id in area_ids}
    for area_id, *row in run_sql(session.con, __file__, "area_sign.sql", **given).fetchall():
        found[area_id].append(_Sign(*row))
    return found


def _beds(settings: Settings, scope: Scope, made: Sequence[_Sign]) -> dict[str, list[_Sign]]:
    """Part the beds: a buck's, a doe's, anybody's, and those of winter where fall is asked for."""
    parts: dict[str, list[_Sign]] = {"buck": [], "doe": [], "other": [], "winter": []}
    winter_asked = only_winter(scope.first, scope.last, settings)
    for bed in (r for r in made if r.kind == "bed"):
        if bed.bed_of == "doe":
            part = "doe"
        elif not winter_asked and only_winter(bed.made_from, bed.made_to, settings):
            part = "winter"
        else:
            part = "buck" if bed.bed_of == "buck" else "other"
        parts[part].append(bed)
    return parts


def _walked(
    session: Session, area: Area, reach_m: float, ring_m: float
) -> tuple[float, float] | None:
    """Give the kilometers of walked paths in reach of the area, and in the ring around it."""
    rows = session.con.execute(
        "SELECT shape FROM walks WHERE gone IS NOT TRUE AND shape IS NOT NULL"
    ).fetchall()
    near = around = 0.0
    for (shape,) in rows:
        points = to_line(shape)
        if len(points) < 2:
            continue
        lons, lats = zip(*points, strict=True)
        steps = distance_bearing(lats[:-1], lons[:-1], lats[1:], lons[1:])[0]
        middle = [tuple((a + b) / 2 for a, b in pairwise(x)) for x in (lats, lons)]
        away = distance_to_area(area, middle[0], middle[1])
        near += float(steps[away <= reach_m].sum()) / 1000
        around += float(steps[(away > reach_m) & (away <= ring_m)].sum()) / 1000
    return (near, around) if rows else None


def grown_hectares(area: Area, meters: float) -> float:
    """Give the size of the area and all within `meters` of its edge [ha].

    Steiner's formula A + P d + π d², with the perimeter P of the outlines: exact for convex areas,
    a little much for others.
    """
    if isinstance(area, Circle):
        return pi * (area.radius_m + meters) ** 2 / 1e4
    perimeter = 0.0
    for ring in area.rings:
        lons, lats = zip(*ring, strict=True)
        steps = distance_bearing(lats, lons, lats[1:] + lats[:1], lons[1:] + lons[:1])[0]
        perimeter += float(steps.sum())
    return area_hectares(area) + (perimeter * meters + pi * meters**2) / 1e4


def _count(rows: Sequence[_Sign], kind: str) -> int:
    return len({r.sign for r in rows if r.kind == kind})


def _outward_gain(rubs: Sequence[_Sign], center: tuple[float, float]) -> float:
    """Give how much likelier the rubs are if bucks leave the middle than if they come and go."""
    known = [r for r in rubs if r.travel_deg is not None]
    if not known:
        return 0.0
    lats, lons = [r.lat for r in known], [r.lon for r in known]
    distance, bearing = distance_bearing(center[0], center[1], lats, lons)
    east, north = distance * np.sin(np.radians(bearing)), distance * np.cos(np.radians(bearing))
    table = Rubs(east, north, np.radians([r.travel_deg or 0.0 for r in known]))
    return float(outward_over_both_ways(table, 0.0, 0.0, Law()).sum())


def _sectors(rubs: Sequence[_Sign], center: tuple[float, float]) -> tuple[int, int]:
    """Count the sectors with rubs that head away from the center, and toward it."""
    known = [r for r in rubs if r.travel_deg is not None]
    if not known:
        return 0, 0
    lats, lons = [r.lat for r in known], [r.lon for r in known]
    _, bearing = distance_bearing(center[0], center[1], lats, lons)
    travel = [r.travel_deg or 0.0 for r in known]
    turned = abs(angle_difference_deg(travel, bearing))
    # Centerd on north, north-east and so on.
    sector = ((bearing * SECTORS / 360 + 0.5) % SECTORS // 1).tolist()
    out = {s for s, t in zip(sector, turned, strict=True) if t <= OUTWARD_DEG}
    into = {s for s, t in zip(sector, turned, strict=True) if t >= 180 - OUTWARD_DEG}
    return len(out), len(into)
