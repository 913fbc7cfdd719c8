"""Areas and places: what is where on the property."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from camsign.cli.figures import lengths
from camsign.cli.opened import logbook
from camsign.cli.reading import Anywhere
from camsign.cli.show import Csv, Form, Json, form, listing, note, put_json, say

if TYPE_CHECKING:
    from camsign.places.areas import AreaRow
    from camsign.units import UnitSystem

area_app = typer.Typer(
    help="Bedding, doe bedding, feeding, staging and travel areas.", no_args_is_help=True
)
place_app = typer.Typer(help="Stands, parking, ways in, water, food.", no_args_is_help=True)
Area = Annotated[str, typer.Argument(help="The area's name or id.")]
_AREA_COLUMNS = {"area": "area", "kind": "kind", "lat": "lat", "lon": "lon"}
_AREA_COLUMNS |= {"radius_m": "radius", "hectares": "size"}


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.add_typer(area_app, name="area")
    app.add_typer(place_app, name="place")


@area_app.command("add")
def add_area(
    context: typer.Context,
    name: Annotated[str, typer.Argument(help="A name of your own.")],
    at: Annotated[str, typer.Option(metavar="LAT,LON", help="The middle of a circle.")],
    radius: Annotated[str, typer.Option(metavar="LENGTH", help="Such as 150yd or 120m.")],
    kind: Annotated[
        str, typer.Option(help="bedding, doe bedding, feeding, staging or travel.")
    ] = "bedding",
    as_json: Json = False,
) -> None:
    """Add a round area."""
    from camsign.places import areas as rooms
    from camsign.units import parse_lat_lon, parse_length

    with logbook(context) as session:
        unit = "yd" if session.settings.units == "imperial" else "m"
        row = rooms.add_area(session, kind, name, parse_lat_lon(at), parse_length(radius, unit))
        units = session.settings.units
    _show(row, as_json, units)


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


@area_app.command("rename")
def rename_area(context: typer.Context, area: Area, name: str, as_json: Json = False) -> None:
    """Give an area another name."""
    from camsign.places import areas as rooms

    with logbook(context) as session:
        row = rooms.rename_area(session, area, name)
        units = session.settings.units
    _show(row, as_json, units)


@area_app.command("remove")
def remove_area(context: typer.Context, area: Area, as_json: Json = False) -> None:
    """Take an area out of every answer; `camsign undo` brings it back."""
    from camsign.places import areas as rooms

    with logbook(context) as session:
        row = rooms.remove_area(session, area)
    if as_json:
        put_json(row)
        return
    say(f"Removed {row.area}.")


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


@place_app.command("add")
def add_place(
    context: typer.Context,
    kind: Annotated[str, typer.Argument(help="stand, parking, 'way in', water or food.")],
    name: Annotated[str, typer.Argument(help="A name of your own.")],
    at: Annotated[
        list[str], typer.Option(metavar="LAT,LON", help="Its point; several make a path.")
    ],
    as_json: Json = False,
) -> None:
    """Add a named point or path."""
    from camsign.places import points as rooms
    from camsign.units import parse_lat_lon

    with logbook(context) as session:
        row = rooms.add_place(session, kind, name, [parse_lat_lon(text) for text in at])
    if as_json:
        put_json(row)
        return
    say(f"{row.place} ({row.kind}) at {row.lat:.5f},{row.lon:.5f}.")


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


def _show(row: AreaRow, as_json: bool, units: UnitSystem) -> None:
    from camsign.units import format_size

    if as_json:
        put_json(row)
        return
    say(
        f"{row.area} ({row.kind}): {format_size(row.hectares, units)} about "
        f"{row.lat:.5f},{row.lon:.5f} ({row.area_id})."
    )
