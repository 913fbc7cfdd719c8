"""Pictures of what the logbook holds."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from camsign.cli.opened import logbook
from camsign.cli.show import Json, put_json, say


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.command("map")(draw)


def draw(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(help="The PNG to write.")] = Path("map.png"),
    title: Annotated[str | None, typer.Option(help="A line above the map.")] = None,
    as_json: Json = False,
) -> None:
    """Draw cameras, sign, areas and places as one picture."""
    from camsign.answers.ground import ground
    from camsign.report.propertymap import draw_map

    with logbook(context) as session:
        there = ground(session)
        name = session.folder.root.resolve().name
    written = draw_map(there, file, title or name)
    if as_json:
        put_json({"written": [written]})
        return
    say(f"Drew {written}.")
