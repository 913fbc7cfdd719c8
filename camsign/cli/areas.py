"""Areas and places: what is where on the property."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from camsign.cli.figures import lengths
from camsign.cli.opened import logbook
from camsign.cli.reading import Anywhere
from camsign.cli.show import Csv, Form, Json, form, listing, note, put_json, say
from camsign.cli.things import Told, says
from camsign.logbook.things import AREA, PLACE

if TYPE_CHECKING:
    from camsign.logbook.session import Session
    from camsign.places.areas import AreaRow
    from camsign.places.points import PlaceRow

area_app = typer.Typer(
    help="Bedding, doe bedding, feeding, staging and travel areas.", no_args_is_help=True
)
place_app = typer.Typer(help="Stands, parking, ways in, water, food.", no_args_is_help=True)
_AREA_COLUMNS = {"area": "area", "kind": "kind", "lat": "lat", "lon": "lon"}
_AREA_COLUMNS |= {"radius_m": "radius", "hectares": "size"}


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.add_typer(area_app, name="area")
    app.add_typer(place_app, name="place")


@says(area_app, AREA, "add")
def _add_area(session: Session, **said: Any) -> Told:
    from camsign.places.areas import add_area

    return _told(session, add_area(session, **said))


@area_app.command("import")
def import_areas(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(help="GeoJSON polygons with `name` and `kind`.")],
    kind: Annotated[str | None, typer.Option(help="For polygons that name no kind.")] = None,
    anywhere: Anywhere = False,
    as_json: Json = False,
) -> None:
    """Take in drawn areas; the same file again adds nothing."""
    from camsign.places import areas as rooms

    with logbook(context) as session:
        taken = rooms.import_areas(session, file, kind, anywhere)
    note(*(f"camsign: {line}" for line in taken.refused))
    if as_json:
        put_json(taken)
    else:
        say(f"{taken.new} new areas, {taken.changed} changed, {taken.known} known already.")
    if taken.refused:
        raise typer.Exit(1)


@area_app.command("list")
def list_areas(context: typer.Context, as_json: Json = False, as_csv: Csv = False) -> None:
    """Areas by name."""
    from camsign.places import areas as rooms

    with logbook(context) as session:
        rows, units = rooms.areas(session), session.settings.units
    wanted = form(as_json, as_csv)
    if wanted is not Form.TABLE:
        listing(rows, _AREA_COLUMNS, wanted, "no areas yet")
        return
    from camsign.units import format_size

    told = [
        {n: getattr(row, n) for n in _AREA_COLUMNS}
        | {"radius_m": lengths(units, row.radius_m), "hectares": format_size(row.hectares, units)}
        for row in rows
    ]
    listing(told, _AREA_COLUMNS, wanted, "no areas yet")


@says(area_app, AREA, "set")
@says(area_app, AREA, "rename")
def _set_area(session: Session, **said: Any) -> Told:
    from camsign.places.areas import set_area

    return _told(session, set_area(session, **said))


@says(area_app, AREA, "remove")
def _remove_area(session: Session, area: str) -> Told:
    from camsign.places.areas import remove_area

    row = remove_area(session, area)
    return row, f"Removed {row.area}."


@area_app.command("propose")
def propose_areas(
    context: typer.Context,
    season: Annotated[int | None, typer.Option(help="Only from sign of this season.")] = None,
    take: Annotated[bool, typer.Option("--take", help="Add those that are not drawn yet.")] = False,
    to: Annotated[
        Path | None, typer.Option(metavar="FILE.geojson", help="Write them as polygons.")
    ] = None,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Where the rubs say that a bed or a staging edge may be, with the reasons."""
    from camsign.flows.fieldwork.accept_proposals import proposal_features, take_proposals
    from camsign.sign.proposals import propose

    with logbook(context) as session:
        rows = propose(session, season)
        taken = take_proposals(session, season=season) if take else []
    if to:
        from camsign.formats.geojson import write_geojson

        with to.open("w", encoding="utf-8") as stream:
            write_geojson(proposal_features(rows), stream)
    wanted = form(as_json, as_csv)
    columns = {"area": "area", "kind": "kind", "lat": "lat", "lon": "lon", "score": "score"}
    listing(rows, columns, wanted, "the sign points at no place yet")
    if wanted is Form.TABLE:
        for row in rows:
            say(f"{row.area}: {'; '.join(row.why)}")
        if take:
            say(f"Added {len(taken)} areas.")


@says(place_app, PLACE, "add")
def _add_place(session: Session, **said: Any) -> Told:
    from camsign.places.points import add_place

    return _told_place(add_place(session, **said))


@says(place_app, PLACE, "set")
def _set_place(session: Session, **said: Any) -> Told:
    from camsign.places.points import set_place

    return _told_place(set_place(session, **said))


@says(place_app, PLACE, "remove")
def _remove_place(session: Session, place: str) -> Told:
    from camsign.places.points import remove_place

    row = remove_place(session, place)
    return row, f"Removed {row.place}."


@place_app.command("list")
def list_places(context: typer.Context, as_json: Json = False, as_csv: Csv = False) -> None:
    """Places by kind and name."""
    from camsign.places import points as rooms

    with logbook(context) as session:
        rows = rooms.places(session)
        units = session.settings.units
    columns = {"place": "place", "kind": "kind", "lat": "lat", "lon": "lon", "length_m": "length"}
    wanted = form(as_json, as_csv)
    told: list[Any] = list(rows)
    if wanted is Form.TABLE:
        told = [
            {n: getattr(row, n) for n in columns} | {"length_m": lengths(units, row.length_m)}
            for row in rows
        ]
    listing(told, columns, wanted, "no places yet")


def _told(session: Session, row: AreaRow) -> Told:
    from camsign.units import format_size

    size = format_size(row.hectares, session.settings.units)
    return (
        row,
        f"{row.area} ({row.kind}): {size} about {row.lat:.5f},{row.lon:.5f} ({row.area_id}).",
    )


def _told_place(row: PlaceRow) -> Told:
    return row, f"{row.place} ({row.kind}) at {row.lat:.5f},{row.lon:.5f}."
