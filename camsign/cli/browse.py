"""The pages, in the user's own browser."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path
from typing import Annotated

import typer

from camsign.cli.show import note
from camsign.errors import UsageError


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.command()(browse)


def browse(
    context: typer.Context,
    port: Annotated[int, typer.Option(min=0, max=65535, help="0 takes a free one.")] = 0,
    quiet: Annotated[
        bool, typer.Option("--quiet", help="Only print the address; open no browser.")
    ] = False,
) -> None:
    """Open the pages: sort pictures, look closer, know the bucks. Ctrl+C ends it."""
    from camsign.logbook.folder import find
    from camsign.page.server import serve

    named, where = context.obj, Path.cwd()
    try:
        folder = find(named, where)
    except UsageError:
        if named is not None or "CAMSIGN_LOGBOOK" in os.environ:
            raise
        folder = None
    with suppress(KeyboardInterrupt):
        serve(folder, where, port, not quiet, _say)


def _say(address: str) -> None:
    note(
        f"camsign: the pages are at {address}",
        "camsign: only this machine can see them; Ctrl+C ends them",
    )
