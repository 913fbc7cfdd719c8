"""Areas and places: what is where on the property."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from camsign.cli.command import Out, command
from camsign.cli.reading import Anywhere
from camsign.cli.show import Block, at, lengths, listed
from camsign.cli.things import says
from camsign.formats.geojson import write_geojson
from camsign.logbook.session import Session
from camsign.logbook.things import AREA, PLACE
from camsign.places import areas as rooms
from camsign.places.areas import AreaRow, AreasTaken, add_area, remove_area, set_area
from camsign.places.points import PlaceRow, add_place, places, remove_place, set_place
from camsign.units import counted, format_size, lower_first

if TYPE_CHECKING:
    from camsign.sign.proposals import Proposal


area_app = typer.Typer(
    help="Bedding, doe bedding, feeding, staging and travel areas.", no_args_is_help=True
)


place_app = typer.Typer(help="Stands, parking, ways in, water, food.", no_args_is_help=True)


def _area_told(row: AreaRow, session: Session, *_: Any) -> str:
    size = format_size(row.hectares, session.settings.units)
    over = f" {row.read_as}." if row.read_as else ""
    return f"{row.area} ({row.kind}): {size} around {at(row.lat, row.lon)} ({row.area_id}).{over}"


def _place_told(row: PlaceRow, *_: Any) -> str:
    return f"{row.place} ({row.kind}) at {at(row.lat, row.lon)}."


says(area_app, AREA, "add", add_area, _area_told)


@command(area_app, "import", attention="an area was refused")
def import_areas(
    session: Session,
    file: Annotated[Path, typer.Argument(help="GeoJSON polygons with `name` and `kind`.")],
    kind: Annotated[str | None, typer.Option(help="For polygons that name no kind.")] = None,
    anywhere: Anywhere = False,
) -> Out[AreasTaken]:
    """Load drawn areas. The same file again adds nothing."""
    taken = rooms.import_areas(session, file, kind, anywhere)
    new = counted(taken.new, "new area")
    told = f"{new}, {taken.changed} changed, {taken.known} known already."
    over = [f"{row.area}: {lower_first(row.read_as)}" for row in taken.areas if row.read_as]
    return Out(taken, told, warned=[*taken.refused, *over], code=int(bool(taken.refused)))


@command(area_app, "list", csv=True)
def list_areas(session: Session) -> Out[list[AreaRow]]:
    """Areas by name."""
    rows, units = rooms.areas(session), session.settings.units
    return Out(rows, listed(rows, {
        "area": "area", "kind": "kind", "lat": "lat", "lon": "lon",
        "radius": lambda row: lengths(units, row.radius_m),
        "size": lambda row: format_size(row.hectares, units),
    }, "no areas yet"))  # fmt: skip


says(area_app, AREA, "rename", set_area, _area_told)
says(area_app, AREA, "set", set_area, _area_told)
says(area_app, AREA, "remove", remove_area, lambda row, *_: f"Removed {row.area}.")


@command(area_app, "propose", csv=True)
def propose_areas(
    session: Session,
    season: Annotated[int | None, typer.Option(help="Only from sign of this season.")] = None,
    take: Annotated[bool, typer.Option("--take", help="Add those that are not drawn yet.")] = False,
    to: Annotated[
        Path | None, typer.Option(metavar="FILE.geojson", help="Write them as polygons.")
    ] = None,
) -> Out[list[Proposal]]:
    """Where rubs point to a bed or staging edge, and why."""
    from camsign.flows.fieldwork.accept_proposals import proposal_features, take_proposals
    from camsign.sign.proposals import propose

    rows = propose(session, season)
    taken = len(take_proposals(session, season=season)) if take else None
    if to:
        with to.open("w", encoding="utf-8") as stream:
            write_geojson(proposal_features(rows), stream)
    return Out(rows, _proposed(rows, taken))


says(place_app, PLACE, "add", add_place, _place_told)
says(place_app, PLACE, "set", set_place, _place_told)
says(place_app, PLACE, "remove", remove_place, lambda row, *_: f"Removed {row.place}.")


@command(place_app, "list", csv=True)
def list_places(session: Session) -> Out[list[PlaceRow]]:
    """Places by kind and name."""
    rows, units = places(session), session.settings.units
    return Out(rows, listed(rows, {
        "place": "place", "kind": "kind", "lat": "lat", "lon": "lon",
        "length": lambda row: lengths(units, row.length_m),
    }, "no places yet"))  # fmt: skip


def _proposed(rows: list[Proposal], taken: int | None) -> Iterator[Block]:
    columns = {name: name for name in ("area", "kind", "lat", "lon", "score")}
    yield from listed(rows, columns, "the sign points at no place yet")
    yield from (f"{row.area}: {'; '.join(row.why)}" for row in rows)
    if taken is not None:
        yield f"Added {counted(taken, 'area')}."
