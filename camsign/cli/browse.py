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
    """Open the pages in your browser, as camsign alone does. Ctrl+C ends it.

    Without a logbook here or above, the first page begins one.
    """
    from camsign.logbook.folder import find
    from camsign.page.server import serve, shows_windows

    named, where = context.obj.logbook, Path.cwd()
    try:
        folder = find(named, where)
    except UsageError:
        if named is not None or "CAMSIGN_LOGBOOK" in os.environ:
            raise
        folder = None
    opens = shows_windows() and not quiet
    with suppress(KeyboardInterrupt):
        serve(folder, where, port, opens, lambda address: _say(address, opens, folder is None))


def _say(address: str, opens: bool, first: bool) -> None:
    how = (
        "your browser shows them in a moment"
        if opens
        else "type or paste this address into a browser on this machine"
    )
    note(f"camsign: the pages are at {address}", f"camsign: {how}; Ctrl+C here ends them")
    if first:
        note("camsign: there is no logbook here or above yet; the first page begins one")
