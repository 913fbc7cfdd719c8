"""Starting a logbook, what was said in it, and taking it back."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from camsign.cards.resting import rests_on
from camsign.cli.command import Out, command
from camsign.cli.opened import folder, logbook
from camsign.cli.show import listed
from camsign.derive.opening import Rebuilt, let_go, made_from
from camsign.flows.fieldwork.starting import Started, refuse_slip, start
from camsign.logbook import history as acts
from camsign.logbook.history import Act
from camsign.logbook.session import Session
from camsign.logbook.settings import FILE
from camsign.units import counted
from camsign.zones import zone


@command()
def init(
    quiet: bool,
    where: Annotated[Path, typer.Argument(metavar="DIR", help="A new or empty folder.")],
    home: Annotated[
        str | None, typer.Option(metavar="LAT,LON", help="The middle of the property.")
    ] = None,
    units: Annotated[str, typer.Option(help="imperial or metric.")] = "imperial",
    tz: Annotated[
        str | None, typer.Option(help="Time zone, such as America/New_York; else from --home.")
    ] = None,
    light: Annotated[
        str | None,
        typer.Option(
            metavar="MIN[,MIN]",
            help="Shooting light: minutes before sunrise, and after sunset. Check your law.",
        ),
    ] = None,
    anywhere: Annotated[
        bool, typer.Option("--anywhere", help="Home is right, even if it looks like a typo.")
    ] = False,
) -> Out[Started]:
    """Start a logbook."""
    if home and not anywhere:
        refuse_slip(home)
    if light is None and not quiet and sys.stdin.isatty():
        light = typer.prompt(
            "Shooting light: minutes before sunrise and after sunset (the law where you hunt "
            "decides)",
            default="30,30",
        )
    again = (where / FILE).is_file()
    started = start(where, home, units, tz, light)
    return Out(
        started,
        [
            f"{started.logbook} is {'already there, still empty' if again else 'a new logbook'}; "
            f"{started.where}.",
            "Shooting light and the phases of your season are in its logbook.toml. The law where "
            "you hunt decides when you may shoot: check it, and set light_before and light_after "
            "to match.",
            "Next: camsign import FILE --yes takes a handheld's file in; or camsign hang CAMERA "
            "--at LAT,LON --from DAY for each camera. Then camsign ingest.",
        ],
    )


@command()
def undo(
    session: Session,
    act: Annotated[
        str | None,
        typer.Argument(help="A change's id from `camsign history`; without one, your last."),
    ] = None,
) -> Out[Act]:
    """Undo your last change, or one by its id. Undo an undo to redo it."""
    gone = acts.undo(session, act)
    left = acts.stays(acts.loaded_since(session, gone.act)) if act is None else ""
    told = [_undone(gone.what), *([f"{left[0].upper()}{left[1:]}."] if left else [])]
    return Out(replace(gone, undone=True), [*told, *rests_on(session, gone.act)])


@command(csv=True)
def history(
    session: Session,
    of: Annotated[
        str | None,
        typer.Argument(help="Only of this: a buck, area, place, camera, sign, picture or change."),
    ] = None,
    limit: Annotated[int, typer.Option(min=1, help="How many, the latest first.")] = 30,
) -> Out[list[Act]]:
    """Your changes, newest first. `camsign undo ID` undoes one."""
    rows, tz = acts.history(session, limit, of), zone(session.settings.tz)
    return Out(rows, listed(rows, {
        "id": "act", "when": lambda act: datetime.fromisoformat(act.said).astimezone(tz),
        "what": "what", "undone": "undone",
    }, "nothing was changed yet"))  # fmt: skip


def _undone(what: str) -> str:
    """Say what was undone, in quotes: it is told as done. To undo an undo is to redo."""
    again = what.startswith("undid: ")
    return f"{'Redone' if again else 'Undone'}: “{what.removeprefix('undid: ')}”."


@command(stopped="nothing that you noted is lost; the next command makes the database")
def rebuild(context: typer.Context) -> Out[Rebuilt]:
    """Rebuild the working copy from cards and journal. Nothing is lost."""
    let_go(folder(context))
    with logbook(context) as session:
        done = made_from(session)
    return Out(
        done,
        f"Rebuilt from {counted(done.frames, 'picture')} and your {counted(done.acts, 'change')}.",
    )
