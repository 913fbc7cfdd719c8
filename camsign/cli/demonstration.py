"""The demo."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import typer

from camsign.cli.app import run
from camsign.cli.command import Out, command
from camsign.cli.show import Block, note, say
from camsign.demo.walk import ASKS, DemoMade, walk


@command()
def demo(
    quiet: bool,
    where: Annotated[
        Path, typer.Argument(metavar="[DIR]", help="A new folder to leave it all in.")
    ] = Path("camsign-demo"),
) -> Out[DemoMade]:
    """A made-up season, from card to answer."""
    shown = walk(where, note if quiet else say)
    return Out(shown, _asked(shown))


def _asked(shown: DemoMade) -> Iterator[Block]:
    """Ask as people would, and say how to go on."""
    for words in ASKS:
        yield from ("", f"$ camsign {shlex.join(words)}")
        run(["--logbook", str(shown.logbook), *words])
    yield from ("", f"The map: {shown.map}", f"One buck's days: {shown.chart}")
    yield f"Try it yourself: camsign --logbook {shown.logbook} visits"
    yield f"See it all in your browser: camsign --logbook {shown.logbook}"
