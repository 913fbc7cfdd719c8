"""The pages, in the user's own browser."""

from __future__ import annotations

import os
import signal
from contextlib import suppress
from pathlib import Path
from typing import Annotated

import typer

from camsign.cli.show import note
from camsign.errors import UsageError
from camsign.logbook.folder import NoneHereError, find
from camsign.page.server import serve
from camsign.systems import shows_windows


def browse(
    context: typer.Context,
    port: Annotated[int, typer.Option(min=0, max=65535, help="0 takes a free one.")] = 0,
    quiet: Annotated[
        bool, typer.Option("--quiet", help="Only print the address; open no browser.")
    ] = False,
) -> None:
    """Open the pages in your browser, as camsign alone does. Ctrl+C ends it.

    Without a logbook here, above or in a folder here, the first page begins one.
    """
    named, where = context.obj.logbook, Path.cwd()
    if len(context.obj.logbooks) > 1:
        raise UsageError("the pages show one logbook at a time", "name one; switch in the pages")
    folder = None
    with suppress(NoneHereError):  # the first page begins one
        folder = find(named, where)
    opens = shows_windows() and not quiet
    signal.signal(signal.SIGINT, _end_at_once)
    serve(folder, where, port, opens, lambda address: _say(address, opens, folder is None))
    _end_at_once()


def _end_at_once(*_: object) -> None:
    """Leave without the interpreter's own end, which aborts when a thread is still inside DuckDB.

    All that was said is in the journal, and what is half made is made again.
    """
    os._exit(0)


def _say(address: str, opens: bool, first: bool) -> None:
    how = (
        "your browser shows them in a moment"
        if opens
        else "type or paste this address into a browser on this machine"
    )
    note(f"camsign: the pages are at {address}", f"camsign: {how}; Ctrl+C here closes them")
    if first:
        note("camsign: there is no logbook here yet; the first page begins one")
