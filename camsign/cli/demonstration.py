"""The demo."""

from __future__ import annotations

import shlex
import shutil
import sys
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
    again = f"{_typed()} --logbook {shlex.quote(str(shown.logbook))}"
    yield f"Ask it yourself: {again} visits"
    yield f"See it all in your browser: {again}"


def _typed() -> str:
    """How camsign was started, so that what the last lines say works as typed from here."""
    started = Path(sys.argv[0])
    if not started.name.startswith("camsign"):
        return f"{shlex.quote(sys.executable)} -m camsign"
    found = shutil.which(started.name)
    return "camsign" if found and Path(found).samefile(started) else shlex.quote(str(started))
