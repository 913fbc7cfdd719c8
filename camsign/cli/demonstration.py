"""The demo."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from camsign.cli.show import Json, note, put_json, say


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.command()(demo)


def demo(
    folder: Annotated[
        Path, typer.Argument(metavar="[DIR]", help="A new folder to leave it all in.")
    ] = Path("camsign-demo"),
    as_json: Json = False,
) -> None:
    """An invented season, from card to answer."""
    from camsign.demo.walk import walk

    shown = walk(folder, note if as_json else say)
    if as_json:
        put_json(shown)
