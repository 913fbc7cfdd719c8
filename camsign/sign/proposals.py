"""Where bedding, staging and travel areas may be, from sign alone, ranked, with reasons in words.

A radiant is proposed as bedding; rubs close together that agree or oppose as a place on the way
(staging), or as travel if they are strung out along their own direction.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from camsign.arrays import Ints
from camsign.logbook.session import Session
from camsign.sign.lines import RubTable, rub_table, rubs_by_stretch
from camsign.sign.origin_likelihood import Law, fitted
from camsign.sign.plane import Plane
from camsign.sign.radiant_region import RadiantRegion, region
from camsign.sign.radiants import Search, Source, chance_of, judged, least_gain, sectors
from camsign.sign.surroundings import NEAR_M, Surroundings
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


@dataclass(frozen=True, slots=True)
class _Searched:
    """A stretch of land: what was found in it, the ids of its rubs, and what is known around."""

    search: Search
    names: list[str]
    plane: Plane
    around: Surroundings


def proposals_of(table: RubTable, around: Surroundings) -> list[Proposal]:
    """Give the areas that a table of rubs speaks for, with what else is known around them."""
    found: list[Proposal] = []
    for rubs, names, plane in rubs_by_stretch(table):
        search = Search(rubs, Law())
        search.run()
        land = _Searched(search, names, plane, around)
        found += [*_bedding(land), *_on_the_way(land)]
    found.sort(key=lambda p: -p.score)
    kinds = Counter[str]()
    for n, one in enumerate(found):
        kinds[one.kind] += 1
        found[n] = replace(one, area=f"{one.kind.capitalize()} {kinds[one.kind]} from rubs")
    return found


def _bedding(land: _Searched) -> Iterator[Proposal]:
    search = land.search
    clear, chance = judged(search), chance_of(search)
    least = least_gain(clear, chance)
    kept = [s for s in clear if s.gain >= least]
    law = fitted(search.rubs, [(s.east, s.north) for s in kept], search.law)
    for source in kept:
        yield _bed(land, source, region(search, source, law), chance.expected(source.gain))


def _bed(land: _Searched, source: Source, where: RadiantRegion, chance: float) -> Proposal:
    out, into = sectors(land.search, source)
    major, minor = (land.around.length(2 * half) for half in (where.major_m, where.minor_m))
    why = [
        f"of the rubs that fit it {sum(out)} headed out, in {_of_eight(out)} of the 8 directions, "
        + (f"and {sum(into)} in, in {_of_eight(into)}" if sum(into) else "and none headed in"),
        f"its middle lies in a patch {major} by {minor} (95%)",
        "odds that this is luck: under 1 in 100" if chance < 0.01 else
        f"luck alone would give about {chance:.2g} places as clear as this one",
    ]  # fmt: skip
    at = land.plane.to_degrees(where.east, where.north)
    radius = min(max(where.major_m, _RADIUS_M[0]), _RADIUS_M[1])
    own = source.near[land.search.share(source) > 0.5]
    made = _proposal(land, "bedding", at, radius, source.gain, own, why)
    return replace(
        made, chance=chance, region_m=(where.major_m, where.minor_m), region_deg=where.bearing_deg,
        sectors_out=_of_eight(out), sectors_in=_of_eight(into),
    )  # fmt: skip


def _on_the_way(land: _Searched) -> Iterator[Proposal]:
    """Propose places where many rubs agree or oppose, each with the doubt."""
    for group in _edges(land.search.axes()):
        own = np.unique(np.concatenate([s.near[land.search.share(s) > 0.5] for s in group]))
        if len(own) >= LEAST_AGREEING:
            yield _edge(land, group, own)


def _edge(land: _Searched, group: Sequence[Source], own: Ints) -> Proposal:
    rubs, around = land.search.rubs.some(own), land.around
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
    at = land.plane.to_degrees(east, north)
    beds, browse, droppings = (around.count(k, at, radius) for k in ("bed", "browse", "droppings"))
    # Where they also ate, they did more than walk by.
    walked = along > _STRUNG_OUT * across and not (browse or droppings)
    if browse or droppings:
        near = f"within {around.length(radius)}"
        why.append(f"browse at {browse} and droppings at {droppings} spots {near}")
    why.append(
        f"but {beds} {'bed lies' if beds == 1 else 'beds lie'} here: it may be bedding" if beds
        else "rubs alone can't tell a travel route from a feeding edge"
    )  # fmt: skip
    gain = sum(s.gain for s in group)
    return _proposal(land, "travel" if walked else "staging", at, radius, gain, own, why)


def _edges(axes: Sequence[Source]) -> list[list[Source]]:
    """Put axes together that lie near each other and run alike: an edge is longer than one."""
    groups: list[list[Source]] = []
    for source in sorted(axes, key=lambda s: -s.gain):
        for group in groups:
            near = min(s.away(source.east, source.north) for s in group)
            off = abs(np.sin((group[0].axis or 0.0) - (source.axis or 0.0)))
            if near < _SAME_EDGE_M and off < np.sin(np.radians(_SAME_AXIS_DEG)):
                group.append(source)
                break
        else:
            groups.append([source])
    return groups


def _proposal(
    land: _Searched,
    kind: str,
    at: tuple[float, float],
    radius: float,
    gain: float,
    own: Ints,
    why: list[str],
) -> Proposal:
    """A proposal with what lies around it; its name and what only a radiant has come later."""
    around, signs = land.around, tuple(land.names[i] for i in own)
    made = Proposal(
        area="",
        kind=kind,
        lat=at[0],
        lon=at[1],
        radius_m=radius,
        score=gain,
        chance=None,
        region_m=None,
        region_deg=None,
        rubs=len(own),
        sectors_out=0,
        sectors_in=0,
        beds=around.count("bed", at, max(radius, 60.0)),
        seasons=around.seasons(signs),
        density=around.density(at),
        per_km=around.per_km(at),
        known_as=around.known_as(_SAME_KINDS.get(kind, (kind,)), at, radius),
        why=why,
        signs=signs,
    )
    return replace(made, why=[*why, *around_in_words(made, around)])


def around_in_words(made: Proposal, around: Surroundings) -> list[str]:
    """Say in plain words what lies around a proposal."""
    beds = f"{made.beds} beds were found here" if made.beds > 1 else "1 bed was found here"
    told = [beds if made.beds else "no bed was noted here"]
    if made.density.value is not None:
        within = around.length(NEAR_M)
        told.append(f"{_ratio(made.density)} as many rubs within {within} as in the woods around")
    if made.per_km is not None and made.per_km.value is not None:
        told.append(f"{_ratio(made.per_km)} as many for every step you walked")
    elif made.density.value is not None:
        told.append("no track log here: it may only look loaded because you looked hard")
    told.append(
        f"its rubs are from {made.seasons} seasons, old and fresh together" if made.seasons > 1
        else "all its rubs may be from one season"
    )  # fmt: skip
    return [*told, *([f"drawn already as {made.known_as}"] if made.known_as else [])]


def _ratio(estimate: Estimate) -> str:
    low = f"{estimate.low:.1f}" if estimate.low is not None else "0"
    high = f"{estimate.high:.1f}" if estimate.high is not None else "any number"
    return f"{estimate.value:.1f} times ({low} to {high})"


def _of_eight(counts: Sequence[int]) -> int:
    return sum(n > 0 for n in counts)
