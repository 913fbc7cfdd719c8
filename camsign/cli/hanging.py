"""Cameras: hung, taken down, known not to have worked."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

from camsign.cli.opened import logbook
from camsign.cli.reading import Anywhere, Columns, Day, choices, columns_of, tell
from camsign.cli.show import Csv, Json, form, listing, put_json, say

if TYPE_CHECKING:
    from camsign.places.deployments import Hung

Camera = Annotated[str, typer.Argument(help="The camera's ID, such as CAM07.")]


class _CameraFirst(TyperGroup):
    """What is no command of the family is a camera: `hang CAM07 …` is `hang camera CAM07 …`."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        named = not args or args[0] in self.commands or args[0] in ctx.help_option_names
        return super().parse_args(ctx, args if named else ["camera", *args])


hang_app = typer.Typer(
    cls=_CameraFirst,
    help="Say that a camera hangs: `hang CAM07 --at LAT,LON --from DAY`, or many from a file.",
    subcommand_metavar="{CAMERA [OPTIONS] | import FILE | remove DEPLOYMENT}",
    no_args_is_help=True,
)


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.add_typer(hang_app, name="hang")
    hang_app.command("camera")(hang)
    hang_app.command("import")(import_hung)
    hang_app.command("remove")(remove)
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
    remark: Annotated[str | None, typer.Option("--note")] = None,
    anywhere: Anywhere = False,
    as_json: Json = False,
) -> None:
    """Say that a camera hangs at a place."""
    from camsign.places import deployments as rooms
    from camsign.places.nearby import Nearby
    from camsign.units import parse_bearing, parse_lat_lon, parse_when

    with logbook(context) as session:
        place = parse_lat_lon(at)
        Nearby.of(session, anywhere).check(place)
        hung = rooms.hang(
            session,
            camera,
            place,
            parse_when(start),
            parse_when(until) if until else None,
            parse_bearing(facing) if facing else None,
            clock,
            tz,
            remark,
        )
    _show(hung, as_json)


def import_hung(
    context: typer.Context,
    file: Annotated[
        Path, typer.Argument(help="A table with camera, lat, lon, from, until, or waypoints.")
    ],
    on: Day = None,
    column: Columns = None,
    anywhere: Anywhere = False,
    as_json: Json = False,
) -> None:
    """Hang the cameras of a file, leaving all else in it; the same file again adds nothing."""
    from camsign.flows.fieldwork.handheld import import_cameras

    with logbook(context) as session:
        taken = import_cameras(session, file, choices(on, anywhere), columns_of(column))
    tell(taken.refused)
    if as_json:
        put_json({"cameras": taken.cameras, "known": taken.known, "refused": taken.refused})
    else:
        say(f"Cameras hung: {taken.cameras}; known already: {taken.known}.")
    if taken.refused:
        raise typer.Exit(1 if taken.cameras or taken.known else 3)


def remove(
    context: typer.Context,
    deployment: Annotated[str, typer.Argument(help="Its id, from `camsign deployments`.")],
    only: Annotated[
        bool, typer.Option("--only", help="Where two people said it, only the one of this id.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Take out a camera that never hung there; `camsign undo` brings it back."""
    from camsign.places import deployments as rooms

    with logbook(context) as session:
        hung = rooms.remove_deployment(session, deployment, only)
    if as_json:
        put_json(hung)
    else:
        say(f"Removed {hung.camera} at {hung.lat:.5f},{hung.lon:.5f} ({hung.deployment}).")


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
    remark: Annotated[str | None, typer.Option("--note")] = None,
    as_json: Json = False,
) -> None:
    """Say that a camera did not work for a while; those nights count as not watched."""
    from camsign.places import deployments as rooms
    from camsign.units import parse_when

    with logbook(context) as session:
        said = rooms.outage(session, camera, parse_when(start), parse_when(stop), remark)
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
