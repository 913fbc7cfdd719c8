"""From proposals of the sign room to areas of the logbook, and to polygons for other programs."""

from __future__ import annotations

from collections.abc import Sequence

from camsign.errors import UsageError
from camsign.formats.geojson import GeoFeature
from camsign.geo import Circle, circle_ring
from camsign.logbook.naming import key
from camsign.logbook.session import Session
from camsign.places.areas import AreaRow, add_areas
from camsign.sign.proposals import Proposal, propose


def take_proposals(
    session: Session, names: Sequence[str] | None = None, season: int | None = None
) -> list[AreaRow]:
    """Add proposed areas to the logbook in one act: those named, or all that are not drawn yet.

    Raises:
        UsageError: there is no proposal of such a name.
    """
    proposals = propose(session, season)
    wanted = (
        [p for p in proposals if p.known_as is None]
        if names is None
        else [_called(proposals, name) for name in names]
    )
    circles = [(p.kind, p.area, Circle(p.lat, p.lon, p.radius_m)) for p in wanted]
    return add_areas(session, circles)


def proposal_features(proposals: Sequence[Proposal]) -> list[GeoFeature]:
    """Give proposals as GeoJSON polygons, with score and reasons as properties."""
    features = []
    for p in proposals:
        ring = circle_ring(Circle(p.lat, p.lon, p.radius_m))
        geometry = {"type": "Polygon", "coordinates": [[list(point) for point in ring]]}
        properties = {"score": round(p.score, 2), "radius_m": p.radius_m, "why": "; ".join(p.why)}
        features.append(GeoFeature(p.area, p.kind, geometry, properties))
    return features


def _called(proposals: Sequence[Proposal], name: str) -> Proposal:
    for proposal in proposals:
        if key(proposal.area) == key(name):
            return proposal
    known = ", ".join(p.area for p in proposals) or "none"
    raise UsageError(f"there is no proposal {name!r}", f"there are: {known}")
