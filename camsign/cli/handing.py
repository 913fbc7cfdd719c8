"""What leaves the logbook: files for a handheld, for maps and spreadsheets, a data package."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from camsign.cli.opened import logbook
from camsign.cli.show import Json, put_json, say

export_app = typer.Typer(help="Hand places, tables, pictures on in open formats.")

Exact = Annotated[
    bool, typer.Option("--exact-places", help="Places as they are, not rounded to 1 km.")
]
What = Annotated[
    list[str] | None,
    typer.Option(
        "--what", help="cameras, sign, places, areas, walks, lines, proposals; may be repeated."
    ),
]
Season = Annotated[int | None, typer.Option(help="Only sign made in this hunting year.")]
Folder = Annotated[Path, typer.Argument(help="The folder to write into.")]


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    export_app.command("handheld")(handheld)
    export_app.command("points")(points)
    export_app.command("tables")(tables)
    export_app.command("pictures")(pictures)
    export_app.command("camtrap")(camtrap)
    app.add_typer(export_app, name="export")


def handheld(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(help="GPX, KML, GeoJSON or CSV, by its ending.")],
    what: What = None,
    season: Season = None,
    as_json: Json = False,
) -> None:
    """For your own handheld or phone: exact places, of each sign its newest look."""
    _points(context, file, what, season, True, True, as_json)


def points(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(help="GPX, KML, GeoJSON or CSV, by its ending.")],
    what: What = None,
    season: Season = None,
    exact_places: Exact = False,
    as_json: Json = False,
) -> None:
    """To hand on: cameras, sign, places, areas, walks, lines of rubs and proposals."""
    _points(context, file, what, season, exact_places, False, as_json)


def tables(
    context: typer.Context,
    folder: Folder,
    as_: Annotated[str, typer.Option("--as", help="parquet or csv.")] = "parquet",
    table: Annotated[
        list[str] | None, typer.Option("--table", help="Only this one; may be repeated.")
    ] = None,
    exact_places: Exact = False,
    as_json: Json = False,
) -> None:
    """Every view and table, one file each: detections, visits, sign, watch, bucks, tags…"""
    from camsign.flows.handover.tables import ALL, write_tables

    with logbook(context) as session:
        done = write_tables(session, folder, as_, tuple(table) if table else ALL, exact_places)
    _tell(done.written, done.exact_places, f"{len(done.written)} tables", as_json)


def pictures(
    context: typer.Context,
    buck: Annotated[str, typer.Argument(help="His name or id.")],
    folder: Folder,
    most: Annotated[int, typer.Option(min=1, help="How many pictures.")] = 20,
    exact_places: Annotated[
        bool, typer.Option("--exact-places", help="As the camera wrote them, place and all.")
    ] = False,
    as_json: Json = False,
) -> None:
    """A buck's best pictures, drawn anew so that no place and no camera is hidden in them."""
    from camsign.cli.show import note
    from camsign.flows.handover.pictures import write_pictures

    with logbook(context) as session:
        done = write_pictures(session, buck, folder, most, exact_places)
    note(*(f"camsign: {line}" for line in done.refused))
    hidden = "as the camera wrote them" if done.as_taken else "no place hidden in them"
    if as_json:
        put_json({"written": done.written, "refused": done.refused, "as_taken": done.as_taken})
    else:
        say(f"Wrote {len(done.written)} pictures of {done.buck} into {folder}: {hidden}.")
    if done.refused:
        raise typer.Exit(1)


def camtrap(
    context: typer.Context, folder: Folder, exact_places: Exact = False, as_json: Json = False
) -> None:
    """A Camera Trap Data Package (Camtrap DP 1.0.2), as wildlife surveys exchange them."""
    from camsign.flows.handover.camtrap import write_camtrap

    with logbook(context) as session:
        done = write_camtrap(session, folder, exact_places)
    counts = ", ".join(f"{n} {name}" for name, n in done.rows.items())
    left = f"; {done.left_out} pictures without a place or time left out" if done.left_out else ""
    _tell(done.written, done.exact_places, counts + left, as_json)


def _points(
    context: typer.Context,
    file: Path,
    what: list[str] | None,
    season: int | None,
    exact: bool,
    newest: bool,
    as_json: bool,
) -> None:
    from camsign.flows.handover.points import hand_on
    from camsign.flows.handover.things import wanted

    with logbook(context) as session:
        done = hand_on(session, file, wanted(what, season, newest), exact)
    counts = ", ".join(f"{n} {name}" for name, n in done.counts.items())
    _tell(done.written, done.exact_places, counts, as_json)


def _tell(written: Sequence[Path], exact: bool, counts: str, as_json: bool) -> None:
    places = "exact places" if exact else "places rounded to 1 km"
    if as_json:
        put_json({"written": list(written), "exact_places": exact, "what": counts})
        return
    where = written[0] if len(written) == 1 else written[0].parent
    say(f"Wrote {where}: {counts}; {places}.")
