"""Cameras: hung, taken down, known not to have worked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from camsign.cli.opened import logbook
from camsign.cli.show import Csv, Json, form, listing, put_json, say

if TYPE_CHECKING:
    from camsign.places.deployments import Hung

Camera = Annotated[str, typer.Argument(help="The camera's ID, such as CAM07.")]


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.command()(hang)
    app.command()(takedown)
    app.command()(outage)
    app.command()(deployments)


def hang(
    context: typer.Context,
    camera: Camera,
    at: Annotated[str, typer.Option(metavar="LAT,LON", help="Where it hangs.")],
    start: Annotated[str, typer.Option("--from", metavar="WHEN", help="Day, or day and time.")],
    until: Annotated[
        str | None, typer.Option(metavar="WHEN", help="When it was taken down, if it was.")
    ] = None,
    facing: Annotated[
        str | None, typer.Option(metavar="DEG", help="Where it looks: NE, 45, 45T, 60M.")
    ] = None,
    clock: Annotated[
        str,
        typer.Option(
            metavar="RULE",
            help="hung: the place's offset on the day it was hung, kept; local; or ±HH:MM.",
        ),
    ] = "hung",
    tz: Annotated[str | None, typer.Option(help="The place's time zone, if another.")] = None,
    note: Annotated[str | None, typer.Option()] = None,
    as_json: Json = False,
) -> None:
    """Say that a camera hangs at a place."""
    from camsign.places import deployments as rooms
    from camsign.units import parse_bearing, parse_lat_lon, parse_when

    with logbook(context) as session:
        hung = rooms.hang(
            session,
            camera,
            parse_lat_lon(at),
            parse_when(start),
            parse_when(until) if until else None,
            parse_bearing(facing) if facing else None,
            clock,
            tz,
            note,
        )
    _show(hung, as_json)


def takedown(
    context: typer.Context,
    camera: Camera,
    on: Annotated[str, typer.Option(metavar="WHEN", help="Day, or day and time.")],
    working: Annotated[
        bool, typer.Option("--working", help="It was found working: that is a sign of life.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Say that a camera was taken down."""
    from camsign.places import deployments as rooms
    from camsign.units import parse_when

    with logbook(context) as session:
        hung = rooms.takedown(session, camera, parse_when(on), working)
    _show(hung, as_json)


def outage(
    context: typer.Context,
    camera: Camera,
    start: Annotated[str, typer.Option("--from", metavar="WHEN")],
    stop: Annotated[str, typer.Option("--to", metavar="WHEN")],
    note: Annotated[str | None, typer.Option()] = None,
    as_json: Json = False,
) -> None:
    """Say that a camera did not work for a while; those nights count as not watched."""
    from camsign.places import deployments as rooms
    from camsign.units import parse_when

    with logbook(context) as session:
        said = rooms.outage(session, camera, parse_when(start), parse_when(stop), note)
    if as_json:
        put_json(said)
        return
    say(
        f"{said.camera} did not work from {said.start:%Y-%m-%d %H:%M} "
        f"to {said.stop:%Y-%m-%d %H:%M}."
    )


def deployments(context: typer.Context, as_json: Json = False, as_csv: Csv = False) -> None:
    """Where each camera hung, and from when to when."""
    from camsign.places import deployments as rooms

    with logbook(context) as session:
        rows = rooms.deployments(session)
    columns = {"deployment": "deployment", "camera": "camera", "lat": "lat", "lon": "lon"}
    columns |= {"hung": "hung", "until": "until", "facing_deg": "faces", "clock": "clock"}
    listing(rows, columns, form(as_json, as_csv), "no camera hangs yet")


def _show(hung: Hung, as_json: bool) -> None:
    if as_json:
        put_json(hung)
        return
    until = f" until {hung.until:%Y-%m-%d %H:%M}" if hung.until else ""
    say(
        f"{hung.camera} hangs at {hung.lat:.5f},{hung.lon:.5f} "
        f"from {hung.hung:%Y-%m-%d %H:%M}{until} ({hung.deployment})."
    )
