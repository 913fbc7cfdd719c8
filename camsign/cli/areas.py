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
from camsign.places.points import PlaceRow, add_place, remove_place, set_place
from camsign.units import format_size

if TYPE_CHECKING:
    from camsign.sign.proposals import Proposal


area_app = typer.Typer(
    help="Bedding, doe bedding, feeding, staging and travel areas.", no_args_is_help=True
)


place_app = typer.Typer(help="Stands, parking, ways in, water, food.", no_args_is_help=True)


_AREA_COLUMNS = {"area": "area", "kind": "kind", "lat": "lat", "lon": "lon"}


_AREA_COLUMNS |= {"radius_m": "radius", "hectares": "size"}


@says(area_app, AREA, "add")
def _add_area(session: Session, **said: Any) -> Out[AreaRow]:
    return _told(session, add_area(session, **said))


@command(area_app, "import", attention="an area was refused")
def import_areas(
    session: Session,
    file: Annotated[Path, typer.Argument(help="GeoJSON polygons with `name` and `kind`.")],
    kind: Annotated[str | None, typer.Option(help="For polygons that name no kind.")] = None,
    anywhere: Anywhere = False,
) -> Out[AreasTaken]:
    """Load drawn areas. The same file again adds nothing."""
    taken = rooms.import_areas(session, file, kind, anywhere)
    told = f"{taken.new} new areas, {taken.changed} changed, {taken.known} known already."
    return Out(taken, told, warned=taken.refused, code=int(bool(taken.refused)))


@command(area_app, "list", csv=True)
def list_areas(session: Session) -> Out[list[AreaRow]]:
    """Areas by name."""
    rows, units = rooms.areas(session), session.settings.units
    told = listed(
        rows,
        _AREA_COLUMNS,
        "no areas yet",
        radius_m=lambda row: lengths(units, row.radius_m),
        hectares=lambda row: format_size(row.hectares, units),
    )
    return Out(rows, told)


@says(area_app, AREA, "set")
@says(area_app, AREA, "rename")
def _set_area(session: Session, **said: Any) -> Out[AreaRow]:
    return _told(session, set_area(session, **said))


@says(area_app, AREA, "remove")
def _remove_area(session: Session, area: str) -> Out[AreaRow]:
    row = remove_area(session, area)
    return Out(row, f"Removed {row.area}.")


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


@says(place_app, PLACE, "add")
def _add_place(session: Session, **said: Any) -> Out[PlaceRow]:
    return _told_place(add_place(session, **said))


@says(place_app, PLACE, "set")
def _set_place(session: Session, **said: Any) -> Out[PlaceRow]:
    return _told_place(set_place(session, **said))


@says(place_app, PLACE, "remove")
def _remove_place(session: Session, place: str) -> Out[PlaceRow]:
    row = remove_place(session, place)
    return Out(row, f"Removed {row.place}.")


@command(place_app, "list", csv=True)
def list_places(session: Session) -> Out[list[PlaceRow]]:
    """Places by kind and name."""
    from camsign.places import points as rooms

    rows, units = rooms.places(session), session.settings.units
    columns = {"place": "place", "kind": "kind", "lat": "lat", "lon": "lon", "length_m": "length"}
    long = {"length_m": lambda row: lengths(units, row.length_m)}
    return Out(rows, listed(rows, columns, "no places yet", **long))


def _told(session: Session, row: AreaRow) -> Out[AreaRow]:
    size = format_size(row.hectares, session.settings.units)
    return Out(
        row, f"{row.area} ({row.kind}): {size} around {at(row.lat, row.lon)} ({row.area_id})."
    )


def _told_place(row: PlaceRow) -> Out[PlaceRow]:
    return Out(row, f"{row.place} ({row.kind}) at {at(row.lat, row.lon)}.")


def _proposed(rows: list[Proposal], taken: int | None) -> Iterator[Block]:
    columns = {"area": "area", "kind": "kind", "lat": "lat", "lon": "lon", "score": "score"}
    yield from listed(rows, columns, "the sign points at no place yet")
    yield from (f"{row.area}: {'; '.join(row.why)}" for row in rows)
    if taken is not None:
        yield f"Added {taken} areas."
