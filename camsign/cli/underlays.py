"""Pictures of your own beneath the map."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from camsign.cli.command import Out, command
from camsign.cli.show import listed
from camsign.cli.things import says
from camsign.logbook.session import Session
from camsign.logbook.things import UNDERLAY
from camsign.pixels.underlays import (
    Underlay,
    add_underlay,
    bytes_of,
    pin_underlay,
    remove_underlay,
    underlays,
)

underlay_app = typer.Typer(help="Pictures of your own beneath the map.", no_args_is_help=True)


@command(underlay_app, "add")
def add(
    session: Session,
    file: Annotated[Path, typer.Argument(help="A JPEG or PNG, such as a scanned sheet.")],
    name: Annotated[str | None, typer.Option(help="Its name; else the file's.")] = None,
) -> Out[Underlay]:
    """Put a picture of your own under the map. Pin it to the ground next."""
    done = add_underlay(session, name or file.stem[:80], bytes_of(file))
    more = f"Next: camsign underlay pin {done.underlay} --pin …"
    return Out(done, f"Kept {done.name} ({done.underlay}). {more}")


def _pinned(done: Underlay, *_: Any) -> str:
    more = "" if len(done.pins) > 1 else "; two at least are needed to show it"
    return f"{done.name} is pinned by {len(done.pins)}{more}."


says(underlay_app, UNDERLAY, "pin", pin_underlay, _pinned)
says(underlay_app, UNDERLAY, "remove", remove_underlay,
     lambda done, *_: f"Removed {done.name}; its file stays in the logbook.")  # fmt: skip


@command(underlay_app, "list", csv=True)
def list_underlays(session: Session) -> Out[list[Underlay]]:
    """Pictures by name, with their pins."""
    rows = underlays(session)
    columns = {"id": "underlay", "name": "name", "pins": "pins", "here": "here"}
    return Out(rows, listed(rows, columns, "no picture yet"))
