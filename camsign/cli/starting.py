"""Starting a logbook, what was said in it, and taking it back."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from camsign.cli.opened import folder, logbook
from camsign.cli.show import Csv, Json, form, listing, put_json, say


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.command()(init)
    app.command()(undo)
    app.command()(history)
    app.command()(rebuild)


def init(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A new or empty folder.")],
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
    as_json: Json = False,
) -> None:
    """Start a logbook."""
    from camsign.flows.fieldwork.starting import start

    if light is None and not as_json and sys.stdin.isatty():
        light = typer.prompt(
            "Shooting light: minutes before sunrise and after sunset (the law where you hunt "
            "decides)",
            default="30,30",
        )
    started = start(folder, home, units, tz, light)
    if as_json:
        put_json(started)
        return
    say(
        f"{started.logbook} is a new logbook; {started.where}.",
        "Shooting light and the phases of your season are in its logbook.toml. The law where you "
        "hunt decides when you may shoot: check it, and set light_before and light_after to it.",
        "Next: camsign hang CAMERA --at LAT,LON --from DAY for each camera, then camsign ingest.",
    )


def undo(
    context: typer.Context,
    act: Annotated[
        str | None, typer.Argument(help="An act from `camsign history`; else your last.")
    ] = None,
    as_json: Json = False,
) -> None:
    """Take back what was said last, or one act; taking back an undo says it again."""
    from camsign.logbook import history as acts

    with logbook(context) as session:
        taken_back = acts.undo(session, act)
    if as_json:
        put_json({"act": taken_back.act, "what": taken_back.what})
        return
    say(f"Took back: {taken_back.what}")


def history(
    context: typer.Context,
    limit: Annotated[int, typer.Option(min=1, help="How many, the latest first.")] = 30,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """What was said in this logbook, the latest first."""
    from camsign.logbook import history as acts

    with logbook(context) as session:
        rows = acts.history(session, limit)
    columns = {"act": "act", "said": "said (UTC)", "what": "what", "undone": "taken back"}
    listing(rows, columns, form(as_json, as_csv), "nothing was said yet")


def rebuild(context: typer.Context, as_json: Json = False) -> None:
    """Make the database of this machine again from cards and journal."""
    from camsign.logbook.session import remove_database

    remove_database(folder(context))
    with logbook(context) as session:
        row = session.con.execute(
            "SELECT (SELECT count(*) FROM frames), (SELECT count(*) FROM acts)"
        ).fetchone()
    frames, acts = row or (0, 0)
    if as_json:
        put_json({"frames": frames, "acts": acts})
        return
    say(f"Made again from {frames} frames and {acts} acts.")
