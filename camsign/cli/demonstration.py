"""The demo."""

from __future__ import annotations

import shlex
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
    from camsign.cli.app import run
    from camsign.demo.walk import ASKS, walk

    shown = walk(folder, note if as_json else say)
    if as_json:
        put_json(shown)
        return
    for words in ASKS:
        say("")
        say(f"$ camsign {shlex.join(words)}")
        run(["--logbook", str(shown.logbook), *words])
    say("")
    say(f"The map: {shown.map}")
    say(f"Go on by yourself: camsign --logbook {shown.logbook} visits")
    say(f"See it all in your browser: camsign --logbook {shown.logbook}")
