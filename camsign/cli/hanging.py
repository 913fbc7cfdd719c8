"""Cameras: hung, taken down, known not to have worked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from camsign.cli.command import Out, code_of, command
from camsign.cli.reading import MOST_TOLD, Anywhere, Columns, Day, choices, columns_of
from camsign.cli.show import at as placed
from camsign.cli.show import bearing, first_of, listed
from camsign.cli.things import says
from camsign.clock.by_names import open_hours
from camsign.errors import quoted
from camsign.formats.days import begins, ends
from camsign.geo import distance_bearing
from camsign.logbook.session import Session
from camsign.logbook.things import DEPLOYMENT, OUTAGE
from camsign.places import deployments as rooms
from camsign.places.deployments import Hung, Outage, is_cell
from camsign.units import counted, format_length


@dataclass(frozen=True, slots=True)
class CamerasTaken:
    """How many cameras of a file were hung or known, and what of it was refused."""

    cameras: int
    known: int
    refused: list[str]


class _CameraFirst(TyperGroup):
    """What is no command of the family is a camera: `hang CAM07 …` is `hang camera CAM07 …`."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        named = not args or args[0] in self.commands or args[0] in ctx.help_option_names
        return super().parse_args(ctx, args if named else ["camera", *args])


hang_app = typer.Typer(
    cls=_CameraFirst,
    help="Put a camera up: `hang CAM07 --at LAT,LON --from DAY`, or many from a file. "
    "All options: `camsign hang CAM07 --help`.",
    subcommand_metavar="{CAMERA [OPTIONS] | import FILE | correct DEPLOYMENT | remove DEPLOYMENT}",
    no_args_is_help=True,
)


def _hangs(hung: Hung, _: Any = None, said: Mapping[str, Any] | None = None) -> str:
    where = f"{hung.camera} {'hung' if hung.until else 'hangs'} at {placed(hung.lat, hung.lon)}"
    span = f"through {ends(hung.until)}" if hung.until else "on"
    hangs = f"{where} from {begins(hung.hung)} {span} ({hung.deployment})."
    if hung.guesses_gone:
        which = ", ".join(hung.guesses_gone)
        hangs += f" Took back the guess about its clock ({which}), which rested on the old dates;"
        hangs += f" check it again: camsign clock audit {quoted(hung.camera)}"
    if hung.clock == "local" and said and not said.get("clock"):
        hangs += " Its clock switches for daylight saving, as where it hung last."
    if hung.clock == "hung" and is_cell(hung.camera):
        hangs += f" Does it set its own clock? camsign hang correct {hung.deployment} --clock local"
    return hangs


def _corrected(hung: Hung, session: Session, said: Mapping[str, Any]) -> str:
    was = next(one for one in rooms.deployments(session) if one.deployment == hung.deployment)
    far, _ = distance_bearing(was.lat, was.lon, hung.lat, hung.lon)
    moved = f" That is {format_length(float(far), session.settings.units)} from where it was."
    return _hangs(hung) + (moved if said.get("at") else "")


def _gone(hung: Hung, *_: Any) -> str:
    return f"Removed {hung.camera} at {placed(hung.lat, hung.lon)} ({hung.deployment})."


def _down(hung: Hung, *_: Any) -> str:
    on = f" on {ends(hung.until)}" if hung.until else ""
    return f"Took down {hung.camera}{on} ({hung.deployment})."


def _out(out: Outage, *_: Any) -> str:
    first, last = begins(out.start), ends(out.stop)
    return f"{out.camera} was down {last if last == first else f'{first} through {last}'}."


says(hang_app, DEPLOYMENT, "hang", rooms.hang, _hangs, "camera")
says(hang_app, DEPLOYMENT, "correct", rooms.correct_deployment, _corrected)
says(hang_app, DEPLOYMENT, "remove", rooms.remove_deployment, _gone)
takedown = says(None, DEPLOYMENT, "takedown", rooms.takedown, _down, help="Take a camera down.")
outage = says(None, OUTAGE, "add", rooms.outage, _out, help="Mark days a camera was down. "
              "Its nights then don't count as covered.")  # fmt: skip


_CLOCKS = {
    "hung": "doesn't switch for daylight saving",
    "local": "switches for daylight saving",
}


@command(hang_app, "import", attention="a row was refused", refused="every row was refused")
def import_hung(
    session: Session,
    file: Annotated[
        Path, typer.Argument(help="A table with camera, lat, lon, from, until, or waypoints.")
    ],
    on: Day = None,
    column: Columns = None,
    anywhere: Anywhere = False,
) -> Out[CamerasTaken]:
    """Hang the cameras in a file. The same file again adds nothing."""
    from camsign.flows.fieldwork.handheld import import_cameras

    taken = import_cameras(session, file, choices(on, anywhere), columns_of(column))
    known = f" {taken.known} known already." if taken.known else ""
    told = f"Hung {counted(taken.cameras, 'camera')}.{known}"
    code = code_of(taken.refused, taken.cameras or taken.known)
    done = CamerasTaken(taken.cameras, taken.known, taken.refused)
    return Out(done, told, warned=first_of(taken.refused, MOST_TOLD), code=code)


@command(csv=True)
def deployments(session: Session) -> Out[list[Hung]]:
    """Where each camera hung, and when."""
    rows = rooms.deployments(session)
    shown = listed(rows, {
        "id": "deployment", "camera": "camera", "lat": "lat", "lon": "lon",
        "hung": lambda row: begins(row.hung),
        "until": lambda row: ends(row.until) if row.until else "still up",
        "faces": lambda row: bearing(row.facing_deg),
        "clock": lambda row: _CLOCKS.get(row.clock, row.clock),
    }, "no camera hangs yet")  # fmt: skip
    return Out(rows, shown, warned=[*open_hours(session).values()])
