"""Where bedding, staging and travel areas may be, from sign alone, ranked, with reasons in words.

A radiant is proposed as bedding; rubs close together that agree or oppose as a place on the way
(staging), or as travel if they are strung out along their own direction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from camsign.arrays import Ints
from camsign.logbook.session import Session
from camsign.sign.lines import RubTable, rub_table
from camsign.sign.origin_likelihood import Law, Rubs, fitted
from camsign.sign.plane import Plane, stretches
from camsign.sign.radiant_region import RadiantRegion, region
from camsign.sign.radiants import Search, Source, chance_of, judged, least_gain, sectors
from camsign.sign.surroundings import Surroundings
from camsign.stats.estimate import Estimate

# Fewer agreeing rubs than these are no place on the way.
LEAST_AGREEING = 8
_RADIUS_M = (30.0, 150.0)
# Axes of one edge: as near as this and as much alike.
_SAME_EDGE_M = 170.0
_SAME_AXIS_DEG = 35.0
# Kinds of drawn areas that are no other place than one proposed on the way.
_ON_THE_WAY = ("staging", "travel", "feeding")
_SAME_KINDS = {"staging": _ON_THE_WAY, "travel": _ON_THE_WAY}
# As long along their own direction as across it, times this: travel.
_STRUNG_OUT = 2.0


@dataclass(frozen=True, slots=True)
class Proposal:
    """A place that sign speaks for. lat, lon [deg, WGS 84].

    `score`: natural logarithm of how many times likelier the bearings are with such a place than
    without; `chance`: how many as good are expected by chance over all the rubs (None: not
    reckoned). `region_m`: half axes of the ellipse that holds the middle in 95 of 100 cases [m],
    `region_deg` the bearing of the longer. `sectors_out`, `sectors_in`: in how many of eight
    sectors rubs head outward, inward. `density`: rubs against those around, a ratio; `per_km`
    likewise along walked paths, None without paths here. `signs`: its own rubs.
    """

    area: str
    kind: str
    lat: float
    lon: float
    radius_m: float
    score: float
    chance: float | None
    region_m: tuple[float, float] | None
    region_deg: float | None
    rubs: int
    sectors_out: int
    sectors_in: int
    beds: int
    seasons: int
    density: Estimate
    per_km: Estimate | None
    known_as: str | None
    why: list[str]
    signs: tuple[str, ...]


def propose(session: Session, season: int | None = None) -> list[Proposal]:
    """Give the areas that sign speaks for, best first, of all seasons or of rubs made in one."""
    around = Surroundings.of(session)
    return proposals_of(rub_table(session, season), around)


def proposals_of(table: RubTable, around: Surroundings) -> list[Proposal]:
    """Give the areas that a table of rubs speaks for, with what else is known around them."""
    found: list[Proposal] = []
    if not table.sign:
        return found
    for members, plane in stretches(table.lat, table.lon):
        east, north = plane.to_meters(table.lat[members], table.lon[members])
        rubs = Rubs(east, north, np.radians(table.travel_deg[members]))
        names = [table.sign[i] for i in members]
        search = Search(rubs, Law())
        search.run()
        found += _bedding(search, names, plane, around)
        found += _on_the_way(search, names, plane, around)
    found.sort(key=lambda p: -p.score)
    return [_named(p, n, found) for n, p in enumerate(found)]


def _bedding(
    search: Search, names: list[str], plane: Plane, around: Surroundings
) -> list[Proposal]:
    clear = judged(search)
    chance = chance_of(search)
    least = least_gain(clear, chance)
    kept = [s for s in clear if s.gain >= least]
    law = fitted(search.rubs, [(s.east, s.north) for s in kept], search.law)
    return [
        _bed(search, s, region(search, s, law), chance.expected(s.gain), names, plane, around)
        for s in kept
    ]


def _bed(
    search: Search,
    source: Source,
    where: RadiantRegion,
    chance: float,
    names: list[str],
    plane: Plane,
    around: Surroundings,
) -> Proposal:
    out, into = sectors(search, source)
    lat, lon = plane.to_degrees(where.east, where.north)
    own = source.near[search.share(source) > 0.5]
    why = [
        f"of the rubs that fit it {sum(out)} heading out on {_of_eight(out)} of 8 sides, "
        + (f"{sum(into)} heading in on {_of_eight(into)}" if sum(into) else "none heading in"),
        f"its middle lies in a patch {around.length(2 * where.major_m)} by "
        f"{around.length(2 * where.minor_m)} (95%)",
        _luck(chance),
    ]
    radius = min(max(where.major_m, _RADIUS_M[0]), _RADIUS_M[1])
    return _proposal("bedding", (lat, lon), radius, source.gain, chance, where, out, into,
                     [names[i] for i in own], around, why)  # fmt: skip


def _on_the_way(
    search: Search, names: list[str], plane: Plane, around: Surroundings
) -> list[Proposal]:
    """Propose places where many rubs agree or oppose, each with the doubt."""
    found = []
    for group in _edges(search.axes()):
        own = np.unique(
            np.concatenate([s.near[search.share(s) > 0.5] for s in group] or [np.empty(0, int)])
        )
        if len(own) < LEAST_AGREEING:
            continue
        found.append(_edge(search, group, own, names, plane, around))
    return found


def _edge(
    search: Search,
    group: Sequence[Source],
    own: Ints,
    names: list[str],
    plane: Plane,
    around: Surroundings,
) -> Proposal:
    rubs = search.rubs.some(own)
    east, north = float(rubs.east.mean()), float(rubs.north.mean())
    far = np.hypot(rubs.east - east, rubs.north - north)
    radius = float(np.clip(np.quantile(far, 0.9), *_RADIUS_M))
    axis = group[0].axis or 0.0
    x, y = rubs.east - east, rubs.north - north
    along = np.std(x * np.sin(axis) + y * np.cos(axis))
    across = np.std(x * np.cos(axis) - y * np.sin(axis))
    turned = np.cos(rubs.travel - axis) < 0
    why = [
        f"{len(own)} rubs close together: {(~turned).sum()} heading one way, {turned.sum()} back"
    ]
    at = plane.to_degrees(east, north)
    beds, browse = around.count("bed", at, radius), around.count("browse", at, radius)
    droppings = around.count("droppings", at, radius)
    # Where they also ate, they did more than walk by.
    walked = along > _STRUNG_OUT * across and not (browse or droppings)
    kind = "travel" if walked else "staging"
    if browse or droppings:
        near = f"within {around.length(radius)}"
        why.append(f"browse at {browse} and droppings at {droppings} spots {near}")
    why.append(
        f"but {beds} {'bed lies' if beds == 1 else 'beds lie'} here: it may be bedding" if beds
        else "rubs alone can't tell a travel route from a feeding edge"
    )  # fmt: skip
    gain = sum(s.gain for s in group)
    return _proposal(kind, at, radius, gain, None, None, [], [], [names[i] for i in own], around,
                     why)  # fmt: skip


def _edges(axes: Sequence[Source]) -> list[list[Source]]:
    """Put axes together that lie near each other and run alike: an edge is longer than one."""
    groups: list[list[Source]] = []
    for source in sorted(axes, key=lambda s: -s.gain):
        for group in groups:
            near = min(np.hypot(s.east - source.east, s.north - source.north) for s in group)
            off = abs(np.sin((group[0].axis or 0.0) - (source.axis or 0.0)))
            if near < _SAME_EDGE_M and off < np.sin(np.radians(_SAME_AXIS_DEG)):
                group.append(source)
                break
        else:
            groups.append([source])
    return groups


def _proposal(
    kind: str,
    at: tuple[float, float],
    radius: float,
    gain: float,
    chance: float | None,
    where: RadiantRegion | None,
    out: list[int],
    into: list[int],
    own: list[str],
    around: Surroundings,
    why: list[str],
) -> Proposal:
    density, per_km = around.density(at), around.per_km(at)
    beds, seasons = around.count("bed", at, max(radius, 60.0)), around.seasons(own)
    known = around.known_as(_SAME_KINDS.get(kind, (kind,)), at, radius)
    return Proposal(
        area="",
        kind=kind,
        lat=at[0],
        lon=at[1],
        radius_m=radius,
        score=gain,
        chance=chance,
        region_m=(where.major_m, where.minor_m) if where else None,
        region_deg=where.bearing_deg if where else None,
        rubs=len(own),
        sectors_out=_of_eight(out),
        sectors_in=_of_eight(into),
        beds=beds,
        seasons=seasons,
        density=density,
        per_km=per_km,
        known_as=known,
        why=[*why, *around.words(at, radius, beds, seasons, density, per_km, known)],
        signs=tuple(own),
    )


def _named(proposal: Proposal, n: int, all_: Sequence[Proposal]) -> Proposal:
    nth = sum(p.kind == proposal.kind for p in all_[: n + 1])
    return replace(proposal, area=f"{proposal.kind.capitalize()} {nth} from rubs")


def _of_eight(counts: Sequence[int]) -> int:
    return sum(n > 0 for n in counts)


def _luck(chance: float) -> str:
    if chance < 0.01:
        return "odds that this is luck: under 1 in 100"
    return f"luck alone would give about {chance:.2g} places as clear as this one"
