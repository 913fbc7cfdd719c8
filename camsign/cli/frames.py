"""Frames: which there are."""

from __future__ import annotations

from typing import Annotated

import typer

from camsign.cli.opened import logbook
from camsign.cli.show import Csv, Form, Json, form, listing

Camera = Annotated[str | None, typer.Option(help="Only this camera's.")]
First = Annotated[str | None, typer.Option("--from", metavar="WHEN", help="Not before this.")]
Last = Annotated[str | None, typer.Option("--to", metavar="WHEN", help="Not after this.")]


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.command()(frames)


def frames(
    context: typer.Context,
    camera: Camera = None,
    first: First = None,
    last: Last = None,
    light: Annotated[str | None, typer.Option(help="colour, infrared or dark.")] = None,
    untagged: Annotated[bool, typer.Option("--untagged", help="Nothing said of them yet.")] = False,
    doubtful: Annotated[bool, typer.Option("--doubtful", help="Their time may be wrong.")] = False,
    limit: Annotated[int, typer.Option(min=1, help="How many the table shows.")] = 40,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """List frames with what the camera showed and the right time."""
    from camsign.answers import frames as answers
    from camsign.cli.show import note
    from camsign.units import parse_when

    wanted = answers.Wanted(
        camera,
        parse_when(first) if first else None,
        parse_when(last) if last else None,
        light,
        untagged,
        doubtful,
    )
    with logbook(context) as session:
        rows = answers.frames(session, wanted)
    asked = form(as_json, as_csv)
    columns = {"frame": "frame", "camera": "camera", "clock_time": "camera showed"}
    columns |= {"local": "right time", "light": "light", "tags": "tags", "doubt": "doubt"}
    if asked is not Form.TABLE:
        listing(rows, columns, asked)
        return
    shown = [{k: getattr(r, k) for k in columns} | {"frame": r.frame[:12]} for r in rows[:limit]]
    listing(shown, columns, asked, "no such frames")
    if len(rows) > limit:
        note(f"{len(rows) - limit} more; --limit shows more, --csv and --json all.")
