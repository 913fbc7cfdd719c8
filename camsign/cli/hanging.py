"""Cameras: hung, taken down, known not to have worked."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

from camsign.cli.opened import logbook
from camsign.cli.reading import Anywhere, Columns, Day, choices, columns_of, tell
from camsign.cli.show import Csv, Json, form, listing, put_json, say
from camsign.cli.things import Told, says
from camsign.logbook.things import DEPLOYMENT, OUTAGE

if TYPE_CHECKING:
    from camsign.logbook.session import Session
    from camsign.places.deployments import Hung


class _CameraFirst(TyperGroup):
    """What is no command of the family is a camera: `hang CAM07 …` is `hang camera CAM07 …`."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        named = not args or args[0] in self.commands or args[0] in ctx.help_option_names
        return super().parse_args(ctx, args if named else ["camera", *args])


hang_app = typer.Typer(
    cls=_CameraFirst,
    help="Say that a camera hangs: `hang CAM07 --at LAT,LON --from DAY`, or many from a file.",
    subcommand_metavar="{CAMERA [OPTIONS] | import FILE | correct DEPLOYMENT | remove DEPLOYMENT}",
    no_args_is_help=True,
)


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.add_typer(hang_app, name="hang")
    hang_app.command("import")(import_hung)
    app.command()(deployments)
    says(app, DEPLOYMENT, "takedown")(_takedown)
    says(app, OUTAGE, "add", "outage")(_outage)


@says(hang_app, DEPLOYMENT, "hang", "camera", anywhere=True)
def _hang(session: Session, **said: Any) -> Told:
    from camsign.places.deployments import hang

    return _told(hang(session, **said))


@says(hang_app, DEPLOYMENT, "correct")
def _correct(session: Session, **said: Any) -> Told:
    from camsign.places.deployments import correct_deployment

    return _told(correct_deployment(session, **said))


@says(hang_app, DEPLOYMENT, "remove")
def _remove(session: Session, **said: Any) -> Told:
    from camsign.places.deployments import remove_deployment

    hung = remove_deployment(session, **said)
    return hung, f"Removed {hung.camera} at {hung.lat:.5f},{hung.lon:.5f} ({hung.deployment})."


def _takedown(session: Session, **said: Any) -> Told:
    from camsign.places.deployments import takedown

    return _told(takedown(session, **said))


def _outage(session: Session, **said: Any) -> Told:
    from camsign.places.deployments import outage

    out = outage(session, **said)
    span = f"from {out.start:%Y-%m-%d %H:%M} to {out.stop:%Y-%m-%d %H:%M}"
    return out, f"{out.camera} did not work {span}."


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


def deployments(context: typer.Context, as_json: Json = False, as_csv: Csv = False) -> None:
    """Where each camera hung, and from when to when."""
    from camsign.places import deployments as rooms

    with logbook(context) as session:
        rows = rooms.deployments(session)
    columns = {"deployment": "deployment", "camera": "camera", "lat": "lat", "lon": "lon"}
    columns |= {"hung": "hung", "until": "until", "facing_deg": "faces", "clock": "clock"}
    listing(rows, columns, form(as_json, as_csv), "no camera hangs yet")


def _told(hung: Hung) -> Told:
    until = f" until {hung.until:%Y-%m-%d %H:%M}" if hung.until else ""
    where = f"{hung.camera} hangs at {hung.lat:.5f},{hung.lon:.5f}"
    return hung, f"{where} from {hung.hung:%Y-%m-%d %H:%M}{until} ({hung.deployment})."
